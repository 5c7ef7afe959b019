"""Rebuild panels from their recipes; convert between field and sheet coordinates.

Recipes and placements are relative to the corner of the field's box, positions typed by the user
to that of the sheet.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import shapely
from shapely import MultiPolygon

from hingeleaf.errors import CatalogueError
from hingeleaf.field.specs import KeepOutText, with_middle
from hingeleaf.geometry.members import windows_of
from hingeleaf.model import NO_WINDOWS, XY, Card, Field, Motif, Placement
from hingeleaf.panel.compose import Panel, compose, sheet_around
from hingeleaf.panel.recipe import Recipe, recipe_from_data

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library


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


def make_panel(
    name: str,
    recipe: Recipe,
    field: Field,
    placements: Sequence[Placement],
    motifs: Mapping[str, Motif],
    *,
    card: Card | None = None,
) -> Panel:
    """The panel of a recipe and its placements; raises what `compose` raises.

    `card` replaces the card that it was made for.
    """
    return compose(
        name,
        field,
        placements,
        motifs,
        card or recipe.card,
        sheet=recipe.sheet,
        cut_outline=recipe.cut_outline,
        mark_outline=recipe.mark_outline,
        stencil=stencil_of(recipe, field),
        widen=any(isinstance(each, KeepOutText) and each.fit for each in recipe.keep_outs),
        frame=recipe.frame,
        margin=recipe.margin,
        gap=recipe.rules.gap,
        spec=recipe.field,
    )


def stencil_of(recipe: Recipe, field: Field) -> MultiPolygon:
    """The keep-outs to be cut out, before their counters are tied."""
    if not recipe.cut_keep_outs:
        return NO_WINDOWS
    keep_outs = [with_middle(each, recipe.field) for each in recipe.keep_outs]
    return windows_of(shapely.union_all([each.shape_in(field) for each in keep_outs]))


def rebuild_panel(library: Library, name: str, *, card: Card | None = None) -> Panel:
    """The panel saved under that name, each motif in the revision that was placed.

    `card` replaces the card that it was made for.
    Raises UnknownNameError if there is none, CatalogueError if it was saved without its field.
    """
    saved = library.panels.get(name)
    if saved.field is None:
        raise CatalogueError(f"Panel {saved.name} was saved without its field.", "Fill it again.")
    revisions = {each.motif: each.revision for each in saved.placements}
    motifs = {motif: library.motif(motif, revision) for motif, revision in revisions.items()}
    recipe = recipe_from_data(saved.recipe)
    return make_panel(saved.name, recipe, saved.field, saved.placements, motifs, card=card)
