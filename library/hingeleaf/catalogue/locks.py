"""File locks in addition to SQLite's: for reading a library's header and for replacing the file.

POSIX drops all locks of a process on a file as soon as it closes any descriptor of it (fcntl(2)).
SQLite guards against that for its own descriptors only (sqlite.org/howtocorrupt.html, 2.2): if we
closed one of ours, another program would think that the library is not in use and delete its log,
and our further writes would be lost. So we keep one descriptor per file, open as long as any
connection.
"""

import ctypes
import os
import sqlite3
import threading
import weakref
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any

from hingeleaf.errors import LibraryWriteError

try:
    import fcntl
except ImportError:  # Windows does not allow renaming an open file
    fcntl = None  # type: ignore[assignment]

FileId = tuple[int, int]
"""Device and inode."""
MAX_VALUE_BYTES = 96 << 20
"""Bytes of one value; more is refused before it takes memory. Drawings have up to 32 MB (our own
choice)."""
_LOCK_BYTES = 0x40000000, 512
"""Offset and number of the bytes that SQLite locks (file format, 1.4; os.h, PENDING_BYTE)."""


@dataclass(slots=True)
class _Open:
    """A file with open connections: our one descriptor of it, and their number."""

    file: IO[bytes]
    connections: int = 0


_lock = threading.RLock()
_open: dict[FileId, _Open] = {}


def read_start(path: Path, count: int) -> bytes:
    """The first bytes of a file, whether or not it is open as a library. Raises OSError."""
    with _lock:
        known = _open.get(file_id(path))
        if known is None:
            with path.open("rb") as file:
                return file.read(count)
        known.file.seek(0)
        return known.file.read(count)


def file_id(path: Path) -> FileId:
    """The identity of the file now at a path. Raises OSError."""
    status = path.stat()
    return status.st_dev, status.st_ino


class Connection(sqlite3.Connection):
    """A connection that is counted while it is open."""

    release: Any = None

    def close(self) -> None:
        """Close it, and our descriptor if it was the last."""
        super().close()
        if self.release:
            self.release()


def connect(path: Path, mode: str, timeout: float) -> Connection:
    """A counted connection to an existing file. Raises sqlite3.Error."""
    with _lock:
        found = file_id(path) if path.exists() else None
        connection = sqlite3.connect(
            f"{path.as_uri()}?{mode}",
            uri=True,
            timeout=timeout,
            isolation_level=None,
            factory=Connection,
        )
        connection.setlimit(sqlite3.SQLITE_LIMIT_LENGTH, MAX_VALUE_BYTES)
        if found is not None:
            if found not in _open:
                _open[found] = _Open(path.open("rb", buffering=0))
            _open[found].connections += 1
            connection.release = weakref.finalize(connection, _release, found)
    return connection


def _release(found: FileId) -> None:
    with _lock:
        known = _open[found]
        known.connections -= 1
        if not known.connections:
            del _open[found]
            known.file.close()


def abandon(connection: sqlite3.Connection) -> None:
    """Keep a connection open until the process ends, since its file was moved or replaced.

    Closing it would delete, by name, the log of the file that took its place.
    """
    ctypes.pythonapi.Py_IncRef(ctypes.py_object(connection))


@contextmanager
def folder_lock(path: Path, *, alone: bool = False) -> Iterator[None]:
    """Hold the folder's lock: shared while opening, exclusive while replacing the file.

    It prevents opening the old file with the new file's log. On file systems without such locks it
    does nothing.
    """
    if fcntl is None:
        yield
        return
    try:
        folder = os.open(path.parent, os.O_RDONLY)
    except OSError:
        yield
        return
    try:
        with suppress(OSError):
            fcntl.flock(folder, fcntl.LOCK_EX if alone else fcntl.LOCK_SH)
        yield
    finally:
        os.close(folder)


@contextmanager
def exclusive(path: Path) -> Iterator[None]:
    """Hold all of SQLite's locks on a file. Raises LibraryWriteError if it is in use."""
    with _lock:
        if file_id(path) in _open:
            raise _in_use(path)
        if fcntl is None:
            yield
            return
        with path.open("rb+") as file:
            try:
                start, length = _LOCK_BYTES
                fcntl.lockf(file, fcntl.LOCK_EX | fcntl.LOCK_NB, length, start)
            except OSError as error:
                raise _in_use(path) from error
            yield


def is_in_use(path: Path) -> bool:
    """Whether any program has the library open, this one included. Raises OSError."""
    try:
        with exclusive(path):
            return False
    except LibraryWriteError:
        return True


def _in_use(path: Path) -> LibraryWriteError:
    return LibraryWriteError(
        f"{path} is open in another window or program.", "Close Hingeleaf there and try again."
    )
