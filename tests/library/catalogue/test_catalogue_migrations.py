"""Every older library opens, with all that was in it, or stays exactly as it was."""

from __future__ import annotations

import multiprocessing
import os
import sqlite3
from collections.abc import Callable
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
import shapely
from sqlite_utils import Database as Tables

from catalogue_versions import FOOTPRINT, ORIGINAL, ROWS, SLITS, WINDOWS, unpack
from hingeleaf.catalogue import file_header, migrations
from hingeleaf.catalogue.file_header import SCHEMA_DIGESTS, SCHEMA_VERSION, schema_digest
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import DamagedLibraryError, LibraryWriteError
from hingeleaf.material import Grain, MeasuredValue, Origin
from hingeleaf.model import Bridge, HoldStyle, MaySell, SizeRange, Source
from hingeleaf.tasks import finish
from support.call_counts import calls, killed_at
from support.catalogue_motifs import is_sound, leaf

FORK = multiprocessing.get_context("fork")
VERSIONS = range(1, SCHEMA_VERSION + 1)
OLDER = range(1, SCHEMA_VERSION)


@pytest.mark.parametrize("version", VERSIONS)
def test_the_schema_of_every_version_is_known(version: int) -> None:
    with closing(sqlite3.connect(":memory:", isolation_level=None)) as connection:
        migrations.apply(Tables(connection, execute_plugins=False), version)
        assert schema_digest(connection) == SCHEMA_DIGESTS[version]


def schema(library: Library) -> set[tuple[str, ...]]:
    return set(library.db.rows("SELECT type, name, tbl_name, sql FROM sqlite_schema"))


@pytest.mark.parametrize("version", VERSIONS)
def test_a_library_of_every_version_opens_with_all_that_was_in_it(
    tmp_path: Path, version: int
) -> None:
    path = unpack(version, tmp_path / "library.db")
    with Library.open(path) as library, Library.open(tmp_path / "new.db") as new:
        assert schema(library) == schema(new)
        for step in range(1, version + 1):
            for table, rows in ROWS[step].items():
                kept = library.db.rows(f"SELECT * FROM {table}")
                assert set(rows) <= {row[: len(rows[0])] for row in kept}, table
        wren = library.motif("wren")
        for kept, made in (
            (wren.windows, WINDOWS),
            (wren.slits, SLITS),
            (wren.footprint, FOOTPRINT),
        ):
            assert shapely.to_wkb(kept) == shapely.to_wkb(made)
        assert wren.bridges == (Bridge((1.5, 0.25), 90.0, 6.0, 5.0, True),)
        assert (wren.hold, wren.turn_limit, wren.may_mirror) == (HoldStyle.DOOR, 15.0, False)
        assert wren.source == Source(
            "Hazel Barn", "Set one", "fair", "R-7", "CC0-1.0", MaySell.YES, 50, "by Hazel"
        )
        kept_file = library.original("wren")
        assert kept_file is not None and kept_file.content == ORIGINAL
        assert library.names("ivy haz") == ["wren"], "words of old rows are found"
        assert finish(library.examine()) == []
        library.add(leaf("moth"))
        assert library.undo() == "Add moth"
    assert is_sound(path)


@pytest.mark.parametrize("version", [v for v in VERSIONS if v >= 3])
def test_what_later_versions_added_is_there(tmp_path: Path, version: int) -> None:
    with Library.open(unpack(version, tmp_path / "library.db")) as library:
        assert library.motif("wren").tags == ("birds/small",)
        placed, *bent = library.panels.get("nora").placements
        assert (placed.motif, placed.revision, placed.pose.size) == ("wren", 1, 17.5)
        assert library.cards.get("ivory").measured
        nora = library.panels.search("nora")[0]
        assert (nora.customer, nora.due, nora.done) == ("", "", 3 if version >= 12 else 0)
        if version >= 12:
            assert library.done.files("nora") == [("nora.svg", ORIGINAL)]
            assert library.done.copies_by_motif(["wren"]) == {"wren": 3}
        if version >= 11:
            assert [each.pose.bend for each in bent] == [
                (0.0, 1.0, 0.0, 0.125, *[0.0] * 8, 1.0, *[0.0] * 7)
            ]
        if version >= 9:
            linen = library.cards.get("linen")
            assert linen.grain is Grain.LONG and linen.material is not None
            assert linen.material.tear_along == MeasuredValue(1.5, 0.1, Origin.MEASURED)
        if version >= 6:
            assert library.trials.proven_range("wren", "ivory") == SizeRange(17.5, 17.5)


