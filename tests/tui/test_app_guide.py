"""Being shown round, keys of one's own, two panels side by side, and faults of the program."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from hingeleaf import starter
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf_tui import actions, panel_session, settings
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.screens.guide import STEPS, Tour
from hingeleaf_tui.screens.motif_choices import PlansScreen
from hingeleaf_tui.screens.panel_choices import VariantsScreen
from support.app_pilot import laid, make_library, ours, press, running, seen, type_in


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


@pytest.fixture(autouse=True)
def own_places(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    monkeypatch.setattr(settings, "log_file", lambda: tmp_path / "log" / "hingeleaf.log")


async def test_the_tour_goes_through_every_screen_and_back(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f7")
        for number, step in enumerate(STEPS):
            assert isinstance(pilot.app.screen, Tour)
            assert step.title in seen(pilot)
            assert getattr(pilot.app.screen_stack[-2], "PLACE", "") == step.screen
            assert "{" not in seen(pilot)
            await press(pilot, "enter" if number % 2 else "space")
        assert getattr(pilot.app.screen, "PLACE", "") == "motifs"


async def test_an_empty_library_offers_the_tour_with_the_starter_patterns(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    few = starter.patterns()[:6]
    monkeypatch.setattr(starter, "patterns", lambda: few)
    async with running(tmp_path / "new.db") as pilot:
        assert "F7 takes you on a tour" in seen(pilot)
        await press(pilot, "f7", "enter")
        assert isinstance(pilot.app.screen, Tour)
        shown = seen(pilot)
        assert "2 of 5: Bridges" in shown
        assert "acorn on card-220." in shown, "the screen behind shows what the tour speaks of"
        assert "a Add" in shown.splitlines()[-2]
        await press(pilot, "escape")
        assert "a Add" in seen(pilot).splitlines()[-2]
        await press(pilot, "f2")
        assert ours(pilot).get_screen("motifs").motifs.count == len(few)


async def test_a_key_is_changed_on_the_workshop_screen(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f6", "l")
        await type_in(pilot, "filter the list by")
        await press(pilot, "enter")
        await type_in(pilot, "t")
        await press(pilot, "enter")
        assert "t is taken" in seen(pilot)
        await press(pilot, "backspace")
        await type_in(pilot, "w")
        await press(pilot, "enter")
        assert settings.read().keys == {"motifs.narrow": "w"}
        await press(pilot, "f2")
        assert "w By tag" in seen(pilot)
        await press(pilot, "f6")
        await press(pilot, "f2", "w")
        assert "Show the motifs with the tag" in seen(pilot)


@pytest.mark.parametrize("key", ["", "ctrl+a", "ab", "f13"])
def test_keys_that_do_not_pass_everywhere_are_refused(key: str) -> None:
    with pytest.raises(UsageError, match="as a key"):
        actions.check_key("motifs.narrow", key, {})


def test_punctuation_is_taken_by_its_sign() -> None:
    assert actions.check_key("motifs.narrow", "+", {}) == "plus"


@pytest.mark.parametrize("size", [(80, 24), (140, 40)])
async def test_figures_of_two_panels_stand_in_the_same_lines(
    library: Path, size: tuple[int, int]
) -> None:
    """However long a field's description is."""
    wide = laid(library)
    field = replace(wide.field, label="rounded 254 mm by 203.2 mm around 190 mm by 110 mm")
    with Library.open(library) as opened:
        panel_session.save(opened, "hall", replace(wide, field=field))
    async with running(library, size=size) as pilot:
        await press(pilot, "f4")
        ours(pilot).services.panel.set_result(laid(library, seed=4))
        await press(pilot, "l", "enter")
        lines = seen(pilot).splitlines()
        for label in ("Covered", "Motifs", "Field", "Seed"):
            assert max(line.count(f"{label} ") for line in lines[2:-2]) == 2, label


async def test_two_panels_are_compared_with_figures(library: Path) -> None:
    with Library.open(library) as opened:
        panel_session.save(opened, "hall", laid(library, seed=9))
    async with running(library, size=(120, 36)) as pilot:
        await press(pilot, "f4", "l")
        assert "nothing to compare" in seen(pilot)
        ours(pilot).services.panel.set_result(laid(library, seed=4))
        await press(pilot, "l", "enter")
        shown = seen(pilot).split()
        assert {"9", "4", "hall", "(here)"} <= set(shown)
        await press(pilot, "escape")
        assert getattr(pilot.app.screen, "PLACE", "") == "panel"


async def test_the_plans_of_a_motif_are_paged_through_and_one_is_kept(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "slash")
        await type_in(pilot, "ring")
        await press(pilot, "enter", "b", "l")
        tray = pilot.app.screen
        assert isinstance(tray, PlansScreen)
        holds = [str(plan.hold) for plan in tray.items]
        assert len(holds) >= 2 and len(set(holds)) == len(holds)
        for number, hold in enumerate(holds[:2], 1):
            assert f"{number}  {hold}" in seen(pilot)
        await press(pilot, *["right"] * (len(holds) + 1), "left")
        assert f"▸{len(holds) - 1}  {holds[-2]}" in seen(pilot)
        await press(pilot, "enter")
        now = pilot.app.screen.now
        assert now.motif.bridges == tray.items[len(holds) - 2].motif.bridges
        assert str(now.motif.hold) == holds[-2]
        await press(pilot, "u")
        assert len(pilot.app.screen.now.motif.bridges) == 2
        assert not pilot.app.screen.unsaved


async def test_variants_are_filled_one_after_another_and_one_is_kept(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        session = ours(pilot).services.panel
        for key, text in (("height", "60"), ("budget", "draft"), ("smallest", "14")):
            session.change_recipe(recipe_form.with_value(session.recipe, key, text), "recipe")
        await press(pilot, "5")
        tray = pilot.app.screen
        assert isinstance(tray, VariantsScreen)
        assert [each.recipe.rules.seed for each in tray.items] == [1, 2, 3, 4]
        await press(pilot, "right", "enter")
        assert session.recipe.rules.seed == 2
        assert session.placements == tray.items[1].filling.placements
        assert session.reviewed is not None and not session.is_stale
        await press(pilot, "u")
        assert session.filled is None and session.recipe.rules.seed == 1


async def test_a_fault_of_the_program_keeps_the_work_and_names_the_log(
    library: Path, tmp_path: Path
) -> None:
    with pytest.raises(ZeroDivisionError):
        async with running(library) as pilot:
            app = ours(pilot)
            app.services.panel.set_result(laid(library))
            await press(pilot, "end", "up", "b")
            while app.screen.PLACE != "bridges":
                await pilot.pause()
            told = []
            app.call_later(lambda: 1 // 0)
            show = app._print_error_renderables

            def note() -> None:
                told.extend(app._exit_renderables)
                show()

            app._print_error_renderables = note
            await pilot.pause()
    assert app.return_code == 1
    message = " ".join(str(told[0]).split())
    assert "Start Hingeleaf again to continue with your unsaved work." in message
    log = tmp_path / "log" / "hingeleaf.log"
    assert str(log) in message.replace(" ", "") or str(log) in message
    async with running(library) as pilot:
        await press(pilot, "y")
        assert ours(pilot).services.panel.placements == laid(library).filling.placements
