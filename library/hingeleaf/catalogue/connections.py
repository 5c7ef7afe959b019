"""Open SQLite connections to library files, also on shares, read-only media and full disks."""

from __future__ import annotations

import os
import sqlite3
from contextlib import closing, suppress
from pathlib import Path

from hingeleaf.catalogue.locks import Connection, connect, is_in_use
from hingeleaf.catalogue.network_mounts import is_network_share
from hingeleaf.catalogue.sqlite_errors import go_back
from hingeleaf.errors import DamagedLibraryError

PATIENCE = 5.0
"""Seconds to wait for another program's write to end."""


def check_log(path: Path) -> None:
    """Raise DamagedLibraryError for a log that a crash left beside a file that is not its own.

    A connection that may not write leaves file and log as they are.
    """
    log = path.with_name(path.name + "-wal")
    try:
        if not log.stat().st_size or is_in_use(path):
            return
    except OSError:
        return
    with closing(plain_connection(path, "mode=ro", PATIENCE)) as connection:
        try:
            found = connection.execute("PRAGMA integrity_check(1)").fetchone()[0]
        except sqlite3.DatabaseError as error:
            if error.sqlite_errorcode & 0xFF not in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB):
                raise
            found = str(error)
    if found != "ok":
        raise DamagedLibraryError(
            f"{path} does not fit the log beside it, {log.name}: one of them was replaced.",
            go_back(),
        )


def connect_to(path: Path, write_ahead: bool, patience: float) -> tuple[Connection, bool]:
    """A connection, and whether it may write."""
    share = is_network_share(path)
    connection = plain_connection(path, "mode=rw", patience)
    try:
        if share and write_ahead:
            connection.execute("PRAGMA locking_mode = EXCLUSIVE")  # reads the log without memory
            connection.execute("PRAGMA journal_mode = DELETE")
            connection.execute("PRAGMA locking_mode = NORMAL")
        elif not share and not write_ahead:
            with suppress(sqlite3.OperationalError):  # kept by a reader: the next opening does it
                connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    except sqlite3.OperationalError as error:
        connection.close()
        kind = error.sqlite_errorcode & 0xFF
        if kind in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_CANTOPEN):
            return read_only_connection(path, patience), False
        if kind in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_FULL):
            return _connection_without_memory(path, patience), False
        raise
    return connection, os.access(path, os.W_OK) and os.access(path.parent, os.W_OK)


def read_only_connection(path: Path, patience: float) -> Connection:
    """For a medium that takes no lock files either: nobody else can be writing there."""
    mode = "mode=ro" if path.with_name(path.name + "-wal").exists() else "mode=ro&immutable=1"
    return plain_connection(path, mode, patience)


def plain_connection(path: Path, mode: str, patience: float) -> Connection:
    """A connection that enforces references between tables."""
    connection = connect(path, mode, patience)
    connection.execute("PRAGMA foreign_keys = ON")
    return connection


def _connection_without_memory(path: Path, patience: float) -> Connection:
    """For a full disk: one that alone may use the file needs no shared memory beside it."""
    connection = plain_connection(path, "mode=rw", patience)
    connection.execute("PRAGMA locking_mode = EXCLUSIVE")
    connection.execute("SELECT count(*) FROM sqlite_schema").fetchone()
    return connection
