"""Composing: from a letter to a checked cut file, and what is said when something is amiss."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import pytest
import shapely
from textual import events
from textual.pilot import Pilot

from hingeleaf.catalogue.store import Library
from hingeleaf.model import Finding, Severity
from hingeleaf_tui import panel_session, settings
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.screens.dialogs import QuestionDialog
from hingeleaf_tui.screens.export import ExportScreen
from hingeleaf_tui.screens.panel import PanelScreen
from hingeleaf_tui.widgets.arrange_view import ArrangeView
from hingeleaf_tui.widgets.form import Form
from support.app_pilot import (
    choose,
    make_library,
    ours,
    press,
    running,
    seen,
    settled,
    turn_to,
    type_in,
)


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    monkeypatch.chdir(tmp_path)


async def test_a_letter_is_filled_checked_and_exported(library: Path, tmp_path: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        await choose(pilot, "text", "L")
        await choose(pilot, "height", "8cm")
        await choose(pilot, "smallest", "14")
        await turn_to(pilot, "budget", "draft")
        await press(pilot, "g")
        session = ours(pilot).services.panel
        assert session.filled is not None
        assert session.filled.field.label == "L"
        shown = seen(pilot)
        assert f"{session.filled.filling.coverage:.0%} covered" in shown
        assert session.reviewed is not None
        assert session.unsaved
        await press(pilot, "x")
        shown = seen(pilot)
        assert "letter-l-80mm" in shown
        assert "nodes" in shown
        await press(pilot, "x")
        assert not session.unsaved
        target = tmp_path / "letter-l-80mm.svg"
        assert "Written" in seen(pilot)
        placements = session.placements
    root = ET.parse(target).getroot()
    assert root.get("height", "").endswith("mm")
    footprints = [
        each.pose.place(session.filled.motifs[each.motif].footprint, 40.0) for each in placements
    ]
    tree = shapely.STRtree(footprints)
    _, distances = tree.query_nearest(footprints, exclusive=True, return_distance=True)
    assert distances.min() >= 2.0


async def test_stopping_keeps_what_is_there_and_going_on_finishes(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        await choose(pilot, "height", "70")
        await pilot.press("g")
        session, jobs = ours(pilot).services.panel, ours(pilot).services.jobs
        while not session.placements:
            await pilot.pause(0.02)
        await press(pilot, "c")
        assert jobs.is_paused("fill")
        stopped = session.filled
        assert session.reviewed is not None
        assert "g continues" in seen(pilot)
        await pilot.pause(0.3)
        assert session.filled is stopped
        await press(pilot, "g")
        assert not jobs.is_paused("fill")
        assert session.filled is not stopped
        assert session.reviewed is not None


async def test_a_filling_whose_process_is_killed_keeps_what_it_found(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        await choose(pilot, "height", "70")
        await turn_to(pilot, "budget", "thorough")
        await pilot.press("g")
        session = ours(pilot).services.panel
        while not session.placements:
            await pilot.pause(0.02)
        process = ours(pilot).services.worker.process
        assert process is not None
        process.kill()
        await settled(pilot)
        assert "ended from outside" in seen(pilot)
        assert session.placements
        assert session.unsaved
        await turn_to(pilot, "budget", "draft")
        await press(pilot, "g")
        assert session.reviewed is not None


async def test_what_is_typed_ahead_of_the_screen_is_done_in_its_order(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        await turn_to(pilot, "budget", "draft")
        pilot.app.screen.query_one(Form).line("height").focus()
        await pilot.pause()
        for key, sign in (("enter", "\r"), ("7", "7"), ("5", "5"), ("enter", "\r"), ("g", "g")):
            pilot.app.post_message(events.Key(key, sign))
        await pilot.pause(0.3)
        await settled(pilot)
        session = ours(pilot).services.panel
        assert recipe_form.values_of(session.recipe)["height"] == "75 mm"
        assert session.reviewed is not None
        assert session.filled is not None
        assert session.filled.recipe == session.recipe


async def test_another_seed_fills_another_way(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        await choose(pilot, "height", "70")
        await choose(pilot, "bolder", "auto")
        await turn_to(pilot, "budget", "draft")
        await press(pilot, "g")
        assert "Strokes are " in seen(pilot), "it says how much bolder they were made"
        first = ours(pilot).services.panel.placements
        await press(pilot, "n")
        assert ours(pilot).services.panel.recipe.rules.seed == 2
        assert ours(pilot).services.panel.placements != first


async def test_the_motifs_listed_are_what_a_panel_is_filled_with(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "slash")
        await type_in(pilot, "tag:hedgerow")
        await press(pilot, "enter", "p")
        assert isinstance(pilot.app.screen, PanelScreen)
        await choose(pilot, "height", "70")
        await turn_to(pilot, "budget", "draft")
        await press(pilot, "g")
        kinds = {placement.motif for placement in ours(pilot).services.panel.placements}
        assert kinds
        assert kinds <= {"gate", "berry"}


async def test_the_arrows_change_numbers_and_choices(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        form = pilot.app.screen.query_one(Form)
        form.line("height").focus()
        await press(pilot, "right", "right", "left")
        assert form.line("height").value == "205 mm"
        form.line("kind").focus()
        await press(pilot, "right", "right", "right")
        assert form.line("kind").value == "shape"
        assert not form.line("text").display
        assert form.line("shape").value == "heart"


NONSENSE = (
    ("height", "tall", "'tall' is not a length."),
    ("height", "0", "The height cannot be 0 mm."),
    ("seed", "-3", "The seed cannot be -3."),
    ("smallest", "90mm", "leaves no size"),
    ("text", "", "There is no letter to fill."),
    ("gap", "2 miles", "is not a length"),
    ("lifting_share", "most", "The lifting share cannot be 'most'."),
)


async def test_a_value_that_makes_no_sense_is_told_and_not_taken(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        before = ours(pilot).services.panel.recipe
        for key, text, message in NONSENSE:
            await choose(pilot, key, text)
            assert message in " ".join(seen(pilot).split())
            await press(pilot, "escape")
            assert ours(pilot).services.panel.recipe == before


IMPOSSIBLE = (
    ("text", "\N{SNOWMAN}", "No font at hand"),
    ("height", "4mm", ""),
    ("query", "walrus", "no motif"),
    ("query", "hold:soggy", "no hold style"),
)


async def test_a_recipe_that_cannot_be_filled_is_told_on_the_plate(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        session = ours(pilot).services.panel
        for key, text, message in IMPOSSIBLE:
            await choose(pilot, key, text)
            await press(pilot, "g")
            assert session.filled is None
            assert "Not filled." in seen(pilot)
            assert message in " ".join(seen(pilot).split())
            await press(pilot, "u")
            assert session.recipe == session.initial_recipe


async def test_findings_are_listed_shown_close_up_and_explained(library: Path) -> None:
    """Only findings that another motif would fix raise a question."""
    async with running(library) as pilot:
        await filled(pilot)
        screen, session = pilot.app.screen, ours(pilot).services.panel
        assert isinstance(screen, PanelScreen)
        reviewed = session.reviewed
        assert reviewed is not None
        whole = seen(pilot)
        narrow = Finding("sheet", Severity.NOTE, "The rim is narrow.", (9, 9), "Widen the sheet.")
        for findings, explained in (((), "nothing to show"), ((narrow,), "Widen the sheet.")):
            report = replace(reviewed.report, findings=findings, weak_places=())
            session.set_reviewed(replace(reviewed, report=report))
            screen.show_state()
            await press(pilot, "f")
            assert explained in seen(pilot)
        assert screen.findings.has_focus
        assert seen(pilot) != whole
        await press(pilot, "enter")
        assert pilot.app.screen is screen
        assert "Another motif would not fix this. Widen the sheet." in seen(pilot)
        await press(pilot, "f")
        assert not screen.findings.has_focus


async def test_one_key_shows_it_folded_then_by_pull_and_by_gaps(
    library: Path,
) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "f8")
        assert "nothing to look at" in seen(pilot)
        await filled(pilot)
        plain = seen(pilot)
        await press(pilot, "f8")
        assert "Folded up" in seen(pilot)
        await press(pilot, "f8")
        assert "weakest at 1, 2 and 3" in seen(pilot)
        assert " N " in seen(pilot)
        await press(pilot, "f8")
        assert "distance to the nearest motif" in seen(pilot)
        assert " mm " in seen(pilot).splitlines()[-5]
        await press(pilot, "f8")
        assert [line[33:] for line in seen(pilot).splitlines()[2:-4]] == [
            line[33:] for line in plain.splitlines()[2:-4]
        ]


async def filled(pilot: Pilot[None]) -> None:
    await press(pilot, "f4")
    await choose(pilot, "height", "70")
    await turn_to(pilot, "budget", "draft")
    await press(pilot, "g")


async def test_a_circle_that_is_pointed_at_is_filled_again_and_nothing_else_moves(
    library: Path,
) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        await choose(pilot, "height", "120")
        await turn_to(pilot, "budget", "draft")
        await press(pilot, "g")
        session = ours(pilot).services.panel
        before = session.filled
        assert before is not None
        await press(pilot, "e", "a")
        view = pilot.app.screen.query_one(ArrangeView)
        assert "A circle of" in seen(pilot)
        await press(pilot, "down", "minus", "plus")
        at, radius = view.circle
        await press(pilot, "r")
        region = shapely.Point(at).buffer(radius, quad_segs=64)
        outside = [
            each
            for each in before.placed.placements
            if not region.covers(
                each.pose.place(before.motifs[each.motif].footprint, before.motifs[each.motif].size)
            )
        ]
        assert outside and len(outside) < len(before.placed.placements)
        poses = {(each.motif, each.pose) for each in session.placements}
        assert all((each.motif, each.pose) in poses for each in outside)
        assert session.history.last == "refill of a circle"
        await press(pilot, "u")
        assert session.placements == before.placed.placements


async def test_edits_by_number_fill_only_their_pockets(library: Path) -> None:
    async with running(library) as pilot:
        await filled(pilot)
        session = ours(pilot).services.panel
        before = session.placements
        await press(pilot, "e", "number_sign")
        await type_in(pilot, "drop 99")
        await press(pilot, "enter")
        assert "There is no placement 99" in seen(pilot)
        await press(pilot, "number_sign")
        await type_in(pilot, "grow 1")
        await press(pilot, "enter")
        assert "'grow' is not an edit" in seen(pilot)
        await press(pilot, "escape", "number_sign")
        await type_in(pilot, "drop 1")
        await press(pilot, "enter")
        poses = {(each.motif, each.pose) for each in session.placements}
        assert all((each.motif, each.pose) in poses for each in before[1:])
        assert session.history.last == "edit: drop 1"


async def test_enter_on_a_finding_mends_it(library: Path) -> None:
    async with running(library) as pilot:
        await filled(pilot)
        session = ours(pilot).services.panel
        good = session.filled
        assert good is not None and session.reviewed is not None
        first, second, *others = good.filling.placements
        clash = second.moved(replace(second.pose, x=first.pose.x + 3, y=first.pose.y))
        session.arrange("move", panel_session.with_placements(good, (first, clash, *others)))
        pilot.app.screen.show_state()
        await settled(pilot)
        faults = len(session.reviewed.report.faults)
        assert faults
        await press(pilot, "f", "enter")
        assert isinstance(pilot.app.screen, QuestionDialog)
        assert "Fix it" in seen(pilot)
        await press(pilot, "m")
        assert session.history.last == "mending"
        assert len(session.reviewed.report.faults) < faults


async def test_an_export_refuses_what_cannot_be_written_and_asks_before_it_replaces(
    library: Path, tmp_path: Path
) -> None:
    async with running(library) as pilot:
        await filled(pilot)
        await press(pilot, "x")
        for key, text, message in (
            ("name", "", "is not the name of a file"),
            ("name", "a/b", "is not the name of a file"),
            ("folder", "nowhere", "There is no folder nowhere"),
            ("tile", "tiny", "is not a size"),
        ):
            await choose(pilot, key, text)
            assert message in seen(pilot)
            await press(pilot, "escape")
        assert isinstance(pilot.app.screen, ExportScreen)
        (tmp_path / "taken.svg").write_text("precious")
        await choose(pilot, "name", "taken.svg")
        await press(pilot, "x")
        assert (tmp_path / "taken.svg").read_text() == "precious"
        assert "x again replaces it" in seen(pilot)
        await press(pilot, "x")
        assert (tmp_path / "taken.svg").read_text() != "precious"
        assert ours(pilot).services.settings.export_folder == str(tmp_path)


async def test_an_export_in_other_formats_with_the_pages_beside_it(
    library: Path, tmp_path: Path
) -> None:
    async with running(library) as pilot:
        await filled(pilot)
        await press(pilot, "x")
        await choose(pilot, "name", "nora")
        await turn_to(pilot, "format", "dxf")
        await choose(pilot, "tile", "80x120mm")
        await turn_to(pilot, "assembly", "yes")
        await turn_to(pilot, "picture", "yes")
        await turn_to(pilot, "show", "path")
        await turn_to(pilot, "proof", "pdf")
        await press(pilot, "x")
        assert "Written" in seen(pilot)
    written = sorted(file.name for file in tmp_path.iterdir() if file.name.startswith("nora"))
    assert {"nora-assembly.pdf", "nora.png", "nora-proof.pdf"} < set(written)
    assert sum(name.endswith(".dxf") for name in written) > 1


async def test_a_panel_is_kept_and_opened_again(library: Path) -> None:
    async with running(library) as pilot:
        await filled(pilot)
        placements = ours(pilot).services.panel.placements
        await press(pilot, "s")
        await type_in(pilot, "Nora")
        await press(pilot, "enter")
        assert "Saved as nora" in seen(pilot)
        assert not ours(pilot).services.panel.unsaved
    with Library.open(library) as opened:
        assert opened.panels.get("nora").placements == placements
    async with running(library) as pilot:
        await press(pilot, "f4", "o")
        assert "nora" in seen(pilot)
        await press(pilot, "enter")
        assert ours(pilot).services.panel.placements == placements
        assert ours(pilot).services.panel.name == "nora"
        assert not ours(pilot).services.panel.unsaved


async def test_fonts_and_cards_are_chosen_from_lists(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        form = pilot.app.screen.query_one(Form)
        form.line("card").focus()
        await press(pilot, "enter")
        await type_in(pilot, "300")
        await press(pilot, "enter")
        assert ours(pilot).services.panel.recipe.card.name == "card-300"
        form.line("font").focus()
        await press(pilot, "enter")
        await type_in(pilot, "fredoka")
        await press(pilot, "enter")
        assert form.line("font").value.startswith("Fredoka")


async def test_leaving_with_an_unkept_panel_asks_first(library: Path) -> None:
    async with running(library) as pilot:
        await filled(pilot)
        await press(pilot, "q")
        assert isinstance(pilot.app.screen, QuestionDialog)
        await press(pilot, "n")
        assert isinstance(pilot.app.screen, PanelScreen)
        await press(pilot, "q")
        await pilot.press("y")
        await pilot.pause()
        assert not ours(pilot).is_running


async def test_leaving_with_nothing_to_lose_asks_nothing(library: Path) -> None:
    async with running(library) as pilot:
        await pilot.press("q")
        await pilot.pause()
        assert not ours(pilot).is_running


async def test_motifs_are_chosen_pinned_moved_and_filled_around(library: Path) -> None:
    async with running(library) as pilot:
        await filled(pilot)
        session = ours(pilot).services.panel
        before = session.placements
        await press(pilot, "e")
        picture_view = pilot.app.screen.query_one(ArrangeView)
        assert picture_view.has_focus
        assert "mm, rotated" in seen(pilot)
        chosen = picture_view.chosen
        await press(pilot, "6", "6", "right_square_bracket", "plus")
        moved = session.placements[chosen]
        assert moved.pinned
        assert moved.pose.x == pytest.approx(before[chosen].pose.x + 2)
        assert (moved.pose.turn - before[chosen].pose.turn) % 360 == pytest.approx(5)
        assert moved.pose.size == pytest.approx(before[chosen].pose.size + 1)
        await press(pilot, "u", "u", "u", "u")
        assert session.placements == before
        await press(pilot, "i", "r")
        assert session.filled is not None
        assert replace(before[chosen], pinned=True) in session.placements
        assert len(session.placements) > 1


async def test_motifs_are_swapped_and_taken_off(library: Path) -> None:
    async with running(library) as pilot:
        await filled(pilot)
        session = ours(pilot).services.panel
        before = session.placements
        await press(pilot, "e", "w")
        chosen = pilot.app.screen.query_one(ArrangeView).chosen
        assert session.placements[chosen].motif != before[chosen].motif
        await press(pilot, "slash")
        await type_in(pilot, "hull")
        await press(pilot, "enter")
        assert session.placements[chosen].motif == "hull"
        await press(pilot, "d")
        assert len(session.placements) == len(before) - 1
        coverage = session.filled.filling.coverage
        assert f"{coverage:.0%} covered" in seen(pilot)
        assert session.reviewed is not None
        await press(pilot, "escape")
        assert not pilot.app.screen.query_one(ArrangeView).has_focus
