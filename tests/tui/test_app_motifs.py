"""Browsing: the list, the search, the large drawing, and what is said when something is amiss."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest
from shapely import box
from textual.pilot import Pilot

from hingeleaf.catalogue.store import Library
from hingeleaf.model import HoldStyle, Placement, Pose
from hingeleaf_tui import library_service
from hingeleaf_tui.drawing.canvas import STYLES
from hingeleaf_tui.library_service import MotifView
from hingeleaf_tui.settings import Settings
from hingeleaf_tui.widgets.facts import Facts
from hingeleaf_tui.widgets.motif_list import MotifList, Row
from hingeleaf_tui.widgets.picture_view import PictureView
from support.app_pilot import (
    make_library,
    motifs,
    ours,
    plain,
    press,
    running,
    seen,
    settled,
    type_in,
)


async def until(pilot: Pilot[None], holds: Callable[[], bool]) -> None:
    """Wait for what a later turn of the layout brings."""
    for _ in range(100):
        await settled(pilot)
        if holds():
            return
        await asyncio.sleep(0.02)
    raise AssertionError("it never came")


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


async def test_the_list_shows_every_motif_and_the_first_one_large(library: Path) -> None:
    async with running(library) as pilot:
        found = pilot.app.screen.query_one(MotifList)
        assert list(found.keys) == ["berry", "buoy", "gate", "hull", "life-ring", "sail"]
        shown = seen(pilot)
        assert "6 motifs" in shown
        assert "hedgerow, round" in shown
        assert "40 mm as drawn" in shown
        assert any(letter in "▖▗▘▙▚▛▜▝▞▟▀▄▌▐" for letter in shown)


async def test_moving_shows_the_next_motif_with_its_facts(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "end", "up")
        assert pilot.app.screen.query_one(MotifList).chosen == "life-ring"
        shown = seen(pilot)
        assert "rigid, 2 bridges" in shown
        assert "Wren & Tide, CC0-1.0" in shown


async def test_searching_narrows_as_it_is_typed(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "slash")
        await type_in(pilot, "tag:harbour/boats")
        assert list(pilot.app.screen.query_one(MotifList).keys) == ["hull", "sail"]
        assert "2 of 6 motifs" in seen(pilot)
        await press(pilot, "enter", "down")
        assert pilot.app.screen.query_one(MotifList).chosen == "sail"
        await press(pilot, "c")
        assert pilot.app.screen.query_one(MotifList).count == 6
        assert pilot.app.screen.query_one(MotifList).chosen == "sail"


async def test_letters_typed_in_the_search_are_no_actions(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "slash")
        await type_in(pilot, "qpc")
        assert ours(pilot).screen.query_one("#find").value == "qpc"
        assert ours(pilot).is_running


async def test_a_search_without_a_result_says_what_to_do(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "slash")
        await type_in(pilot, "walrus")
        shown = " ".join(line[:33].strip() for line in seen(pilot).splitlines())
        assert "Nothing matches walrus (starts of words in names" in shown
        assert "Keys: tag, hold," in shown
        assert "c in the list shows all motifs." in shown


async def test_a_search_that_cannot_be_understood_is_told_and_the_list_stays(
    library: Path,
) -> None:
    async with running(library) as pilot:
        await press(pilot, "slash")
        await pilot.press("quotation_mark")
        await type_in(pilot, "life ring")
        assert "A quotation mark is opened and not closed." in seen(pilot)
        assert pilot.app.screen.query_one(MotifList).count == 6


async def test_an_empty_library_says_how_to_begin(tmp_path: Path) -> None:
    async with running(tmp_path / "new" / "library.db") as pilot:
        assert "Your library is empty." in seen(pilot)
        assert "o adds the starter patterns" in seen(pilot)
        assert (tmp_path / "new" / "library.db").exists()


async def test_a_file_that_is_no_library_is_left_alone_and_told(tmp_path: Path) -> None:
    file = tmp_path / "notes.db"
    file.write_text("to do: buy card")
    async with running(file) as pilot:
        assert "notes.db" in seen(pilot)
        assert "not a" in " ".join(seen(pilot).split())
    assert file.read_text() == "to do: buy card"


async def test_only_rows_in_sight_are_read(tmp_path: Path) -> None:
    file = tmp_path / "large.db"
    with Library.open(file) as library, library.change("Many"):
        for number in range(400):
            library.add(replace(motifs()[number % 6], name=f"motif {number:03d}"))
    async with running(file) as pilot:
        found = pilot.app.screen.query_one(MotifList)
        assert found.count == 400
        assert len(found._rows) < 20
        await press(pilot, "end")
        assert "motif-399" in seen(pilot)
        assert len(found._rows) < 40


@pytest.mark.parametrize("ink", ["quadrants", "braille", "blocks", "ascii"])
async def test_drawings_use_what_the_terminal_has(library: Path, ink: str) -> None:
    async with running(library, user_settings=Settings(ink=ink)) as pilot:
        picture_view = pilot.app.screen.query_one(PictureView)
        drawn = "".join(picture_view.render_line(row).text for row in range(picture_view.rows))
        assert drawn.strip()
        kinds = {
            "quadrants": lambda letter: letter in " ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█",
            "braille": lambda letter: letter == " " or 0x2800 <= ord(letter) <= 0x28FF,
            "blocks": lambda letter: letter in " ▀▄█",
            "ascii": lambda letter: letter.isascii(),
        }
        assert all(map(kinds[ink], drawn))


async def test_no_colour_leaves_signs_that_tell_the_same(library: Path) -> None:
    async with running(library, colours=0) as pilot:
        line = pilot.app.screen.query_one(MotifList).render_line(0)
        assert line.text.startswith("▸")
        assert ours(pilot).theme == "hingeleaf-dark-16"


@pytest.mark.parametrize(("columns", "all_named"), [(80, True), (60, True), (40, False)])
async def test_the_head_names_every_place_or_at_least_its_key(
    library: Path, columns: int, all_named: bool
) -> None:
    async with running(library, size=(columns, 20)) as pilot:
        await press(pilot, "f6")
        head = seen(pilot).splitlines()[0]
        assert "F6  Workshop" in head
        assert all(f" F{number} " in head for number in range(2, 7))
        assert ("Trials" in head) is all_named


@pytest.mark.parametrize("ink", ["quadrants", "braille"])
async def test_the_legend_tells_what_is_drawn(library: Path, ink: str) -> None:
    async with running(library, user_settings=Settings(ink=ink)) as pilot:
        await press(pilot, "f12")
        shown = seen(pilot)
        assert "a bridge" in shown and "the fold line of a flap (dashed)" in shown
        assert ("the sheet" in shown) is (ink == "quadrants")
        await press(pilot, "escape")
        assert "6 motifs" in seen(pilot)


async def test_light_and_dark_change_in_place(library: Path) -> None:
    async with running(library) as pilot:
        dark = pilot.app.screen.query_one(Facts).render_line(0)
        await press(pilot, "f9")
        light = pilot.app.screen.query_one(Facts).render_line(0)
        assert ours(pilot).theme == "hingeleaf-light"
        assert next(iter(dark)).style != next(iter(light)).style


async def test_a_smaller_and_a_larger_terminal_are_filled(library: Path) -> None:
    async with running(library, size=(120, 40)) as pilot:
        assert pilot.app.screen.query_one(MotifList).row_height == 3
        await pilot.resize_terminal(80, 24)
        await settled(pilot)
        assert pilot.app.screen.query_one(MotifList).row_height == 2
        await pilot.resize_terminal(150, 40)
        await until(pilot, lambda: pilot.app.screen.query_one(MotifList).across == 4)
        await pilot.resize_terminal(10, 5)
        await settled(pilot)
        await until(pilot, lambda: seen(pilot).split()[:2] == ["Too", "small:"])
        await pilot.resize_terminal(80, 24)
        await until(pilot, lambda: "40 mm as drawn" in seen(pilot))


async def test_the_facts_show_sizes_as_a_bar_and_the_panels_that_use_the_motif(
    library: Path,
) -> None:
    with Library.open(library) as opened:
        opened.panels.save("hall", {}, [Placement("buoy", 1, Pose(0, 0, 0, 30))])
        opened.trials.record("buoy", "card-220", [(30.0, "held")])
        opened.trials.record("buoy", "card-220", [(45.0, "held")])
    async with running(library, size=(120, 36)) as pilot:
        await press(pilot, "home", "down")
        assert ours(pilot).screen.chosen == "buoy"
        shown = seen(pilot)
        assert "hall" in shown
        bar = next(line for line in shown.splitlines() if "card-220" in line and "━" in line)
        assert "from" in bar


def test_panels_with_a_motif_are_known_by_name(library: Path) -> None:
    with Library.open(library) as opened:
        opened.panels.save("hall", {}, [Placement("sail", 1, Pose(0, 0, 0, 30))] * 2)
        opened.panels.save("attic", {}, [Placement("sail", 1, Pose(0, 0, 0, 30))])
        assert opened.panels.with_motif("sail") == ["attic", "hall"]
        assert opened.panels.with_motif("gate") == []


async def test_the_contact_sheet_is_moved_over_both_ways_and_zoomed(library: Path) -> None:
    async with running(library, size=(150, 40)) as pilot:
        sheet = pilot.app.screen.query_one(MotifList)
        assert sheet.across == 4
        first = next(line for line in seen(pilot).splitlines() if "▸ berry" in line)
        assert first.split()[1:5] == ["berry", "buoy", "gate", "hull"]
        await press(pilot, "right", "down")
        assert ours(pilot).screen.chosen == "sail"
        assert "▸ sail" in seen(pilot)
        await press(pilot, "up", "up", "left")
        assert ours(pilot).screen.chosen == "berry"
        await press(pilot, "1")
        assert seen(pilot).count("●") == len(sheet.keys)
        await press(pilot, "z", "z", "z")
        assert sheet.across == 2 and "as large as they get" in seen(pilot)
        await press(pilot, *["v"] * 3)
        assert sheet.row_height == 3


async def test_only_what_is_visible_of_many_motifs_is_read(
    library: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    async with running(library, size=(150, 40)) as pilot:
        sheet = pilot.app.screen.query_one(MotifList)
        wanted: list[str] = []

        def read(library: Library, keys: tuple[str, ...], *_: object) -> dict[str, Row]:
            wanted.extend(keys)
            return {}

        monkeypatch.setattr(library_service, "motif_rows", read)
        monkeypatch.setattr(library_service, "motif_view", lambda *_: MotifView("", {}, ()))
        sheet.show([f"moth-{number:05}" for number in range(20_000)], "")
        await settled(pilot)
        sheet.cursor = 10_000
        await until(pilot, lambda: "moth-10000" in wanted)
        assert len(wanted) <= 3 * 4 * (sheet.page + 2)


async def test_a_motif_is_shown_folded_up(library: Path) -> None:
    with Library.open(library) as opened:
        flap = box(0, 0, 40, 40).difference(box(4, 4, 36, 40))
        opened.add(plain("hatch", flap, hold=HoldStyle.TONGUE))
    async with running(library) as pilot:
        pilot.app.screen.query_one(MotifList).choose("hatch")
        await press(pilot)
        flat = pilot.app.screen.query_one("#motif-picture", PictureView)._picture
        await press(pilot, "f8")
        folded = pilot.app.screen.query_one("#motif-picture", PictureView)._picture
        assert flat and folded
        face = STYLES.index("flap-face")
        assert 0 < (folded.back == face).sum() < (flat.back == face).sum()
        assert (folded.back == STYLES.index("paper-shade")).any()
