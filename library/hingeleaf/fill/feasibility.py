"""Check that a field can be filled at all, and explain why nothing fits."""

import math
from collections.abc import Sequence
from dataclasses import replace

import shapely
from shapely import MultiPolygon

from hingeleaf.errors import FieldTooSmallError, UsageError
from hingeleaf.fill.container import Container
from hingeleaf.fill.pool import PoolItem
from hingeleaf.units import format_mm

# Chosen by trial, no source.
MAX_MOTIFS = 1500
"""Greatest number of motifs in one filling."""
FINEST = 1 / 150
"""The smallest size worth placing, as a share of the field's longer side."""
DENSE = 0.6
"""Least share of a field that motifs cover when it is full."""
REMEDY = "Allow smaller motifs, keep less distance, or make the field"


def without_specks(area: MultiPolygon, pool: Sequence[PoolItem]) -> list[PoolItem]:
    """The pool with weight 0 for kinds that are always too small to be worth placing.

    Raises UsageError if that is all of them, or if far too many motifs would be needed.
    """
    left, top, right, bottom = area.bounds
    least = FINEST * max(right - left, bottom - top)
    kept = [item if item.sizes.largest >= least else replace(item, weight=0.0) for item in pool]
    largest = max(
        (
            item.footprint.area * (item.sizes.largest / item.drawn_size) ** 2
            for item in kept
            if item.weight > 0
        ),
        default=0.0,
    )
    if DENSE * area.area > MAX_MOTIFS * largest:
        raise UsageError(
            f"Motifs of that size would be too many for this field: more than {MAX_MOTIFS}.",
            "Allow larger motifs, or make the field smaller.",
        )
    return kept


def nothing_fits(container: Container, pool: Sequence[PoolItem]) -> FieldTooSmallError:
    """The error if no motif found a place: says what the smallest would need."""
    needs = {
        2 * _inner_radius(item) * item.sizes.smallest / item.drawn_size: item
        for item in pool
        if item.weight > 0
    }
    width, item = min(needs.items(), key=lambda need: need[0])
    free = shapely.difference(container.open, shapely.union_all(container.taken))
    parts = [part for part in shapely.get_parts(free) if part.area > 0]
    widest = max((2 * shapely.maximum_inscribed_circle(part).length for part in parts), default=0.0)
    message = (
        f"No motif fits. The one that needs least is {item.name}: at its smallest, "
        f"{_mm(item.sizes.smallest)} long, it takes a place "
        f"{_mm(width + 2 * container.margin)} wide, "
        f"with {format_mm(container.margin)} to the edge on either side; the widest place is "
        f"{_mm(widest)}"
    )
    if width + 2 * container.margin < widest:
        message += " wide, but not long enough or not of a shape that takes it"
    times = (width + 2 * container.margin) / widest if widest else 0.0
    larger = f"about {math.ceil(10 * times) / 10:g} times as large" if times > 1 else "larger"
    return FieldTooSmallError(f"{message}.", f"{REMEDY} {larger} or its strokes bolder.")


def _mm(length: float) -> str:
    """A length with one decimal, or two significant digits if it is less."""
    return format_mm(round(length, 1) if length >= 1 else float(f"{length:.2g}"))


def _inner_radius(item: PoolItem) -> float:
    return float(shapely.maximum_inscribed_circle(item.footprint).length)
