"""Filing on screen: bringing in, marking, tagging, facts, removing, undo; trials and cards."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot

from hingeleaf.adding import ImportOutcome, ImportReport
from hingeleaf.catalogue.store import Library
from hingeleaf.material import Grain
from hingeleaf.model import Card, Finding, Severity, SizeRange
from hingeleaf_tui import settings
from hingeleaf_tui.screens.adding import AddingScreen, what_was_planned
from hingeleaf_tui.screens.dialogs import SavingDialog
from hingeleaf_tui.screens.motifs import MotifsScreen
from hingeleaf_tui.widgets.form import Form
from hingeleaf_tui.widgets.motif_list import MotifList
from hingeleaf_tui.widgets.picture_view import PictureView
from hingeleaf_tui.widgets.text_list import TextList
from support.app_pilot import choose, make_library, ours, press, running, seen, type_in

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm" viewBox="0 0 60 40">'
    '<rect id="{0}" x="2" y="2" width="30" height="30"/>'
    '<circle id="dot" cx="50" cy="20" r="8"/></svg>'
)


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    monkeypatch.chdir(tmp_path)


def names(pilot: Pilot[None]) -> list[str]:
    return list(ours(pilot).get_screen("motifs", MotifsScreen).query_one(MotifList).keys)


async def test_marked_motifs_are_tagged_together_and_it_is_taken_back(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "space", "space", "t")
        assert "Tags for 2 motifs" in seen(pilot)
        await type_in(pilot, "+rescue -round")
        await press(pilot, "enter")
        assert "Tagged 2 motifs" in seen(pilot)
        with Library.open(library) as opened:
            assert opened.names("tag:rescue") == ["berry", "buoy"]
            assert opened.names("tag:round") == []
        await press(pilot, "u")
        assert "Undone" in seen(pilot)
        with Library.open(library) as opened:
            assert opened.names("tag:round") == ["berry", "buoy"]
        await press(pilot, "y")
        assert "Redone" in seen(pilot)


async def test_no_tag_is_refused_in_place(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "t")
        await type_in(pilot, "+--")
        await press(pilot, "enter")
        assert "is not a tag" in seen(pilot)
        await press(pilot, "escape")
        assert isinstance(pilot.app.screen, MotifsScreen)


async def test_the_list_is_narrowed_by_a_tag_with_its_count(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "l")
        assert "harbour/boats" in seen(pilot)
        await type_in(pilot, "boats")
        await press(pilot, "enter")
        assert names(pilot) == ["hull", "sail"]


async def test_facts_are_kept_as_they_are_typed(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "e")
        await choose(pilot, "maker", "Tide Mill")
        await choose(pilot, "turn_limit", "15")
        await choose(pilot, "largest", "3cm")
        await choose(pilot, "turn_limit", "upside down")
        assert "The turn cannot be 'upside down'" in seen(pilot)
        await press(pilot, "escape")
        await choose(pilot, "name", "bilberry")
        await press(pilot, "escape")
        assert "bilberry" in names(pilot)
        assert "Tide Mill" in seen(pilot)
    with Library.open(library) as opened:
        motif = opened.motif("bilberry")
    assert (motif.source.maker, motif.turn_limit) == ("Tide Mill", 15.0)
    assert motif.sizes == SizeRange.between(None, 30)


async def test_all_found_are_marked_and_a_fact_is_set_for_all_of_them_at_once(
    library: Path,
) -> None:
    async with running(library) as pilot:
        await press(pilot, "slash")
        await type_in(pilot, "tag:hedgerow")
        await press(pilot, "enter", "1")
        assert "2 marked." in seen(pilot)
        await press(pilot, "e")
        assert "and 1 more" in seen(pilot)
        await choose(pilot, "licence", "CC-BY-4.0")
        await choose(pilot, "name", "same")
        assert "not set for several motifs at once" in seen(pilot)
        await press(pilot, "escape", "escape")
        with Library.open(library) as opened:
            licences = {name: opened.motif(name).source.licence for name in opened.names("")}
        changed = {name for name, licence in licences.items() if licence == "CC-BY-4.0"}
        assert changed == {"gate", "berry"}
        await press(pilot, "u")
        with Library.open(library) as opened:
            assert opened.motif("gate").source.licence == "CC0-1.0"
        await press(pilot, "3")
        assert "None marked." in seen(pilot)
        await press(pilot, "c", "3")
        assert "6 marked." in seen(pilot)


async def test_removed_motifs_come_back_with_undo(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "d")
        assert "berry" not in names(pilot)
        assert "u restores" in seen(pilot)
        await press(pilot, "u")
        assert "berry" in names(pilot)


TONES = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">'
    '<circle cx="30" cy="30" r="28" fill="#e8c060"/><circle id="{0}" cx="30" cy="{1}" r="9"/></svg>'
)


async def test_ways_to_cut_are_shown_side_by_side_and_taken_for_one_file_or_all(
    tmp_path: Path,
) -> None:
    folder = tmp_path / "eggs"
    folder.mkdir()
    for name, y in (("wren", 30), ("robin", 20)):
        (folder / f"{name}.svg").write_text(TONES.format(name, y))
    async with running(tmp_path / "new.db") as pilot:
        await press(pilot, "a")
        await choose(pilot, "place", "eggs/wren.svg")
        assert "Cut this way: dark parts as windows" in seen(pilot)
        await press(pilot, "l")
        assert "ways to cut it, best first" in seen(pilot)
        await press(pilot, "right", "enter")
        screen = pilot.app.screen
        assert isinstance(screen, AddingScreen) and screen.subject.options.way == "edges"
        assert "Cut this way: every tone as windows" in seen(pilot)
        await choose(pilot, "place", "eggs")
        assert screen.subject.options.way == ""
        await press(pilot, "e", "down", "enter", "right", "enter", "1")
        assert screen.subject.options.ways == (("wren.svg", "edges"),)
        await press(pilot, "s")
        assert "Imported 2 of 2" in seen(pilot)
    with Library.open(tmp_path / "new.db") as library:
        areas = {name: library.motif(name).windows.area for name in library.names("")}
    assert areas["wren"] > 1.5 * areas["robin"]


async def test_three_files_are_brought_in_and_a_part_left_out(tmp_path: Path) -> None:
    folder = tmp_path / "drawings"
    folder.mkdir()
    for name in ("raft", "crate", "oar"):
        (folder / f"{name}.svg").write_text(SVG.format(name))
    async with running(tmp_path / "new.db") as pilot:
        await press(pilot, "a")
        assert isinstance(pilot.app.screen, AddingScreen)
        await choose(pilot, "place", "drawings/raft.svg")
        parts = pilot.app.screen.query_one("#parts", TextList)
        assert [line.key for line in parts.lines] == ["raft", "dot"]
        whole = seen(pilot)
        await press(pilot, "e", "down", "enter")
        assert parts.lines[1].sign == "-"
        assert seen(pilot) != whole
        await press(pilot, "s")
        assert "Imported as raft, with no bridge. Nothing lifts: the drawing" in seen(pilot)
        await press(pilot, "f3")
        assert "raft on card-220." in seen(pilot) and "Arrows" not in seen(pilot)
        await press(pilot, "f2")
        assert ours(pilot).screen.query_one(MotifList).chosen == "raft"
        await press(pilot, "a")
        await choose(pilot, "place", "drawings/raft.svg")
        await press(pilot, "e")
        await choose(pilot, "place", "drawings")
        assert "3 files" in seen(pilot)
        await choose(pilot, "tags", "deck")
        await press(pilot, "s")
        assert "of 3" in seen(pilot)
        await press(pilot, "c")
        assert isinstance(pilot.app.screen, MotifsScreen)
        assert {"raft", "crate"} <= set(names(pilot))


async def test_a_shape_that_is_there_is_brought_in_again_only_where_that_is_wanted(
    tmp_path: Path,
) -> None:
    (tmp_path / "raft.svg").write_text(SVG.format("raft"))
    async with running(tmp_path / "new.db") as pilot:
        await press(pilot, "a")
        await choose(pilot, "place", "raft.svg")
        await press(pilot, "s")
        await press(pilot, "s")
        assert "The same shape as raft, so it was not added." in seen(pilot)
        await press(pilot, "n")
        assert "--again" not in seen(pilot)
        await press(pilot, "s", "y")
        assert "Imported as raft-2" in seen(pilot)


REFUSED = (
    ("nowhere.svg", "There is no nowhere.svg"),
    ("", "No file was named"),
    ("words.svg", "words.svg"),
    ("empty.svg", "cut"),
)


async def test_what_cannot_be_brought_in_is_told_in_place(tmp_path: Path, library: Path) -> None:
    (tmp_path / "words.svg").write_text("no drawing at all")
    (tmp_path / "empty.svg").write_text('<svg xmlns="http://www.w3.org/2000/svg"/>')
    before = library.read_bytes()
    async with running(library) as pilot:
        for place, message in REFUSED:
            await press(pilot, "a")
            await choose(pilot, "place", place)
            assert message in " ".join(seen(pilot).split())
            await press(pilot, "escape", "escape")
    assert library.read_bytes() == before


async def test_the_starter_patterns_come_into_an_empty_library(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Two of them, since planning all takes a while."""
    from hingeleaf import starter

    few = starter.patterns()[:2]
    monkeypatch.setattr(starter, "patterns", lambda: few)
    async with running(tmp_path / "new.db") as pilot:
        assert "adds the starter patterns" in seen(pilot)
        await press(pilot, "o")
        assert names(pilot) == sorted(pattern.name for pattern in few)
        assert "p fills a panel" in " ".join(seen(pilot).split())
        await press(pilot, "o")
        assert "in the library already" in seen(pilot)