@pytest.mark.parametrize("version", OLDER)
def test_the_file_as_it_was_is_kept_beside(tmp_path: Path, version: int) -> None:
    path = unpack(version, tmp_path / "library.db")
    Library.open(path).close()
    with sqlite3.connect(tmp_path / f"library.v{version}.db") as kept:
        assert kept.execute("PRAGMA user_version").fetchone() == (version,)
        assert kept.execute("SELECT name FROM motif").fetchall() == [("wren",)]
    before = {item.name for item in tmp_path.iterdir()}
    Library.open(path).close()
    assert {item.name for item in tmp_path.iterdir()} == before, "only once"


@pytest.mark.parametrize("version", OLDER)
def test_a_step_that_fails_leaves_the_file_as_it_was(
    tmp_path: Path, version: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = unpack(version, tmp_path / "library.db")
    before = content(path)
    last = migrations.migrations._migrations[-1]

    def fails(db: object) -> None:
        last_fn(db)
        raise sqlite3.OperationalError("the power went")

    last_fn: Callable[[object], None] = last.fn
    monkeypatch.setattr(last, "fn", fails)
    with pytest.raises(DamagedLibraryError, match=r"brought up to date .the power went") as caught:
        Library.open(path)
    assert "hingeleaf restore --whole" in caught.value.remedy
    assert content(path) == before
    monkeypatch.undo()
    Library.open(path).close()
    assert is_sound(path)


def content(path: Path) -> list[str]:
    """Everything in a file, as SQL."""
    with sqlite3.connect(path) as connection:
        number = connection.execute("PRAGMA user_version").fetchone()
        return [str(number), *connection.iterdump()]


@pytest.mark.reliability
@pytest.mark.parametrize("part", np.linspace(0, 1, 12))
def test_killed_in_a_migration(tmp_path: Path, part: float) -> None:
    """At a call some part of the way through the work, which is counted beforehand."""

    def migrate(path: Path) -> None:
        Library.open(path).close()

    total = calls(migrate, unpack(1, tmp_path / "counted.db"))
    path = unpack(1, tmp_path / "library.db")
    killed_at(1 + round(part * total), lambda: migrate(path))
    with Library.open(path) as library:
        assert library.names() == ["wren"]
    assert is_sound(path)


@pytest.mark.reliability
def test_two_programs_migrate_at_once(tmp_path: Path) -> None:
    path = unpack(2, tmp_path / "library.db")
    both = [FORK.Process(target=lambda: Library.open(path).close()) for _ in range(2)]
    for process in both:
        process.start()
    for process in both:
        process.join(120)
        assert process.exitcode == 0
    with Library.open(path) as library:
        assert library.motif("wren").tags == ("birds/small",)


def test_an_old_library_that_cannot_be_written_is_told_plainly(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = unpack(3, tmp_path / "library.db")
    monkeypatch.setattr(os, "access", lambda *_: False)
    with pytest.raises(LibraryWriteError, match="is read-only"):
        Library.open(path)


@pytest.mark.parametrize("version", VERSIONS)
def test_a_bundle_of_every_version_can_be_restored_from(tmp_path: Path, version: int) -> None:
    gift = unpack(version, tmp_path / "gift.db")
    before = gift.read_bytes()
    with Library.open(tmp_path / "shed.db") as shed:
        finish(shed.restore(gift, finish(shed.compare(gift)), {}))
        assert shapely.to_wkb(shed.motif("wren").windows) == shapely.to_wkb(WINDOWS)
        assert len(shed.revisions("wren")) == 1, "two revisions of the same geometry are one"
    assert gift.read_bytes() == before


def test_a_library_that_another_program_migrates_meanwhile_opens(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path, digest = unpack(2, tmp_path / "library.db"), file_header.schema_digest

    def late(connection: sqlite3.Connection) -> str:
        monkeypatch.setattr(file_header, "schema_digest", digest)
        Library.open(path).close()
        return digest(connection)

    monkeypatch.setattr(file_header, "schema_digest", late)
    Library.open(path).close()
