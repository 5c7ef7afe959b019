"""Convert between field coordinates and mm from the sheet's top left corner.

Recipes and placements are relative to the corner of the field's box; people measure on the sheet.
"""

from dataclasses import replace

from hingeleaf.model import XY, Field
from hingeleaf.panel.compose import sheet_around
from hingeleaf.panel.recipe import Recipe


def corner_of(recipe: Recipe, field: Field) -> XY:
    """The top left corner of the sheet around a field of that recipe, in the field's coordinates.

    Raises UsageError for a sheet without area.
    """
    left, top, _, _ = sheet_around(field, recipe.sheet, recipe.margin).bounds
    return left, top


def move_keep_outs(recipe: Recipe, place: XY | None) -> Recipe:
    """The recipe with its keep-outs centred on a point of the sheet, or at their default.

    The sheet is the one around the field without keep-outs. Raises what `build_field` raises.
    """
    if place is None or not recipe.keep_outs:
        middle = None
    else:
        left, top = _whole_corner(recipe)
        middle = place[0] + left, place[1] + top
    moved = tuple(replace(each, middle=middle) for each in recipe.keep_outs)
    return replace(recipe, keep_outs=moved)


def keep_outs_at(recipe: Recipe) -> XY | None:
    """The point of the sheet on which the keep-outs are centred. Raises what `build_field`
    raises."""
    middle = recipe.keep_outs[0].middle if recipe.keep_outs else None
    if middle is None:
        return None
    left, top = _whole_corner(recipe)
    return middle[0] - left, middle[1] - top


def _whole_corner(recipe: Recipe) -> XY:
    return corner_of(recipe, recipe.field.build(recipe.outlined))
