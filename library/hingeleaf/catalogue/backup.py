"""Back a library up while it is in use: on demand, and automatically once a day."""

from __future__ import annotations

import os
import re
import sqlite3
import warnings
from contextlib import closing, suppress
from dataclasses import dataclass, fields
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.catalogue.sqlite_errors import plainly, writing_files
from hingeleaf.errors import DamagedLibraryError, LibraryNotice, LibraryWriteError, UsageError

if TYPE_CHECKING:
    from hingeleaf.catalogue.database import Database

PAGES_AT_ONCE = 4096
MOST_BACKUPS = 1000
RECENT = timedelta(days=30)
"""A library without a backup this young is told of (our own choice)."""


def copy_to(connection: sqlite3.Connection, target: Path) -> bool:
    """Copy a library into a new file by SQLite's online backup, whole or not at all.

    Others may go on writing meanwhile. Returns False, and leaves the file that is there, where
    `target` exists. Raises LibraryWriteError if it cannot be written.
    """
    building = target.with_name(f".{target.name}.{os.getpid()}.new")
    with plainly(target), writing_files(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        try:
            copy_pages(connection, building)
            return put_in_place(building, target)
        finally:
            with suppress(OSError):
                building.unlink(missing_ok=True)


def copy_to_new(connection: sqlite3.Connection, target: Path) -> None:
    """The same; raises LibraryWriteError where `target` exists."""
    if target.exists() or not copy_to(connection, target):
        raise LibraryWriteError(f"{target} exists already.", "Name a new file.")


def copy_pages(connection: sqlite3.Connection, target: Path) -> None:
    """Copy a library page by page and look the copy over. Raises DamagedLibraryError."""
    with closing(sqlite3.connect(target, isolation_level=None)) as copy:
        copy.execute("PRAGMA synchronous = OFF")  # whoever needs it on the disk waits once
        connection.backup(copy, pages=PAGES_AT_ONCE)
        copy.execute("PRAGMA journal_mode = DELETE")  # one file, no log beside it
        found = copy.execute("PRAGMA quick_check(1)").fetchone()[0]
    if found != "ok":
        raise DamagedLibraryError(
            f"A copy of the library is not sound: {found}.", "Run `hingeleaf doctor`."
        )


def put_in_place(building: Path, target: Path) -> bool:
    """Give a finished file its name, once it is on the disk. False where the name is taken."""
    sync(building)
    try:
        os.link(building, target)
    except FileExistsError:
        return False
    except OSError:  # a file system without links
        if target.exists():
            return False
        building.replace(target)
    return True


def sync(path: Path) -> None:
    """Wait until a file's content, or a folder's names, are on the disk."""
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


@dataclass(frozen=True, slots=True)
class BackupPlan:
    """How a library is backed up by itself, on days on which it is changed."""

    keep: int = 10
    """How many automatic backups are kept; 0 makes none."""
    days: int = 1
    """A new one is made before a change once the newest is so old."""
    folder: str = ""
    """Where they go; empty for a folder beside the library."""

    def check(self) -> BackupPlan:
        """The plan itself. Raises UsageError."""
        if not 0 <= self.keep <= MOST_BACKUPS:
            raise UsageError(
                f"{self.keep} backups cannot be kept.", f"Give a number from 0 to {MOST_BACKUPS}."
            )
        if not 1 <= self.days <= MOST_BACKUPS:
            raise UsageError(
                f"A backup every {self.days} days cannot be made.",
                f"Give a number from 1 to {MOST_BACKUPS}.",
            )
        return self


_FIELDS = tuple(field.name for field in fields(BackupPlan))


@dataclass(frozen=True, slots=True)
class Backup:
    """An automatic backup. Its number, not its date, says which is newer: clocks are set back."""

    number: int
    made: datetime
    path: Path


def read_plan(db: Database) -> BackupPlan:
    """How this library is backed up; the default where nothing usable was chosen."""
    kept = {name: db.setting(f"backup_{name}") for name in _FIELDS}
    try:
        return BackupPlan(
            int(kept["keep"] or 0), int(kept["days"] or 0), kept["folder"] or ""
        ).check()
    except (ValueError, UsageError):
        return BackupPlan()


def write_plan(db: Database, plan: BackupPlan) -> None:
    """Keep how this library is backed up. Raises UsageError, LibraryWriteError."""
    plan.check()
    db.set_settings(
        {f"backup_{field.name}": str(getattr(plan, field.name)) for field in fields(plan)}
    )


def backup_folder(path: Path, plan: BackupPlan) -> Path:
    """Where automatic backups of the library at `path` go."""
    if plan.folder:
        return path.parent / Path(plan.folder).expanduser()
    return path.with_name(f"{path.stem}-backups")


def automatic_backups(path: Path, plan: BackupPlan) -> list[Backup]:
    """The automatic backups of the library at `path`, oldest first."""
    name = re.compile(rf"{re.escape(path.stem)}-(\d{{4,}})-(\d{{4}}-\d\d-\d\d-\d{{6}})\.db")
    found = []
    with suppress(OSError):
        for file in backup_folder(path, plan).iterdir():
            if match := name.fullmatch(file.name):
                with suppress(ValueError):
                    made = datetime.strptime(match[2], "%Y-%m-%d-%H%M%S").replace(tzinfo=UTC)
                    found.append(Backup(int(match[1]), made, file))
    return sorted(found, key=lambda backup: backup.number)


def back_up_if_due(db: Database) -> Path | None:
    """Make an automatic backup before a change, if one is due, and drop those beyond the plan.

    Warns with LibraryNotice when the first is made, and whenever one cannot be made: the change
    itself goes on.
    """
    plan = read_plan(db)
    backups = automatic_backups(db.path, plan)
    if not (plan.keep and _is_due(db, plan, backups)):
        return None
    number = backups[-1].number + 1 if backups else 1
    folder = backup_folder(db.path, plan)
    target = folder / f"{db.path.stem}-{number:04}-{db.clock().astimezone(UTC):%Y-%m-%d-%H%M%S}.db"
    try:
        copy_to(db.connection, target)
    except (LibraryWriteError, DamagedLibraryError) as error:
        warnings.warn(f"No backup could be made: {error}", LibraryNotice, stacklevel=2)
        return None
    for old in backups[: max(0, len(backups) + 1 - plan.keep)]:
        with suppress(OSError):
            old.path.unlink()
    if db.setting("backup_told") is None:
        db.set_settings({"backup_told": "1"})
        warnings.warn(
            f"Before the first change of a day the library is backed up to {folder}; the newest "
            f"{plan.keep} backups are kept. `hingeleaf backup --help` says how to change that.",
            LibraryNotice,
            stacklevel=2,
        )
    return target


def note_backup(db: Database) -> None:
    """Note in the library that it was backed up by hand."""
    with db.if_free():
        db.set_settings({"backup_last": db.now()})


def newest_backup(db: Database) -> datetime | None:
    """When the library was last backed up, by itself or by `hingeleaf backup`."""
    made = [each.made for each in automatic_backups(db.path, read_plan(db))[-1:]]
    with suppress(ValueError, TypeError):
        made.append(datetime.fromisoformat(db.setting("backup_last") or "").astimezone(UTC))
    return max(made, default=None)


def first_change(db: Database) -> datetime | None:
    """When the oldest change was made that the history holds."""
    first = db.value("SELECT at FROM history ORDER BY id LIMIT 1")
    return None if first is None else datetime.fromisoformat(first).astimezone(UTC)


def _is_due(db: Database, plan: BackupPlan, backups: list[Backup]) -> bool:
    """Whether the newest, or else the library's first change, is as old as the plan says.

    One that seems to come from the future was dated by a clock that went wrong: it is due, too.
    """
    since = backups[-1].made if backups else first_change(db)
    return since is not None and abs(db.clock() - since) >= timedelta(days=plan.days)
