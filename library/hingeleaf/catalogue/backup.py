"""Automatic backups of a library: schedule, folder and number kept."""

import re
import warnings
from contextlib import suppress
from dataclasses import dataclass, fields
from datetime import UTC, datetime, timedelta
from pathlib import Path

from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.file_copies import copy_to
from hingeleaf.errors import DamagedLibraryError, LibraryNotice, LibraryWriteError, UsageError
from hingeleaf.params import Validated, parameter

MAX_BACKUPS = 1000
"""Greatest number of automatic backups of one library (our own choice)."""
BACKUP_AGE_LIMIT = timedelta(days=30)
"""Age from which the lack of a newer backup is noted (our own choice)."""


@dataclass(frozen=True, slots=True)
class BackupPlan(Validated):
    """How a library is backed up automatically. Raises UsageError for a value out of its bounds."""

    keep: int = parameter(
        10, "How many automatic backups to keep; 0 makes none.", low=0, high=MAX_BACKUPS
    )
    days: int = parameter(
        1,
        "How many days lie between two.",
        low=1,
        high=MAX_BACKUPS,
        title="days between backups",
        label="Days apart",
        option="--every",
    )
    folder: str = parameter("", "Where they go; empty is a folder beside the library.", none="")


_FIELDS = tuple(field.name for field in fields(BackupPlan))


@dataclass(frozen=True, slots=True)
class Backup:
    """An automatic backup, ordered by number, not by date, since clocks may be set back."""

    number: int
    made: datetime
    path: Path


def read_plan(db: Database) -> BackupPlan:
    """The library's backup plan; the default if none is stored or it is invalid."""
    stored = {name: db.setting(f"backup_{name}") for name in _FIELDS}
    try:
        return BackupPlan(
            int(stored["keep"] or 0), int(stored["days"] or 0), stored["folder"] or ""
        )
    except (ValueError, UsageError):
        return BackupPlan()


def write_plan(db: Database, plan: BackupPlan) -> None:
    """Store the library's backup plan. Raises LibraryWriteError."""
    db.set_settings(
        {f"backup_{field.name}": str(getattr(plan, field.name)) for field in fields(plan)}
    )


def backup_folder(path: Path, plan: BackupPlan) -> Path:
    """The folder of automatic backups of the library at `path`."""
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
    """Make an automatic backup before a change, if one is due, and delete surplus ones.

    Warns with LibraryNotice at the first backup, and whenever one cannot be made; the change itself
    proceeds.
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
    """Record in the library that it was backed up by hand."""
    with db.best_effort():
        db.set_settings({"backup_last": db.now()})


def newest_backup(db: Database) -> datetime | None:
    """Time of the last backup, automatic or by `hingeleaf backup`."""
    made = [each.made for each in automatic_backups(db.path, read_plan(db))[-1:]]
    with suppress(ValueError, TypeError):
        made.append(datetime.fromisoformat(db.setting("backup_last") or "").astimezone(UTC))
    return max(made, default=None)


def first_change(db: Database) -> datetime | None:
    """Time of the oldest change in the history."""
    first = db.value("SELECT at FROM history ORDER BY id LIMIT 1")
    return None if first is None else datetime.fromisoformat(first).astimezone(UTC)


def _is_due(db: Database, plan: BackupPlan, backups: list[Backup]) -> bool:
    """Whether the newest backup, or else the library's first change, is as old as the plan says.

    A backup dated in the future was made with a wrong clock: another is due.
    """
    since = backups[-1].made if backups else first_change(db)
    return since is not None and abs(db.clock() - since) >= timedelta(days=plan.days)
