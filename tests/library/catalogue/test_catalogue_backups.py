"""Automatic backups, going back to one, and a library file that is replaced while it is open."""

from __future__ import annotations

import multiprocessing
import shutil
import sqlite3
import warnings
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from itertools import count
from pathlib import Path
from typing import Any

import pytest

from hingeleaf.catalogue import backup, replace
from hingeleaf.catalogue.backup import BackupPlan, automatic_backups, write_plan
from hingeleaf.catalogue.replace import replace_library
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import (
    DamagedLibraryError,
    LibraryMovedError,
    LibraryNotice,
    LibraryWriteError,
    NotALibraryError,
    UsageError,
)
from hingeleaf.tasks import finish
from support.catalogue_motifs import dump, is_sound, leaf, plain_square, quick

FORK = multiprocessing.get_context("fork")
NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)


def two_states(folder: Path) -> tuple[Path, Path]:
    """A library of three motifs, and a backup of it with two."""
    library_file, copy = folder / "library.db", folder / "copy.db"
    with quick(library_file) as library:
        for name in ("fern", "wren"):
            library.add(leaf(name))
        library.backup(copy)
        library.add(leaf("later"))
    return library_file, copy


def names(path: Path) -> list[str]:
    with Library.open(path, create=False) as library:
        return library.names()


def add_last(library: Library) -> None:
    library.add(leaf("last"))


def crash(path: Path, change: Callable[[Library], object]) -> None:
    """Change a library and end without closing it: the log stays behind."""

    def work() -> None:
        import os

        change(Library.open(path))
        os._exit(0)

    process = FORK.Process(target=work)
    process.start()
    process.join(60)


def test_going_back_to_a_backup_keeps_the_old_file(tmp_path: Path) -> None:
    path, copy = two_states(tmp_path)
    crash(path, add_last)
    assert path.with_name("library.db-wal").stat().st_size
    done = finish(replace_library(path, copy, moment=datetime(2026, 11, 25, 10, 32, 45)))
    assert (done.motifs, names(path)) == (2, ["fern", "wren"])
    assert done.set_aside == tmp_path / "library-before-2026-11-25-103245.db"
    assert names(done.set_aside) == ["fern", "last", "later", "wren"]
    assert is_sound(path)
    assert not [left for left in tmp_path.iterdir() if left.name.startswith(".")]


@pytest.mark.parametrize(
    "last",
    [
        add_last,
        lambda library: library.tags.change(["square-39"], add=["late"]),  # of sound pages alone
    ],
)
def test_a_backup_laid_over_a_leftover_log_is_refused_until_put_back(
    tmp_path: Path, last: Callable[[Library], object]
) -> None:
    """Copied by hand, the log of another state would be written into the file."""
    path, copy = two_states(tmp_path)
    with quick(path) as library:
        for number in range(40):
            library.add(plain_square("square", number))
    crash(path, last)
    shutil.copy(copy, path)
    before = path.read_bytes()
    with pytest.raises(DamagedLibraryError, match="does not match the log next to it") as caught:
        Library.open(path)
    assert "hingeleaf restore --whole" in caught.value.remedy
    assert path.read_bytes() == before
    done = finish(replace_library(path, copy))
    assert names(path) == ["fern", "wren"]
    assert done.set_aside is not None and done.set_aside.read_bytes() == before


@pytest.mark.parametrize("content", [None, b"", b"no database" * 99])
def test_what_is_missing_or_broken_is_replaced(tmp_path: Path, content: bytes | None) -> None:
    path, copy = two_states(tmp_path)
    path.unlink()
    if content is not None:
        path.write_bytes(content)
    done = finish(replace_library(path, copy))
    assert names(path) == ["fern", "wren"]
    assert (done.set_aside is None) == (content is None)


def test_a_library_in_use_is_not_replaced(tmp_path: Path) -> None:
    path, copy = two_states(tmp_path)
    with Library.open(path), pytest.raises(LibraryWriteError, match="is open in another"):
        finish(replace_library(path, copy))
    begun, ended = FORK.Event(), FORK.Event()

    def elsewhere() -> None:
        with Library.open(path):
            begun.set()
            ended.wait(60)

    process = FORK.Process(target=elsewhere)
    process.start()
    assert begun.wait(60)
    with pytest.raises(LibraryWriteError, match="is open in another"):
        finish(replace_library(path, copy))
    ended.set()
    process.join(60)
    assert names(path) == ["fern", "later", "wren"]


def test_a_backup_that_is_no_good_is_refused(tmp_path: Path) -> None:
    path, copy = two_states(tmp_path)
    with sqlite3.connect(copy) as connection:
        connection.execute("UPDATE revision SET windows = x'0304'")
    connection.close()
    with pytest.raises(DamagedLibraryError, match="is damaged"):
        finish(replace_library(path, copy))
    copy.write_text("a letter")
    with pytest.raises(NotALibraryError):
        finish(replace_library(path, copy))
    with pytest.raises(UsageError, match="is the library itself"):
        finish(replace_library(path, path))
    assert names(path) == ["fern", "later", "wren"]


class _Killed(BaseException):
    """The program ends here."""


