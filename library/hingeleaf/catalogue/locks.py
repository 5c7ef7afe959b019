"""Looking into a library file without letting go of the locks that SQLite holds on it.

POSIX drops all locks that a process has on a file as soon as it closes any descriptor of it
(fcntl(2)). SQLite minds that for its own descriptors only (sqlite.org/howtocorrupt.html, 2.2): if
we closed one of ours, another program would take the library for unused, delete its log, and what
is written here from then on would be lost. So ours stay open as long as a connection is.
"""

from __future__ import annotations

import os
import sqlite3
import threading
import weakref
from collections import Counter, defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import IO, Any

_File = tuple[int, int]
_lock = threading.RLock()
_in_use: Counter[_File] = Counter()
_waiting: defaultdict[_File, list[IO[bytes]]] = defaultdict(list)


@contextmanager
def looking_into(path: Path) -> Iterator[IO[bytes]]:
    """The file's bytes; closed at once only if no connection of ours uses the file."""
    file = path.open("rb")
    try:
        yield file
    finally:
        with _lock:
            here = _identity(os.fstat(file.fileno()))
            if _in_use[here]:
                _waiting[here].append(file)
            else:
                file.close()


class Connection(sqlite3.Connection):
    """A connection that is counted while it is open."""

    uses: Any = None

    def close(self) -> None:
        """Close it, and then what waited for that."""
        super().close()
        if self.uses:
            self.uses()


def connect(path: Path, mode: str, patience: float) -> sqlite3.Connection:
    """A counted connection to a file that is there. Raises sqlite3.Error."""
    with _lock:
        here = _identity(path.stat()) if path.exists() else None
        connection = sqlite3.connect(
            f"{path.as_uri()}?{mode}",
            uri=True,
            timeout=patience,
            isolation_level=None,
            factory=Connection,
        )
        if here is not None:
            _in_use[here] += 1
            connection.uses = weakref.finalize(connection, _let_go, here)
    return connection


def _let_go(here: _File) -> None:
    with _lock:
        _in_use[here] -= 1
        if not _in_use[here]:
            del _in_use[here]
            for file in _waiting.pop(here, []):
                file.close()


def _identity(status: os.stat_result) -> _File:
    return status.st_dev, status.st_ino
