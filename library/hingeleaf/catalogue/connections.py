"""Open SQLite connections to library files, also on network shares and on unwritable media."""

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from hingeleaf.catalogue.locks import Connection, connect, is_in_use
from hingeleaf.catalogue.sqlite_errors import backup_remedy
from hingeleaf.errors import DamagedLibraryError

BUSY_TIMEOUT = 5.0
"""Seconds to wait for another program's write (our own choice)."""
MOUNTS = Path("/proc/self/mounts")
NETWORK_KINDS = frozenset(
    {"nfs", "nfs4", "cifs", "smb3", "smbfs", "9p", "afs", "ceph", "glusterfs", "lustre", "ncpfs"}
    | {f"fuse.{kind}" for kind in ("sshfs", "glusterfs", "rclone", "davfs2", "s3fs")}
)
"""The log's index is shared memory, which does not work between machines (sqlite.org/wal.html, "all
processes using a database must be on the same host computer")."""


def check_log(path: Path) -> None:
    """Raise DamagedLibraryError if the log next to a file belongs to another file, after a crash.

    A connection that may not write leaves file and log unchanged.
    """
    log = path.with_name(path.name + "-wal")
    try:
        if not log.stat().st_size or is_in_use(path):
            return
    except OSError:
        return
    with closing(plain_connection(path, "mode=ro", BUSY_TIMEOUT)) as connection:
        intact = is_intact(connection)
    if not intact:
        raise DamagedLibraryError(
            f"{path} does not match the log next to it, {log.name}: one of them was replaced.",
            backup_remedy(),
        )


def is_intact(connection: sqlite3.Connection) -> bool:
    """Whether a file and its log match, as far as SQLite can tell.

    If whole pages of another state are mixed in, only missing rows show it.
    """
    try:
        checked = connection.execute("PRAGMA integrity_check(1)").fetchone()
        return checked == ("ok",) and not connection.execute("PRAGMA foreign_key_check").fetchone()
    except sqlite3.DatabaseError as error:
        if error.sqlite_errorcode & 0xFF not in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
            raise
        return False


def connect_to(path: Path, write_ahead: bool, timeout: float) -> tuple[Connection, bool]:
    """A connection, and whether it may write."""
    share = is_network_share(path)
    connection = plain_connection(path, "mode=rw", timeout)
    try:
        if share and write_ahead:
            connection.execute("PRAGMA locking_mode = EXCLUSIVE")  # no shared memory needed
            connection.execute("PRAGMA journal_mode = DELETE")
            connection.execute("PRAGMA locking_mode = NORMAL")
        elif not share and not write_ahead:
            with suppress(sqlite3.OperationalError):  # held by a reader: the next opening does it
                connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except sqlite3.OperationalError as error:
        connection.close()
        kind = error.sqlite_errorcode & 0xFF
        if kind in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN):
            return read_only_connection(path, timeout), False
        if kind in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL):
            return _connection_without_memory(path, timeout), False
        raise
    return connection, os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)


def is_network_share(path: Path, mounts: Path = MOUNTS) -> bool:
    """Whether `path` is on a network mount.

    On systems without a table of mounts, only Windows' `//server/share` is recognised.
    """
    if path.as_posix().startswith("//"):
        return True
    try:
        lines = mounts.read_text(encoding="utf-8", errors="surrogateescape").splitlines()
    except OSError:
        return False
    place = path.resolve()
    deepest, kind = -1, ""
    for line in lines:
        _, point, found, *_ = line.split(" ")
        mount = Path(_unescape(point))
        if len(mount.parts) >= deepest and place.is_relative_to(mount):
            deepest, kind = len(mount.parts), found
    return kind in NETWORK_KINDS


def _unescape(point: str) -> str:
    """Decode octal blanks and backslashes in mount points (man 5 fstab)."""
    for code, character in (("\\040", " "), ("\\011", "\t"), ("\\012", "\n"), ("\\134", "\\")):
        point = point.replace(code, character)
    return point


def read_only_connection(path: Path, timeout: float) -> Connection:
    """A connection for media that allow no lock files, so nobody else can be writing there."""
    mode = "mode=ro" if path.with_name(path.name + "-wal").exists() else "mode=ro&immutable=1"
    return plain_connection(path, mode, timeout)


def plain_connection(path: Path, mode: str, timeout: float) -> Connection:
    """A connection that enforces references between tables."""
    connection = connect(path, mode, timeout)
    connection.execute("PRAGMA foreign_keys = ON")
    return connection


def _connection_without_memory(path: Path, timeout: float) -> Connection:
    """A connection for a full disk: with exclusive use it needs no shared-memory file."""
    connection = plain_connection(path, "mode=rw", timeout)
    connection.execute("PRAGMA locking_mode = EXCLUSIVE")
    connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    return connection
