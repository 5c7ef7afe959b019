"""Thicken the strokes of letters just enough for motifs to fit into them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiPolygon

from hingeleaf.errors import FieldError, UsageError
from hingeleaf.field.specs import FieldSpec, KeepOutText, LetterSpec, WordSpec
from hingeleaf.panel.recipe import Choice, Recipe

LEAST_COVERAGE = 0.9
"""The share of a text's area that discs as wide as the smallest motif and its margins must cover.

Fitted on thin letters filled with the starter patterns at all thickenings: about this value the
filling was most like the letter. Thinner letters held only dots; in thicker ones counters closed.
"""
STEP, MAX_THICKENING = 0.5, 0.125
"""mm between two thickenings that are tried, and the largest as a share of the height."""


def with_bold_strokes(recipe: Recipe) -> Recipe:
    """The recipe with its strokes thickened where that is set to automatic; otherwise unchanged.

    Raises UsageError if automatic thickening is set for a keep-out, and what `build_field` raises.
    """
    for kept in recipe.keep_outs:
        if isinstance(kept, KeepOutText) and kept.style.bolder is None:
            raise UsageError(
                f"{' '.join(kept.text.split())!r} is kept free of motifs, so there is nothing to "
                "tell how much to thicken it.",
                "Give a length, as in --keep-out-bolder 0.5mm. What is cut out is thickened as the "
                "card needs it.",
            )
    spec = recipe.field
    if not isinstance(spec, LetterSpec | WordSpec) or spec.style.bolder is not None:
        return recipe
    smallest = recipe.choice.smallest or Choice().smallest or 0.0
    return replace(recipe, field=_bold(spec, smallest + 2 * recipe.rules.margin))


def thickening(asked: Recipe, fitted: Recipe) -> float | None:
    """mm by which strokes were thickened; None if that was not set to automatic."""
    before, after = asked.field, fitted.field
    if not (isinstance(before, LetterSpec | WordSpec) and isinstance(after, LetterSpec | WordSpec)):
        return None
    return after.style.thickening if before.style.bolder is None else None


def _bold(spec: LetterSpec | WordSpec, stroke: float) -> FieldSpec:
    """The text as thick as discs `stroke` mm wide need, or as its counters allow."""
    thickest = replace(spec, style=replace(spec.style, bolder=0.0))
    for thicker, area in _thicker(spec):
        thickest = thicker
        inner = shapely.buffer(shapely.buffer(area, -stroke / 2), stroke / 2)
        if inner.area >= LEAST_COVERAGE * area.area:
            break
    return thickest


def _thicker(spec: LetterSpec | WordSpec) -> Iterator[tuple[LetterSpec | WordSpec, MultiPolygon]]:
    """The text with increasing thickness, each with its area, until a counter closes.

    Raises FieldError for a text that cannot be set at all.
    """
    for bolder in np.arange(0.0, MAX_THICKENING * spec.style.height + STEP, STEP).tolist():
        thicker = replace(spec, style=replace(spec.style, bolder=bolder))
        try:
            area = thicker.build().area
        except FieldError:
            if not bolder:
                raise
            return
        yield thicker, area
