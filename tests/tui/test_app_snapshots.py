"""How each screen looks, at the smallest and at a roomy size."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from textual.pilot import Pilot

from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import ShapeSpec, build_field
from hingeleaf.model import Placement, Pose
from hingeleaf_tui import panel_session, settings
from hingeleaf_tui.app import Hingeleaf
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.settings import Settings
from hingeleaf_tui.terminal import TRUE_COLOUR, Terminal
from support.app_pilot import SHARED, make_library, motifs, ours, press, settled

Compare = Callable[..., bool]
SIZES = [(80, 24), (140, 40)]


@pytest.fixture
def app(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Hingeleaf:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path)
    look = Terminal(TRUE_COLOUR, "braille", remote=False)
    return Hingeleaf(make_library(tmp_path), look=look, user_settings=Settings(), worker=SHARED)


def laid() -> panel_session.PanelFilling:
    """Five motifs in a heart, one of them pinned, placed by hand so that nothing is computed."""
    recipe = recipe_form.with_value(recipe_form.default_recipe(), "kind", "shape")
    spec = recipe.field
    assert isinstance(spec, ShapeSpec)
    assert spec.shape is Outline.HEART
    places = [
        ("buoy", 60, 70, 0, 40),
        ("sail", 140, 75, 10, 45),
        ("gate", 100, 130, 0, 44),
        ("life-ring", 55, 125, 0, 36),
        ("hull", 105, 185, -8, 40),
    ]
    placements = [
        Placement(name, 1, Pose(x, y, turn, size), pinned=name == "gate")
        for name, x, y, turn, size in places
    ]
    known = {motif.name: motif for motif in motifs()}
    return panel_session.from_placements(recipe, build_field(spec), known, placements)


async def at_motifs(pilot: Pilot[Any]) -> None:
    await settled(pilot)
    await press(pilot, "end", "up")


async def at_bridges(pilot: Pilot[Any]) -> None:
    await at_motifs(pilot)
    await press(pilot, "enter")


async def at_panel(pilot: Pilot[Any]) -> None:
    await settled(pilot)
    await press(pilot, "f4")
    filled = laid()
    ours(pilot).services.panel.change_recipe(filled.recipe, "recipe")
    screen = pilot.app.screen
    screen._show_recipe()
    screen._filled(filled)
    await settled(pilot)


async def at_help(pilot: Pilot[Any]) -> None:
    await settled(pilot)
    await press(pilot, "f1")


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
@pytest.mark.parametrize("go", [at_motifs, at_bridges, at_panel, at_help])
def test_the_screen_looks_as_it_did(
    app: Hingeleaf, snap_compare: Compare, size: tuple[int, int], go: Callable[..., Any]
) -> None:
    assert snap_compare(app, terminal_size=size, run_before=go)
