"""Panels made by their recipes: what becomes of outlines and of what is kept free."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from hingeleaf.field.letters import Lettering
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import BorderSpec, KeepOutShape, KeepOutText, ShapeSpec
from hingeleaf.model import Card
from hingeleaf.panel.check import check
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.rebuild import make_panel
from hingeleaf.panel.recipe import Recipe
from hingeleaf.session import make_field

CARD = Card("ivory", 220, 0.28, 1.5, 1.0)
OVAL = Recipe(ShapeSpec(Outline.OVAL, (180.0, 120.0)), CARD)
NAMED = replace(OVAL, keep_outs=(KeepOutText("Nora", Lettering(30.0)),))
DROP = shapely.MultiPolygon([shapely.Point(0, 0).buffer(9)])


def panel_of(recipe: Recipe) -> Panel:
    return make_panel("keepsake", recipe, make_field(recipe), [], {})


def test_an_outline_is_cut_marked_or_left_out() -> None:
    """Half the girth of an ellipse 180 by 120 mm is 237.9 mm (Ramanujan's approximation)."""
    girth = 2 * 237.9
    plain = panel_of(OVAL)
    assert plain.cuts.slits.is_empty and plain.guides.is_empty
    cut = panel_of(replace(OVAL, cut_outline=True))
    assert 0.85 * girth < cut.cuts.slits.length < girth and check(cut).holds
    marked = panel_of(replace(OVAL, mark_outline=True))
    assert marked.cuts.slits.is_empty
    assert marked.guides.length == pytest.approx(girth, rel=1e-3)


def test_a_name_that_is_kept_free_is_cut_only_where_asked_for() -> None:
    assert panel_of(NAMED).lettering.is_empty
    stencil = panel_of(replace(NAMED, cut_keep_outs=True))
    left, top, right, bottom = stencil.lettering.bounds
    assert (left + right) / 2 == pytest.approx(90, abs=1) and bottom - top == pytest.approx(30, 0.1)


def test_the_counters_of_a_stencil_are_tied() -> None:
    """The o and the a of Nora have one counter each, which would fall out untied."""
    report = check(panel_of(replace(NAMED, cut_keep_outs=True)))
    assert report.holds and report.loose_parts == 0


def test_a_drawing_that_is_kept_free_can_be_cut_too() -> None:
    recipe = replace(
        OVAL, keep_outs=(KeepOutShape(DROP, 30.0, 3.0, (60.0, 60.0)),), cut_keep_outs=True
    )
    lettering = panel_of(recipe).lettering
    assert lettering.bounds == pytest.approx((45, 45, 75, 75), abs=0.1)


def test_in_a_raised_opening_a_name_is_cut_in_its_middle() -> None:
    border = BorderSpec((200.0, 160.0), (140.0, 90.0), raised=15.0)
    panel = panel_of(replace(NAMED, field=border, cut_keep_outs=True))
    left, top, right, bottom = panel.lettering.bounds
    middle = (left + right) / 2, (top + bottom) / 2
    assert middle == pytest.approx((100, 65), abs=1)
    assert panel.field.area.equals(border.build().area), "no motif has to make room"
