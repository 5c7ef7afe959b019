"""Copy library files by SQLite's online backup, and put finished files in their place."""

import os
import sqlite3
from collections.abc import Iterator
from contextlib import closing, contextmanager, suppress
from pathlib import Path

from hingeleaf.catalogue.sqlite_errors import file_errors_of, sqlite_errors_of
from hingeleaf.errors import DamagedLibraryError, LibraryWriteError

PAGES_AT_ONCE = 4096
"""Pages that SQLite copies before others may write again: 16 MB (our own choice)."""


def copy_to(connection: sqlite3.Connection, target: Path) -> bool:
    """Copy a library into a new file by SQLite's online backup, completely or not at all.

    Others may write meanwhile. If `target` exists it is not changed, and the result is False.
    Raises LibraryWriteError if it cannot be written.
    """
    with building_for(target) as building:
        copy_pages(connection, building)
        return put_in_place(building, target)


@contextmanager
def building_for(target: Path) -> Iterator[Path]:
    """A path next to `target` at which its file is built; anything left there is deleted.

    Raises LibraryWriteError if it cannot be written.
    """
    building = target.with_name(f".{target.name}.{os.getpid()}.new")
    with sqlite_errors_of(target), file_errors_of(target):
        try:
            target.parent.mkdir(parents=True, exist_ok=True)
            building.unlink(missing_ok=True)
            yield building
        finally:
            with suppress(OSError):
                building.unlink(missing_ok=True)


def copy_to_new(connection: sqlite3.Connection, target: Path) -> None:
    """As `copy_to`, but raises LibraryWriteError if `target` exists."""
    if target.exists() or not copy_to(connection, target):
        raise LibraryWriteError(f"{target} exists already.", "Name a new file.")


def copy_pages(connection: sqlite3.Connection, target: Path) -> None:
    """Copy a library page by page and check the copy. Raises DamagedLibraryError."""
    with closing(sqlite3.connect(target, isolation_level=None)) as copy:
        copy.execute("PRAGMA synchronous = OFF")  # the caller syncs once if it must be on disk
        connection.backup(copy, pages=PAGES_AT_ONCE)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, without a log
        found = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        raise DamagedLibraryError(
            f"A copy of the library is damaged: {found}.", "Run `hingeleaf doctor`."
        )


def free_path(path: Path) -> Path:
    """The path, with a number from 2 appended to its name if it exists."""
    number, free = 1, path
    while free.exists():
        number += 1
        free = path.with_name(f"{path.stem}-{number}{path.suffix}")
    return free


def put_in_place(building: Path, target: Path) -> bool:
    """Rename a finished file, durably. False if the name is taken."""
    sync(building)
    try:
        os.link(building, target)
    except FileExistsError:
        return False
    except OSError:  # a file system without hard links
        if target.exists():
            return False
        building.replace(target)
    sync(target.parent)
    return True


def sync(path: Path) -> None:
    """Wait until a file's content, or a folder's names, are on disk."""
    flags = os.O_RDONLY if path.is_dir() else os.O_RDWR
    try:
        file = os.open(path, flags)
    except PermissionError:  # folders cannot be opened on Windows
        if path.is_dir():
            return
        raise
    try:
        os.fsync(file)
    finally:
        os.close(file)
