"""What is kept free stands where a ruler on the cut sheet says."""

from __future__ import annotations

from dataclasses import replace

import pytest
from shapely import MultiPolygon, Point, box

from hingeleaf.errors import FieldError
from hingeleaf.field.letters import Lettering
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import (
    BorderSpec,
    FieldSpec,
    KeepOutShape,
    KeepOutText,
    LetterSpec,
    OutlineSpec,
    ShapeSpec,
)
from hingeleaf.model import Card
from hingeleaf.panel.rebuild import corner_of, keep_outs_at, make_panel, move_keep_outs
from hingeleaf.panel.recipe import Recipe, recipe_from_data, recipe_to_data
from hingeleaf.session import make_field

CARD = Card("ivory", 220, 0.28, 1.5, 1.0)
DROP = KeepOutShape(MultiPolygon([Point(0, 0).buffer(9)]), 10.0, margin=1.0)
PLATE = OutlineSpec(MultiPolygon([box(0, 0, 160, 120)]), margin=8.0)
FIELDS = [
    ShapeSpec(Outline.OVAL, (160.0, 120.0)),
    BorderSpec((160.0, 120.0), (90.0, 60.0), raised=5.0),
    LetterSpec("B", Lettering(120.0)),
    PLATE,
]


@pytest.mark.parametrize("spec", FIELDS)
@pytest.mark.parametrize("sheet", [None, (210.0, 148.0)])
@pytest.mark.parametrize("cut_outline", [False, True])
def test_a_place_is_measured_from_the_corner_of_the_sheet(
    spec: FieldSpec, sheet: tuple[float, float] | None, cut_outline: bool
) -> None:
    recipe = Recipe(spec, CARD, keep_outs=(DROP,), cut_keep_outs=True)
    recipe = move_keep_outs(replace(recipe, sheet=sheet, cut_outline=cut_outline), (60, 45))
    panel = make_panel("keepsake", recipe, make_field(recipe), [], {})
    left, top = panel.origin
    middle = panel.lettering.centroid
    assert (middle.x - left, middle.y - top) == pytest.approx((60, 45), abs=1e-6)
    assert corner_of(recipe, panel.field) == panel.origin
    assert keep_outs_at(recipe) == pytest.approx((60, 45))
    assert recipe_from_data(recipe_to_data(recipe)) == recipe


def test_all_that_is_kept_free_goes_there_and_back_to_where_it_is_by_itself() -> None:
    kept = (DROP, KeepOutText("Nora", Lettering(20.0)))
    recipe = Recipe(FIELDS[1], CARD, keep_outs=kept)
    moved = move_keep_outs(recipe, (40, 30))
    assert [each.middle for each in moved.keep_outs] == [(25, 15), (25, 15)]
    assert move_keep_outs(moved, None) == recipe
    assert keep_outs_at(recipe) is None


def test_where_nothing_is_kept_free_a_place_changes_nothing() -> None:
    recipe = Recipe(PLATE, CARD)
    assert move_keep_outs(recipe, (40, 30)) == recipe
    assert keep_outs_at(recipe) is None


def test_without_a_field_there_is_no_sheet_to_measure_on() -> None:
    nothing = Recipe(OutlineSpec(MultiPolygon()), CARD, keep_outs=(replace(DROP, middle=(9, 9)),))
    with pytest.raises(FieldError, match="encloses no area"):
        keep_outs_at(nothing)
    with pytest.raises(FieldError, match="encloses no area"):
        move_keep_outs(nothing, (40, 30))
