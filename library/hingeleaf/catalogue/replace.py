"""Replace a library file by a backup; the old file stays next to it under a dated name."""

import os
import shutil
import sqlite3
from contextlib import closing, suppress
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from hingeleaf.catalogue.connections import is_intact
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.file_copies import building_for, copy_pages, free_path, sync
from hingeleaf.catalogue.integrity import find_damaged_motifs
from hingeleaf.catalogue.locks import exclusive, folder_lock, is_in_use
from hingeleaf.catalogue.sqlite_errors import file_errors_of
from hingeleaf.errors import DamagedLibraryError, UsageError
from hingeleaf.tasks import Progress, Task
from hingeleaf.text import first_of

LOGS = ("-wal", "-shm", "-journal")
"""Suffixes of files that SQLite may have left; none of them belongs to the new file."""
_STEPS = 3
"""Checking, copying, renaming."""


@dataclass(frozen=True, slots=True)
class Replaced:
    """The result of `replace_library`."""

    motifs: int
    """Number of motifs now in the library."""
    set_aside: Path | None
    """The path of the old file; None if there was none."""


def replace_library(path: Path, backup: Path, *, moment: datetime | None = None) -> Task[Replaced]:
    """Replace a library by a backup atomically. No connection may be open.

    The backup is checked first, the new file afterwards. Raises DamagedLibraryError if the backup
    is damaged, LibraryWriteError if the library is in use or its folder is not writable,
    NotALibraryError, NewerLibraryError; the library is then unchanged.
    """
    path = Path(path).expanduser().resolve()
    backup = Path(backup).expanduser()
    with file_errors_of(path):
        if path.exists() and backup.exists() and path.samefile(backup):
            raise UsageError(f"{backup} is the library itself.", "Name a backup of it.")
        if path.is_file() and is_in_use(path):
            with exclusive(path):  # raises an error if not
                pass
    yield Progress(0, _STEPS, f"Checking {backup.name}")
    with Database.open_copy(backup) as visitor:
        if damaged := (yield from find_damaged_motifs(visitor, backup)):
            raise DamagedLibraryError(
                f"{backup} is damaged: {first_of(sorted(damaged), 5)} cannot be read.",
                "Choose an older backup, or import its other items: "
                f"`hingeleaf restore {backup.name}`.",
            )
        motifs = visitor.value("SELECT count(*) FROM motif WHERE removed IS NULL")
        yield Progress(1, _STEPS, "Copying")
        with building_for(path) as building:
            copy_pages(visitor.connection, building)
            yield Progress(2, _STEPS, "Putting the copy in place")
            set_aside = _swap(path, building, moment or datetime.now())
    return Replaced(motifs, set_aside)


def _swap(path: Path, building: Path, moment: datetime) -> Path | None:
    """Give the copy the library's name. If killed at any point, either file is there, complete."""
    if not path.exists():
        with folder_lock(path, alone=True):
            _clear_logs(path)
            building.rename(path)
            sync(path.parent)
        return None
    shutil.copymode(path, building)
    sync(building)
    _merge_log(path)
    with folder_lock(path, alone=True), exclusive(path):
        aside = free_path(path.with_stem(f"{path.stem}-before-{moment:%Y-%m-%d-%H%M%S}"))
        _link_or_copy(path, aside)
        for ending in LOGS:
            log = path.with_name(path.name + ending)
            if ending != "-shm" and log.exists():
                _link_or_copy(log, aside.with_name(aside.name + ending))
        sync(path.parent)
        _clear_logs(path)
        building.replace(path)
        sync(path.parent)
    with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
        intact = is_intact(connection)
    if not intact:
        with folder_lock(path, alone=True):
            _link_or_copy(aside, building)
            building.replace(path)
        raise DamagedLibraryError(
            "The disk did not keep the copy as it was written.",
            "The library is unchanged. Check the disk for errors.",
        )
    return aside


def _merge_log(path: Path) -> None:
    """Let SQLite merge the log into the old file, if both are intact, so that one file has all."""
    with suppress(sqlite3.Error):
        with closing(sqlite3.connect(f"{path.as_uri()}?mode=ro", uri=True)) as connection:
            if not is_intact(connection):
                return
        with closing(sqlite3.connect(path)) as connection:
            connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")


def _link_or_copy(file: Path, name: Path) -> None:
    try:
        os.link(file, name)
    except OSError:  # a file system without hard links
        shutil.copy2(file, name)
        sync(name)


def _clear_logs(path: Path) -> None:
    for ending in LOGS:
        path.with_name(path.name + ending).unlink(missing_ok=True)
