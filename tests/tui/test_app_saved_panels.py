"""The list of saved panels: what is removed there, what brings it back, and what that means."""

from __future__ import annotations

from pathlib import Path

import pytest

from hingeleaf.catalogue.store import Library
from hingeleaf.panel.recipe import recipe_from_data
from hingeleaf_tui import panel_session, settings
from hingeleaf_tui.screens.dialogs import QuestionDialog
from hingeleaf_tui.screens.export import ExportScreen
from hingeleaf_tui.screens.panel import PanelScreen
from hingeleaf_tui.screens.saved_panels import SavedPanels
from hingeleaf_tui.widgets.text_list import TextList
from support.app_pilot import laid, make_library, ours, press, running, seen, type_in


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """Three panels are kept in it."""
    library = make_library(tmp_path)
    with Library.open(library) as opened:
        for name in ("maud", "nora", "wren"):
            panel_session.save(opened, name, laid(library))
    return library


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")


def kept(library: Path) -> set[str]:
    with Library.open(library) as opened:
        return {row.name for row in opened.panels.all()}


async def test_a_panel_is_removed_after_asking_and_brought_back(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "o")
        assert "d Remove" in seen(pilot)
        await press(pilot, "down", "d")
        assert isinstance(pilot.app.screen, QuestionDialog)
        assert "Remove the panel nora?" in seen(pilot)
        await press(pilot, "n")
        assert kept(library) == {"maud", "nora", "wren"}
        await press(pilot, "d", "y")
        assert kept(library) == {"maud", "wren"}
        assert "Removed nora. u restores it." in seen(pilot)
        panels = pilot.app.screen.query_one(TextList)
        assert panels.chosen and panels.chosen.key == "maud", "the one below"
        await press(pilot, "u")
        assert "Undone: Remove panel nora." in seen(pilot)
        assert panels.chosen and panels.chosen.key == "nora"
        await press(pilot, "enter")
        assert ours(pilot).services.panel.name == "nora"
    assert kept(library) == {"maud", "nora", "wren"}


async def test_typing_narrows_the_list_and_removes_nothing(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "o", "slash")
        await type_in(pilot, "dud")
        assert isinstance(pilot.app.screen, SavedPanels)
        await press(pilot, "down", "delete", "d")
        assert "There is no panel to remove." in seen(pilot)
    assert kept(library) == {"maud", "nora", "wren"}


async def test_an_empty_list_says_what_to_do(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "o")
        for _ in range(3):
            await press(pilot, "d", "y")
        assert "No panel is saved yet. s saves a filled one." in seen(pilot)
        assert not kept(library)
        await press(pilot, "d")
        assert "There is no panel to remove." in seen(pilot)
        await press(pilot, "u", "u", "u")
        assert kept(library) == {"maud", "nora", "wren"}


async def test_a_panel_on_the_bench_counts_as_unsaved_once_it_is_removed(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "o", "enter")
        assert not ours(pilot).services.panel.unsaved
        await press(pilot, "o", "d", "y")
        assert ours(pilot).services.panel.unsaved
        await press(pilot, "u")
        assert not ours(pilot).services.panel.unsaved
        await press(pilot, "d", "y", "escape", "q")
        assert "The panel is neither saved nor exported." in seen(pilot)


async def test_another_panel_of_that_name_is_only_replaced_where_that_is_wanted(
    library: Path,
) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "o", "enter")
        assert ours(pilot).services.panel.name == "wren"
        ours(pilot).services.panel.set_result(laid(library, seed=7))
        for answer in ("n", "y"):
            await press(pilot, "s")
            await pilot.press("delete")
            await type_in(pilot, "Nora")
            await press(pilot, "enter")
            assert "Another panel is already saved as nora." in seen(pilot)
            await press(pilot, answer)
            if answer == "n":
                await press(pilot, "escape")
            with Library.open(library) as opened:
                seed = recipe_from_data(opened.panels.get("nora").recipe).rules.seed
            assert seed == (7 if answer == "y" else 1)
        assert "Saved as nora" in seen(pilot)
        await press(pilot, "s", "enter")
        assert "Saved as nora" in seen(pilot), "its own name asks nothing"


async def test_another_panel_on_the_bench_is_not_touched(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "o", "enter", "o", "down", "d", "y")
        assert len(kept(library)) == 2
        assert not ours(pilot).services.panel.unsaved


async def test_a_panel_that_is_gone_already_is_told_in_the_list(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "o")
        with Library.open(library) as other:
            other.panels.remove("wren")
        await press(pilot, "d", "y")
        assert "No panel is called 'wren'." in seen(pilot)


async def test_the_facts_of_a_motif_follow(library: Path) -> None:
    async with running(library, size=(120, 40)) as pilot:
        await press(pilot, "down")
        assert "maud, nora, wren" in seen(pilot)
        await press(pilot, "f4", "o", "d", "y", "escape", "f2")
        assert "maud, nora" in seen(pilot) and "wren" not in seen(pilot)


async def test_a_check_that_ends_late_says_nothing_of_another_panel(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "o", "enter")
        session, screen = ours(pilot).services.panel, pilot.app.screen
        assert isinstance(screen, PanelScreen)
        before, reviewed = session.filled, session.reviewed
        assert before and reviewed
        session.set_result(laid(library, seed=4))
        screen._reviewed(before, reviewed)
        assert session.reviewed is None
        await press(pilot, "x")
        assert session.reviewed is not None
        assert isinstance(pilot.app.screen, ExportScreen)