async def test_trials_are_recorded_shown_and_forgotten(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f5")
        assert "No test cuts yet" in seen(pilot)
        await press(pilot, "n")
        assert isinstance(pilot.app.screen, SavingDialog)
        await choose(pilot, "size", "25mm")
        await press(pilot, "s")
        await press(pilot, "n")
        await choose(pilot, "size", "15")
        pilot.app.screen.query_one(Form).line("outcome").focus()
        await press(pilot, "right", "s")
        shown = seen(pilot)
        assert "25 mm" in shown
        assert "tore" in shown
        ruler = pilot.app.screen.query_one(PictureView).render_line(3).text
        assert ruler.count("●") == 1
        assert ruler.count("×") == 1
        await press(pilot, "d")
        with Library.open(library) as opened:
            assert len(opened.trials.all("berry")) == 1
        await press(pilot, "f2")
        assert "Trials" in seen(pilot)


async def test_a_ladder_is_written(library: Path, tmp_path: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f5", "x")
        await press(pilot, "enter")
        assert "Written" in seen(pilot)
    assert b'mm"' in (tmp_path / "ladder-berry.svg").read_bytes()


async def test_cards_are_made_used_and_removed(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f6", "n")
        assert isinstance(pilot.app.screen, SavingDialog)
        await choose(pilot, "name", "ivory-240")
        await choose(pilot, "least_web", "nothing")
        assert "is not a length" in seen(pilot)
        await press(pilot, "escape")
        await choose(pilot, "least_web", "1.3")
        await press(pilot, "s")
        cards = pilot.app.screen.query_one("#cards", TextList)
        cards.cursor = [line.key for line in cards.lines].index("ivory-240")
        await press(pilot, "space")
        assert ours(pilot).services.settings.card == "ivory-240"
        assert ours(pilot).services.panel.recipe.card.least_web == 1.3
        await press(pilot, "d")
        assert "ivory-240" not in [line.key for line in cards.lines]
        await press(pilot, "home", "d")
        assert "comes with Hingeleaf" in seen(pilot)


async def test_a_card_is_tested_and_what_was_read_off_stays(library: Path, tmp_path: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f6", "x")
        typed = pilot.app.screen.query_one("TypedLine")
        typed.value = str(tmp_path / "test.svg")
        await press(pilot, "enter")
        assert (tmp_path / "test.svg").exists() and "press a to enter the readings" in seen(pilot)
        cards = pilot.app.screen.query_one("#cards", TextList)
        card = cards.lines[cards.cursor].key
        await press(pilot, "a", "s")
        assert "No reading was given" in seen(pilot)
        await choose(pilot, "sag_x", "150:140")
        assert "A drop of 140" in seen(pilot)
        await press(pilot, "escape")
        await choose(pilot, "sag_x", "150:14")
        await choose(pilot, "sag_y", "150:28")
        await choose(pilot, "tear_x", "160, 170")
        await press(pilot, "s")
        assert not isinstance(pilot.app.screen, SavingDialog)
    with Library.open(library) as opened:
        kept = opened.cards.get(card)
    assert kept.grain is Grain.SHORT, "the lying strip was the stiffer one, on an upright sheet"
    assert kept.material is not None
    assert kept.material.tear_along.value == pytest.approx(0.165 * 9.80665)


async def test_settings_hold_at_once_and_are_kept(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f6", "e", "right")
        assert ours(pilot).theme == "hingeleaf-light"
        await press(pilot, "down", "right", "right", "right", "right")
        assert ours(pilot).services.ink == "ascii"
    assert settings.read().ink == "ascii"
    assert settings.read().light


async def test_the_users_own_card_holds_from_the_start(library: Path) -> None:
    with Library.open(library) as opened:
        opened.cards.put(Card("sail-cloth", 300, 0.5, 2.0, 2.0))
    async with running(library, user_settings=settings.Settings(card="sail-cloth")) as pilot:
        assert "untried (sail-cloth)" in seen(pilot)
        await press(pilot, "f4")
        assert ours(pilot).services.panel.recipe.card.least_web == 2.0


def test_a_motif_that_is_too_fine_is_imported_with_that_sentence() -> None:
    note, caution = Severity.NOTE, Severity.CAUTION
    lifts, small = (
        Finding("best-hold", note, "It lifts."),
        Finding("small", caution, "It is small."),
    )
    fine = Finding("too-fine", caution, "It is too fine.", remedy="Use it larger.")
    for findings, said in (
        ((lifts, small, fine), "It is too fine. Use it larger."),
        ((lifts, small), "It is small."),
        ((lifts,), "It lifts."),
    ):
        report = ImportReport(Path("x.svg"), ImportOutcome.ADDED, "x", findings=findings)
        assert what_was_planned(report) == said