def test_stopped_at_any_step_one_of_the_two_stands_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    originals: dict[str, Callable[..., Any]] = {
        name: getattr(replace, name)
        for name in ("sync", "_link_or_copy", "_clear_logs", "_merge_log")
    }
    for stop in count(1):
        folder = tmp_path / str(stop)
        folder.mkdir()
        path, copy = two_states(folder)
        crash(path, add_last)
        steps = count(1)

        def step(name: str, *args: Any, steps: Any = steps, stop: int = stop) -> Any:
            if next(steps) == stop:
                raise _Killed
            return originals[name](*args)

        for name in originals:
            monkeypatch.setattr(replace, name, lambda *args, name=name: step(name, *args))
        try:
            finish(replace_library(path, copy))
        except _Killed:
            pass
        else:
            break
        assert names(path) in (["fern", "last", "later", "wren"], ["fern", "wren"])
        assert is_sound(path)
    assert stop > 5


def moved(path: Path) -> None:
    path.rename(path.with_name("elsewhere.db"))


def deleted(path: Path) -> None:
    for file in path.parent.glob("library.db*"):
        file.unlink()


def replaced(path: Path) -> None:
    shutil.copy(path.with_name("copy.db"), path.with_name("new.db"))
    path.with_name("new.db").replace(path)


def without_its_log(path: Path) -> None:
    path.with_name("library.db-wal").unlink()


@pytest.mark.parametrize("harm", [moved, deleted, replaced, without_its_log])
def test_changes_to_a_file_that_is_gone_are_in_a_copy(
    tmp_path: Path, harm: Callable[[Path], None]
) -> None:
    path, _ = two_states(tmp_path)
    library = Library.open(path)
    harm(path)
    there = path.read_bytes() if path.exists() else None
    copies = set()
    for number in range(5):
        with pytest.raises(LibraryMovedError) as caught:
            library.add(leaf(f"change-{number}"))
        assert caught.value.copy is not None
        assert caught.value.copy.name in caught.value.remedy
        copies.add(caught.value.copy)
    library.close()
    assert (path.read_bytes() if path.exists() else None) == there
    (copy,) = copies
    assert names(copy) == [*(f"change-{number}" for number in range(5)), "fern", "later", "wren"]
    assert is_sound(copy)


def test_closing_an_old_file_leaves_the_log_of_the_new_one(tmp_path: Path) -> None:
    path, _ = two_states(tmp_path)
    old = Library.open(path)
    old.add(leaf("old"))
    replaced(path)
    for ending in ("-wal", "-shm"):
        path.with_name(path.name + ending).unlink()
    crash(path, add_last)
    old.close()
    assert names(path) == ["fern", "last", "wren"]


def days_of_work(path: Path, days: list[int]) -> list[str]:
    """Change a library on these days; what was told."""
    with warnings.catch_warnings(record=True) as told:
        warnings.simplefilter("always")
        for day in days:
            with quick(path) as library:
                library.db.clock = lambda day=day: NOON + timedelta(days=day)
                library.add(plain_square("square", abs(day)))
                library.add(plain_square("square", abs(day) + 1000))
    return [str(each.message) for each in told if issubclass(each.category, LibraryNotice)]


def test_backups_make_themselves_and_the_oldest_go(tmp_path: Path) -> None:
    path = tmp_path / "library.db"
    with quick(path) as library:
        write_plan(library.db, BackupPlan(keep=3, days=2))
    told = days_of_work(path, [0, 1, 2, 3, 4, 7, 8])
    assert len(told) == 1 and "library-backups" in told[0], "told once"
    found = automatic_backups(path, BackupPlan())
    assert [each.made.day for each in found] == [27, 29, 2], "days 2, 4 and 7"
    assert len(names(found[-1].path)) == 10, "as it was before the change of that day"
    assert all(is_sound(each.path) for each in found)


def test_a_clock_that_is_set_back_and_forth_costs_no_backup(tmp_path: Path) -> None:
    path = tmp_path / "library.db"
    with quick(path) as library:
        write_plan(library.db, BackupPlan(keep=3))
    days_of_work(path, [0, 400, -400, -399, -398, 2])
    found = automatic_backups(path, BackupPlan())
    assert [each.number for each in found] == [3, 4, 5], "the newest made, whatever their date"
    assert [len(names(each.path)) for each in found] == [6, 8, 10]


def test_the_change_is_kept_where_no_backup_can_be_made(tmp_path: Path) -> None:
    path = tmp_path / "library.db"
    (tmp_path / "library-backups").write_text("in the way")
    told = days_of_work(path, [0, 5])
    assert len(told) == 1 and "No backup could be made" in told[0]
    assert len(names(path)) == 4


def test_none_are_made_where_none_are_wanted(tmp_path: Path) -> None:
    path = tmp_path / "library.db"
    with quick(path) as library:
        write_plan(library.db, BackupPlan(keep=0))
        with pytest.raises(UsageError):
            write_plan(library.db, BackupPlan(keep=-1))
    assert days_of_work(path, [0, 5, 9]) == []
    assert not (tmp_path / "library-backups").exists()


def test_the_doctor_misses_a_backup(tmp_path: Path) -> None:
    path = tmp_path / "library.db"
    with quick(path) as library:
        write_plan(library.db, BackupPlan(keep=0))
        library.add(leaf("fern"))
        assert finish(library.examine()) == []
        library.db.clock = lambda: datetime.now(UTC) + backup.BACKUP_AGE_LIMIT * 2
        (note,) = finish(library.examine())
        assert (note.kind, note.remedy) == ("backup", "Make one: `hingeleaf backup`.")
        library.backup(tmp_path / "copy.db")
        assert finish(library.examine()) == []


def test_a_copy_holds_every_row(tmp_path: Path) -> None:
    path, copy = two_states(tmp_path)
    finish(replace_library(path, copy))
    with Library.open(path) as back, Library.open(copy) as kept:
        assert dump(back) == dump(kept)
