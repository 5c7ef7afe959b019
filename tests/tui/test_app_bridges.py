"""Bridges edited by hand: every edit is seen at once, can be taken back, and is kept when told."""

from __future__ import annotations

from pathlib import Path

import pytest
from textual.pilot import Pilot

from hingeleaf.catalogue.store import Library
from hingeleaf.model import HoldStyle
from hingeleaf_tui.screens.bridges import BridgesScreen
from hingeleaf_tui.screens.dialogs import QuestionDialog
from hingeleaf_tui.widgets.picture_view import PictureView
from support.app_pilot import make_library, ours, press, running, seen


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


async def open_life_ring(pilot: Pilot[None]) -> BridgesScreen:
    await press(pilot, "end", "up", "enter")
    screen = pilot.app.screen
    assert isinstance(screen, BridgesScreen)
    return screen


def bridges(screen: BridgesScreen) -> list[tuple[float, float, float, float]]:
    assert screen.now is not None
    return [(*bridge.at, bridge.direction, bridge.width) for bridge in screen.now.motif.bridges]


async def test_a_motif_is_opened_with_what_its_paper_does(library: Path) -> None:
    async with running(library) as pilot:
        await open_life_ring(pilot)
        shown = seen(pilot)
        assert "all hold" in shown
        assert "rigid" in shown
        assert "nothing lifts" in shown
        assert "5 mm wide" in shown
        assert " 1 " in "".join(
            pilot.app.screen.query_one(PictureView).render_line(row).text for row in range(18)
        )


async def test_edits_are_made_taken_back_and_made_again(library: Path) -> None:
    async with running(library) as pilot:
        screen = await open_life_ring(pilot)
        begun = bridges(screen)
        await press(pilot, "right")
        moved = bridges(screen)
        assert moved[0][:2] != begun[0][:2]
        assert moved[1] == begun[1]
        await press(pilot, "plus")
        assert bridges(screen)[0][3] == 5.5
        await press(pilot, "down", "minus")
        assert bridges(screen)[1][3] == 4.5
        await press(pilot, "u", "u", "u")
        assert bridges(screen) == begun
        await press(pilot, "y")
        assert bridges(screen) == moved


async def test_a_bridge_taken_away_leaves_the_middle_on_one_and_then_on_none(
    library: Path,
) -> None:
    async with running(library) as pilot:
        screen = await open_life_ring(pilot)
        await press(pilot, "d")
        assert len(bridges(screen)) == 1
        assert "all hold" in seen(pilot)
        await press(pilot, "d")
        assert "1 falls out" in seen(pilot)
        assert "a adds one" in seen(pilot)
        await press(pilot, "m")
        assert "The motif has no bridge." in seen(pilot)
        await press(pilot, "r")
        assert "all hold" in seen(pilot)
        assert bridges(screen)


async def test_a_bridge_is_added_where_the_cross_is_set(library: Path) -> None:
    async with running(library) as pilot:
        screen = await open_life_ring(pilot)
        await press(pilot, "a")
        await press(pilot, "d")  # letters do nothing while aiming
        assert len(bridges(screen)) == 2
        await press(pilot, *["right"] * 14, *["down"] * 14, "enter")
        assert len(bridges(screen)) == 3
        x, y, _, _ = bridges(screen)[2]
        assert x > 8
        assert abs(y) < 8
        await press(pilot, "a", "c")
        assert len(bridges(screen)) == 3
        assert screen.aim is None


async def test_flaps_hinge_on_the_side_that_is_pointed_at(library: Path) -> None:
    async with running(library) as pilot:
        screen = await open_life_ring(pilot)
        await press(pilot, "h", "right", "enter")
        assert min(x for x, *_ in bridges(screen)) < 0
        await press(pilot, "less_than_sign", *["right"] * 30, "enter")
        assert screen.now is not None and screen.now.motif.hold is HoldStyle.DOOR
        assert min(x for x, *_ in bridges(screen)) > 0


