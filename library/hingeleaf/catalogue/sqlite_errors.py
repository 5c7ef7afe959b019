"""Translate SQLite and file system errors into messages with a remedy."""

import shutil
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from hingeleaf.errors import (
    CatalogueError,
    DamagedLibraryError,
    LibraryWriteError,
    UsageError,
    reason_of,
)


def backup_remedy(first: str = "") -> str:
    """The remedy that ends with a backup; `first` is what to try before."""
    how = "go back to a backup: `hingeleaf restore --whole BACKUP`."
    return f"{first}, or {how}" if first else f"G{how[1:]}"


_BUSY = "{path} is being written to by another program.", "Wait until it is done and try again."
_UNWRITABLE = {
    sqlite3.SQLITE_FULL: (
        "The disk is full: nothing was written to {path}.",
        "Free some space and try again.",
    ),
    sqlite3.SQLITE_READONLY: (
        "{path} is read-only.",
        "Make the file and its folder writable first.",
    ),
    sqlite3.SQLITE_CANTOPEN: (
        "{path} cannot be opened.",
        "Check that its folder exists and is writable.",
    ),
    sqlite3.SQLITE_PERM: (
        "You have no permission to open {path}.",
        "Check the permissions of the file.",
    ),
    sqlite3.SQLITE_BUSY: _BUSY,
    sqlite3.SQLITE_LOCKED: _BUSY,
    sqlite3.SQLITE_IOERR: (
        "The disk could not read or write {path}.",
        "Check the disk or the network share, then try again.",
    ),
}
"""Messages and remedies of a LibraryWriteError."""
_DAMAGED = {
    sqlite3.SQLITE_CORRUPT: "{path} is damaged.",
    sqlite3.SQLITE_CONSTRAINT: "{path} is damaged: its contents are inconsistent.",
    sqlite3.SQLITE_TOOBIG: "{path} is damaged: it holds a value that is too large to be read.",
    sqlite3.SQLITE_NOTADB: "{path} is damaged: its content is not a database.",
}
"""Messages of a DamagedLibraryError."""
_SHARED_MEMORY = 32 * 1024
"""Bytes of the shared-memory file that SQLite makes for reading (sqlite.org/walformat.html)."""
_NO_TEXT = "Could not decode to UTF-8"
"""Message of Python's sqlite3, without an error code, for undecodable text."""


def is_full(path: Path) -> bool:
    """Whether a file's disk has less free space than SQLite's shared memory needs."""
    try:
        return shutil.disk_usage(path.parent).free < _SHARED_MEMORY
    except OSError:
        return False


def read_only(path: Path) -> CatalogueError:
    """The error for writing to a library that can only be read."""
    return _fault(sqlite3.SQLITE_FULL if is_full(path) else sqlite3.SQLITE_READONLY, path)


def _fault(code: int, path: Path, if_damaged: str = "") -> CatalogueError:
    if code in _UNWRITABLE:
        message, remedy = _UNWRITABLE[code]
        return LibraryWriteError(message.format(path=path), remedy)
    first = "" if code == sqlite3.SQLITE_NOTADB else "Run `hingeleaf doctor`"
    return DamagedLibraryError(_DAMAGED[code].format(path=path), if_damaged or backup_remedy(first))


@contextmanager
def sqlite_errors_of(path: Path, if_damaged: str = "") -> Iterator[None]:
    """Translate SQLite's errors about the file at `path`, or about a value, into ours.

    `if_damaged` is the remedy for a damaged file that is not the user's own library.
    """
    try:
        yield
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        if code == sqlite3.SQLITE_IOERR and is_full(path):
            code = sqlite3.SQLITE_FULL
        if str(error).startswith(_NO_TEXT):
            code = sqlite3.SQLITE_CORRUPT
        if code not in _UNWRITABLE | _DAMAGED:
            raise
        raise _fault(code, path, if_damaged) from error
    except UnicodeDecodeError as error:
        raise _fault(sqlite3.SQLITE_CORRUPT, path, if_damaged) from error
    except OverflowError as error:
        raise UsageError(
            "A number is larger than a library can store.", "Give a smaller one."
        ) from error
    except UnicodeEncodeError as error:
        raise UsageError(
            f"{error.object!a} contains characters that are not text.", "Type it again."
        ) from error


@contextmanager
def file_errors_of(path: Path) -> Iterator[None]:
    """Translate file system errors while `path` is made into LibraryWriteError."""
    try:
        yield
    except OSError as error:
        raise LibraryWriteError(
            f"{path} cannot be written ({reason_of(error)}).",
            "Check that its folder exists, is writable and has space.",
        ) from error
