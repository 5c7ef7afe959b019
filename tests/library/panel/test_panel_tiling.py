"""Seams that are kept free when tiling is asked before filling."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from hingeleaf.errors import UsageError
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import ShapeSpec
from hingeleaf.panel.recipe import Recipe, recipe_from_data, recipe_to_data
from hingeleaf.panel.tiling import fits
from hingeleaf.session import make_field

RECIPE = Recipe(ShapeSpec(Outline.RECTANGLE, (300.0, 200.0)), tile=(210.0, 297.0))


def test_the_middle_of_the_sheet_is_kept_free_where_one_seam_is_needed():
    plain, field = make_field(replace(RECIPE, tile=None)), make_field(RECIPE)
    free = plain.area.difference(field.area)
    left, top, right, bottom = free.bounds
    assert (left + right) / 2 == pytest.approx(plain.area.centroid.x) and right - left < 2
    assert (top, bottom) == plain.area.bounds[1::2]
    assert field.outline == plain.outline
    small = replace(RECIPE, field=ShapeSpec(Outline.RECTANGLE, (150.0, 200.0)))
    assert shapely.equals(make_field(small).area, make_field(replace(small, tile=None)).area)


def test_both_seams_of_four_sheets_are_kept_free():
    """Strips a millimetre wide, along the middle of what the sheets share."""
    recipe = replace(RECIPE, field=ShapeSpec(Outline.RECTANGLE, (300.0, 400.0)))
    plain, field = make_field(replace(recipe, tile=None)), make_field(recipe)
    left, top, right, bottom = plain.area.bounds
    x, y = (left + right) / 2, (top + bottom) / 2
    cross = shapely.union(
        shapely.box(x - 0.5, top, x + 0.5, bottom), shapely.box(left, y - 0.5, right, y + 0.5)
    )
    assert shapely.symmetric_difference(plain.area.difference(field.area), cross).area < 1e-6


def test_a_panel_fits_a_sheet_upright_or_turned_and_not_by_a_millimetre_more():
    assert fits((297.0, 210.0), (210.0, 297.0)) and fits((210.0, 297.0), (210.0, 297.0))
    assert not fits((297.0, 210.9), (210.0, 297.0)) and not fits((297.9, 210.0), (210.0, 297.0))


def test_it_stands_in_the_recipe_only_where_it_is_asked():
    assert recipe_from_data(recipe_to_data(RECIPE)) == RECIPE
    assert "tile" not in recipe_to_data(replace(RECIPE, tile=None))
    with pytest.raises(UsageError, match="overlap"):
        make_field(replace(RECIPE, tile=(15.0, 15.0)))
