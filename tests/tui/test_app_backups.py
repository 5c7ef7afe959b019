"""Revisions, bundles, backups, another library and the check of a library, in the app."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from dataclasses import replace
from pathlib import Path

import pytest

from hingeleaf.catalogue.backup import read_plan
from hingeleaf.catalogue.store import Library
from hingeleaf_tui import panel_session, settings
from hingeleaf_tui.screens.backups import LibraryImportDialog
from hingeleaf_tui.screens.motif_choices import RevisionsDialog
from hingeleaf_tui.widgets.text_list import TextList
from support.app_pilot import laid, make_library, ours, press, running, seen, type_in


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    monkeypatch.chdir(tmp_path)
    return make_library(tmp_path)


async def test_a_past_revision_is_seen_and_made_the_newest_again(library: Path) -> None:
    with Library.open(library) as opened:
        ring = opened.motif("life-ring")
        opened.update(replace(ring, bridges=ring.bridges[:1]), expected_revision=1)
    async with running(library, size=(120, 30)) as pilot:
        await press(pilot, "slash")
        await type_in(pilot, "ring")
        await press(pilot, "enter", "number_sign")
        assert isinstance(pilot.app.screen, RevisionsDialog)
        assert [each.revision.number for each in pilot.app.screen.items] == [2, 1]
        assert "differs in bridges" in seen(pilot) and "the newest" in seen(pilot)
        await press(pilot, "right", "enter")
        assert "life-ring is as revision 1 was." in seen(pilot)
        with Library.open(library) as opened:
            assert opened.motif("life-ring").bridges == ring.bridges
            assert opened.motif("life-ring").revision == 3
        await press(pilot, "u")
        with Library.open(library) as opened:
            assert len(opened.motif("life-ring").bridges) == 1


async def test_a_bundle_is_written_and_taken_into_another_library(
    library: Path, tmp_path: Path
) -> None:
    with Library.open(library) as opened:
        panel_session.save(opened, "hall", laid(library))
    other = tmp_path / "other.db"
    with Library.open(library) as opened:
        opened.backup(other)
    async with running(library) as pilot:
        await press(pilot, "end", "space", "x", "down", "enter")  # the last listed is marked
        await type_in(pilot, "hall")
        await press(pilot, "enter", "s")
        assert "Written:" in seen(pilot)
    with Library.open(tmp_path / "motifs.db") as bundle:
        assert bundle.names() == ["buoy", "hull", "sail"], "what is marked or stands on the panel"
        assert [row.name for row in bundle.panels.all()] == ["hall"]
        bundle.tags.change(["buoy"], add=["theirs"])
        bundle.rename("sail", "jib")
    async with running(other) as pilot:
        await press(pilot, "f6", "o", "slash")
        await type_in(pilot, "motifs.db")
        await press(pilot, "enter")
        assert isinstance(pilot.app.screen, LibraryImportDialog)
        rows = {line.text: line for line in pilot.app.screen.query_one(TextList).lines}
        assert {name: line.sign for name, line in rows.items()} == {"buoy": "-", "jib": "x"}
        assert rows["buoy"].right == "motif, differs in tags"
        await press(pilot, "1", "1", "space", "s")  # none of them, then one
        assert "Took 1 item" in seen(pilot)
        await press(pilot, "f2")
        assert ours(pilot).screen.motifs.count == 6
        with Library.open(other) as opened:
            assert "theirs" in opened.motif("buoy").tags
        await press(pilot, "u")
        with Library.open(other) as opened:
            assert "theirs" not in opened.motif("buoy").tags
        with closing(sqlite3.connect(tmp_path / "motifs.db")) as damaged, damaged:
            damaged.execute("UPDATE revision SET windows = x'00'")
        await press(pilot, "f6", "o", "slash")
        await type_in(pilot, "motifs.db")
        await press(pilot, "enter")
        assert "motif, damaged" in seen(pilot) and "panel, damaged" in seen(pilot)
        await press(pilot, "space")
        assert "Look for it in another copy" in seen(pilot)


async def test_the_library_is_backed_up_and_the_whole_of_it_replaced(
    library: Path, tmp_path: Path
) -> None:
    async with running(library) as pilot:
        await press(pilot, "f6", "o")
        assert "No automatic backup yet" in seen(pilot)
        await press(pilot, "x", "enter")
        assert "Written:" in seen(pilot)
        (written,) = tmp_path.glob("harbour-*.db")
        with Library.open(library) as opened:
            opened.remove("hull")
        await press(pilot, "r")
        assert "Go back to which file?" in seen(pilot), "there is none in the list yet"
        await type_in(pilot, written.name)
        await press(pilot, "enter", "y")
        assert "Back at 6 motifs." in " ".join(seen(pilot).split())
        await press(pilot, "e", "enter")
        await type_in(pilot, "7")
        await press(pilot, "enter", "s")
        with Library.open(library) as opened:
            assert read_plan(opened.db).keep == 7
            opened.backup(tmp_path / "harbour-backups" / "harbour-0001-2026-01-02-030405.db")
            opened.remove("buoy")
        await press(pilot, "escape", "f2", "f6", "o")
        assert "2026-01-02" in seen(pilot)
        await press(pilot, "r", "n", "r", "y")
        assert "Back at 6 motifs. The file of before is" in " ".join(seen(pilot).split())
        await press(pilot, "escape", "f2")
        assert ours(pilot).screen.motifs.count == 6


async def test_the_check_finds_a_fault_and_repairs_it(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f6", "f")
        assert "The library is sound." in seen(pilot)
        await press(pilot, "escape")
        with Library.open(library) as opened, opened.db.transaction():
            opened.db.connection.execute("UPDATE motif SET size = 1")
        await press(pilot, "f")
        assert "can be repaired" in seen(pilot)
        await press(pilot, "r")
        assert "1 repair made." in seen(pilot)
        assert "The library is sound." in seen(pilot)


async def test_what_is_no_library_is_refused_in_place(library: Path, tmp_path: Path) -> None:
    (tmp_path / "notes.txt").write_text("a shopping list")
    async with running(library) as pilot:
        for typed in ("notes.txt", "nowhere.db"):
            await press(pilot, "f6", "o", "slash")
            await type_in(pilot, typed)
            await press(pilot, "enter")
            assert typed in seen(pilot)
            assert isinstance(pilot.app.screen, LibraryImportDialog)
            await press(pilot, "s", "escape")
            assert ours(pilot).is_running
