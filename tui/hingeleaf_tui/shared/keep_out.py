"""Sentences and data about keep-out areas."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from hingeleaf.field.specs import KeepOutPlace
    from hingeleaf.model import XY
    from hingeleaf.panel.recipe import Recipe

HOLES = {"border": "the opening", "letter": "a counter", "word": "a counter"}
"""The name of a hole, by kind of field."""
OPTIONS = "--cut-kept cuts it out, --keep-out-at moves it among the motifs."


def keep_out_sentences(recipe: Recipe) -> Iterator[str]:
    """One sentence for each keep-out, with other options."""
    from hingeleaf.field.specs import Where, places_of

    yield from unused_sentences(recipe, OPTIONS)
    for place in places_of(recipe.field, recipe.keep_outs):
        how = "cut out and " if recipe.cut_keep_outs else ""
        room = f"{_named(place)} is {how}kept free of motifs"
        if place.where is Where.INSIDE:
            yield f"{room}."
        elif place.where is Where.PARTLY:
            yield f"{room}; part of it is beyond the field's edge."
        elif recipe.cut_keep_outs:
            yield f"{_named(place)} is cut out {_beside_field(place, recipe)}."


def unused_sentences(recipe: Recipe, remedy: str) -> Iterator[str]:
    """One sentence for each keep-out that is not cut and has no effect on motifs."""
    from hingeleaf.field.specs import Where, places_of

    if recipe.cut_keep_outs:
        return
    for place in places_of(recipe.field, recipe.keep_outs):
        if place.where in (Where.HOLE, Where.OUTSIDE):
            where = _beside_field(place, recipe)
            yield f"{_named(place)} is {where}, where no motifs go, and is not cut: {remedy}"


def keep_out_data(recipe: Recipe, origin: XY) -> list[dict[str, Any]]:
    """JSON data; positions are mm from the sheet's top left corner, which is at `origin`."""
    from hingeleaf.field.specs import places_of

    return [
        {
            "text": place.text,
            "at_mm": [
                (place.bounds[0] + place.bounds[2]) / 2 - origin[0],
                (place.bounds[1] + place.bounds[3]) / 2 - origin[1],
            ],
            "size_mm": [*place.size],
            "where": str(place.where),
            "cut": recipe.cut_keep_outs,
        }
        for place in places_of(recipe.field, recipe.keep_outs)
    ]


def _named(place: KeepOutPlace) -> str:
    width, height = place.size
    return f"{place.text or 'The drawing'} ({width:.0f} mm by {height:.0f} mm)"


def _beside_field(place: KeepOutPlace, recipe: Recipe) -> str:
    from hingeleaf.field.specs import Where

    if place.where is Where.OUTSIDE:
        return "outside the field"
    kind = type(recipe.field).__name__.removesuffix("Spec").lower()
    return f"in {HOLES.get(kind, 'a hole of the field')}"