async def test_hold_styles_are_explained_and_bridges_planned_in_one(library: Path) -> None:
    async with running(library) as pilot:
        screen = await open_life_ring(pilot)
        await press(pilot, "h")
        assert "1  rigid" in seen(pilot) and "Nothing lifts" in seen(pilot)
        assert "2  door" in seen(pilot) and "hinges along one" in seen(pilot)
        for example in pilot.app.screen.items:
            assert example.paper.motif.hold is example.hold
            assert bool(example.paper.hinges.hinges) is example.hold.lifts
        await press(pilot, "right", "enter")
        assert screen.now is not None
        assert screen.now.motif.hold is HoldStyle.DOOR


async def test_a_bridge_narrower_than_the_card_allows_is_refused(library: Path) -> None:
    async with running(library) as pilot:
        screen = await open_life_ring(pilot)
        await press(pilot, *["minus"] * 9)
        assert "narrower than the card's least web" in seen(pilot)
        assert screen.now is not None
        assert min(width for *_, width in bridges(screen)) >= screen.now.card.least_web


async def test_a_smaller_size_tells_what_gives_way(library: Path) -> None:
    async with running(library) as pilot:
        await open_life_ring(pilot)
        before = seen(pilot)
        await press(pilot, *["7"] * 8)
        after = seen(pilot)
        assert "drawn 40 mm" in after
        assert after != before
        await press(pilot, "0")
        assert "40 mm as drawn" in seen(pilot)


async def test_looking_closer_and_beside(library: Path) -> None:
    async with running(library) as pilot:
        screen = await open_life_ring(pilot)
        whole = seen(pilot)
        await press(pilot, "z", "z")
        close = seen(pilot)
        assert close != whole
        await press(pilot, "6")
        assert seen(pilot) != close
        await press(pilot, "v", "v", "v")
        assert screen.now is not None
        assert seen(pilot) == whole


async def test_kept_bridges_are_in_the_library_as_a_new_revision(library: Path) -> None:
    async with running(library) as pilot:
        screen = await open_life_ring(pilot)
        await press(pilot, "right", "s")
        assert "Saved as revision 2" in seen(pilot)
        assert not screen.unsaved
        await press(pilot, "s")
        assert "Nothing was changed." in seen(pilot)
        for key in ("u", "s", "y", "s"):
            await press(pilot, key)
        assert "Saved as revision 4" in seen(pilot)
        wanted = bridges(screen)
    with Library.open(library) as opened:
        motif = opened.motif("life-ring")
    assert motif.revision == 4
    assert [bridge.width for bridge in motif.bridges] == [width for *_, width in wanted]


async def test_a_change_made_elsewhere_is_not_written_over(library: Path) -> None:
    async with running(library) as pilot:
        screen = await open_life_ring(pilot)
        await press(pilot, "right")
        with Library.open(library) as other:
            other.tags.change(["life-ring"], add=["rescue"])
        await press(pilot, "s")
        assert "changed elsewhere" in seen(pilot)
        assert screen.unsaved
    with Library.open(library) as opened:
        assert opened.motif("life-ring").revision == 1


async def test_leaving_with_unsaved_bridges_asks(library: Path) -> None:
    async with running(library) as pilot:
        await open_life_ring(pilot)
        await press(pilot, "right", "q")
        assert isinstance(pilot.app.screen, QuestionDialog)
        await press(pilot, "n")
        assert isinstance(pilot.app.screen, BridgesScreen)


async def test_edited_bridges_are_still_there_after_looking_at_another_motif(
    library: Path,
) -> None:
    async with running(library) as pilot:
        screen = await open_life_ring(pilot)
        await press(pilot, "right")
        edited = bridges(screen)
        await press(pilot, "f2", "home", "enter")
        assert screen.now.motif.name == "berry"
        await press(pilot, "f2", "end", "up", "enter")
        assert screen.now.motif.name == "life-ring"
        assert bridges(screen) == edited
        await press(pilot, "u")
        assert not screen.unsaved


async def test_without_a_motif_the_screen_says_what_to_do(tmp_path: Path) -> None:
    async with running(tmp_path / "empty.db") as pilot:
        await press(pilot, "f3")
        assert "Choose a motif first" in " ".join(seen(pilot).split())
        for key in ("right", "a", "s", "h", "u", "7", "z"):
            await press(pilot, key)
        assert ours(pilot).is_running
