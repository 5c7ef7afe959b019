"""Sentences about names and drawings that motifs keep away from."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from hingeleaf.field.keep_out_places import KeepOutPlace
    from hingeleaf.model import XY
    from hingeleaf.panel.recipe import Recipe

HOLES = {"border": "the opening", "letter": "a counter", "word": "a counter"}
"""What a hole is called in a field of some kind."""
OPTIONS = "--cut-kept cuts it out, --keep-out-at moves it among the motifs."


def kept_sentences(recipe: Recipe) -> Iterator[str]:
    """One sentence for each thing that is kept free, and what else could be done with it."""
    from hingeleaf.field.keep_out_places import Where, places_of

    yield from idle_sentences(recipe, OPTIONS)
    for kept in places_of(recipe.field, recipe.keep_outs):
        room = (
            f"{_named(kept)} is {'cut out and ' if recipe.cut_keep_outs else ''}kept free of motifs"
        )
        if kept.where is Where.INSIDE:
            yield f"{room}."
        elif kept.where is Where.PARTLY:
            yield f"{room}; part of it lies beyond the field's edge."
        elif recipe.cut_keep_outs:
            yield f"{_named(kept)} is cut out {_beside_field(kept, recipe)}."


def idle_sentences(recipe: Recipe, remedy: str) -> Iterator[str]:
    """One sentence for each thing that is neither cut nor anywhere that motifs would go."""
    from hingeleaf.field.keep_out_places import Where, places_of

    if recipe.cut_keep_outs:
        return
    for kept in places_of(recipe.field, recipe.keep_outs):
        if kept.where in (Where.HOLE, Where.OUTSIDE):
            where = _beside_field(kept, recipe)
            yield f"{_named(kept)} stands {where}, where no motif goes, and is not cut: {remedy}"


def kept_data(recipe: Recipe, origin: XY) -> list[dict[str, Any]]:
    """Stable keys; places are mm from the sheet's top left corner, which lies at `origin`."""
    from hingeleaf.field.keep_out_places import places_of

    return [
        {
            "text": kept.text,
            "at_mm": [
                (kept.bounds[0] + kept.bounds[2]) / 2 - origin[0],
                (kept.bounds[1] + kept.bounds[3]) / 2 - origin[1],
            ],
            "size_mm": [*kept.size],
            "where": str(kept.where),
            "cut": recipe.cut_keep_outs,
        }
        for kept in places_of(recipe.field, recipe.keep_outs)
    ]


def _named(kept: KeepOutPlace) -> str:
    width, height = kept.size
    return f"{kept.text or 'The drawing'} ({width:.0f} mm by {height:.0f} mm)"


def _beside_field(kept: KeepOutPlace, recipe: Recipe) -> str:
    from hingeleaf.field.keep_out_places import Where

    if kept.where is Where.OUTSIDE:
        return "outside the field"
    kind = type(recipe.field).__name__.removesuffix("Spec").lower()
    return f"in {HOLES.get(kind, 'a hole of the field')}"
