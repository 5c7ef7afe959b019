"""Tables of the motifs for the compiled loops: outline samples, distance fields, traits.

A motif's footprint is scaled to size 1. Its *probes* are tested against the distance fields of
everything else: first a few large circles inside the footprint, which reject a place quickly and
keep one motif from containing another, then points of the outline, each as far as possible from
those before it, so that a collision shows early.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hingeleaf.fill.clearance import lines_of
from hingeleaf.fill.distance import signed_distance
from hingeleaf.fill.pool import PoolItem
from hingeleaf.fill.table_columns import (
    AREA,
    CIRCLE_COUNT,
    EXTENT,
    FACING_SHARE,
    HALF_WIDTH,
    INERTIA,
    INNER_RADIUS,
    LARGEST,
    LEAN,
    MIRRORS,
    PROBE_COUNT,
    REACH,
    SMALLEST,
    TRAIT_COLUMNS,
    TURN_LIMIT,
)

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
FIELD_SIZE = 144
"""Grid points along each side of a motif's own distance field."""
FIELD_MARGIN = 0.35
"""Margin of a motif's distance field around it, in sizes of the motif."""
SAMPLE_SPACING = 0.045
"""Distance between outline samples, in sizes of the motif."""
LONG_RATIO, MAX_LEAN = 1.4, 20.0
"""Least ratio of length to width of a motif that can lie along a stroke, and the degrees by which
it may lean from it."""
MAX_CIRCLES = 6
"""Number of circles inside the footprint among the probes."""


@dataclass(frozen=True, slots=True)
class MotifTables:
    """The pool as arrays; the first axis of every table is the kind."""

    traits: NDArray[np.float64]
    probes: NDArray[np.float64]
    """(kinds, probes, 3): x, y and radius for size 1."""
    fields: NDArray[np.float32]
    """(kinds, GRID, GRID): distance to the footprint for size 1, positive outside."""


def tabulate(
    pool: Sequence[PoolItem],
    *,
    least: float,
    widest: float,
    turn_limit: float = 180.0,
    along: bool = False,
) -> MotifTables:
    """Tables for a pool.

    Sizes under `least` and over `widest` mm are removed from ranges that have others; turns more
    than `turn_limit` degrees from upright are removed for all. With `along`, long motifs that may
    turn freely follow the facing; all others are unaffected.
    """
    outlines = [_outline(item.footprint, item.drawn_size) for item in pool]
    table = np.zeros((len(pool), max(len(outline.probes) for outline in outlines), 3))
    traits = np.zeros((len(pool), TRAIT_COLUMNS))
    for kind, (item, outline) in enumerate(zip(pool, outlines, strict=True)):
        table[kind, : len(outline.probes)] = outline.probes
        traits[kind] = outline.traits
        smallest, largest = item.sizes.smallest, item.sizes.largest
        traits[kind, LARGEST] = max(smallest, min(largest, widest))
        traits[kind, SMALLEST] = min(max(smallest, least), traits[kind, LARGEST])
        limit = min(180.0, item.turn_limit, turn_limit)
        traits[kind, FACING_SHARE] = 1.0
        if along:
            axis = _long_axis(item.footprint) if limit >= 180 else None
            traits[kind, FACING_SHARE] = axis is not None
            if axis is not None:
                traits[kind, LEAN], limit = -axis, MAX_LEAN
        traits[kind, TURN_LIMIT] = math.radians(limit) * (1 - 1e-12)
        traits[kind, MIRRORS] = item.may_mirror
    return MotifTables(traits, table, np.array([outline.field for outline in outlines]))


def _long_axis(footprint: Polygon) -> float | None:
    """The direction of a footprint's longer side, radians; None if it is hardly longer."""
    corners = shapely.get_coordinates(shapely.minimum_rotated_rectangle(footprint))
    sides = np.diff(corners[:3], axis=0)
    lengths = np.hypot(*sides.T)
    if lengths.max() < LONG_RATIO * lengths.min():
        return None
    x, y = sides[int(lengths.argmax())]
    return math.atan2(y, x)


@dataclass(frozen=True, slots=True)
class _Outline:
    """Tables of an outline that do not depend on how its motif may be used."""

    traits: NDArray[np.float64]
    probes: NDArray[np.float64]
    field: NDArray[np.float32]


@lru_cache(maxsize=512)
def _outline(footprint: Polygon, drawn_size: float) -> _Outline:
    shape = shapely.transform(footprint, lambda points: points / drawn_size)
    shape = Polygon(shape.simplify(0.001).exterior)
    probes = _probes(shape)
    traits = _traits(shape, probes)
    return _Outline(traits, probes, _distance_field(shape, traits[EXTENT]))


def _probes(shape: Polygon) -> NDArray[np.float64]:
    circles = _inner_circles(shape)
    outline = _farthest_first(_outline_points(shape))
    return np.vstack([circles, np.column_stack([outline, np.zeros(len(outline))])])


def _inner_circles(shape: Polygon) -> NDArray[np.float64]:
    """The largest circle inside, then the largest inside the remainder, and so on."""
    circles = []
    free = shape
    for _ in range(MAX_CIRCLES):
        radius_line = shapely.maximum_inscribed_circle(free, tolerance=0.004)
        if radius_line.length < 0.02:
            break
        centre = radius_line.coords[0]
        circles.append((*centre, radius_line.length))
        free = free.difference(shapely.Point(centre).buffer(radius_line.length))
    return np.array(circles).reshape(-1, 3)


def _outline_points(shape: Polygon) -> NDArray[np.float64]:
    """Sharp corners, and points evenly spread along the outline."""
    ring = shape.exterior
    count = max(24, math.ceil(ring.length / SAMPLE_SPACING))
    spread = shapely.get_coordinates(
        shapely.line_interpolate_point(ring, np.arange(count) / count, normalized=True)
    )
    corners = shapely.get_coordinates(ring)[:-1]
    arriving = corners - np.roll(corners, 1, axis=0)
    leaving = np.roll(corners, -1, axis=0) - corners
    turn = np.arctan2(
        arriving[:, 0] * leaving[:, 1] - arriving[:, 1] * leaving[:, 0],
        (arriving * leaving).sum(axis=1),
    )
    return np.vstack([corners[np.abs(turn) > 0.35], spread])


def _farthest_first(points: NDArray[np.float64]) -> NDArray[np.float64]:
    order = [int(np.argmax((points**2).sum(axis=1)))]
    distance = np.full(len(points), np.inf)
    while len(order) < len(points):
        distance = np.minimum(distance, ((points - points[order[-1]]) ** 2).sum(axis=1))
        farthest = int(np.argmax(distance))
        if distance[farthest] < 1e-6:
            break
        order.append(farthest)
    return points[order]


def _traits(shape: Polygon, probes: NDArray[np.float64]) -> NDArray[np.float64]:
    corners = shapely.get_coordinates(shape)
    circles = probes[:, 2] > 0
    row = np.zeros(TRAIT_COLUMNS)
    row[AREA] = shape.area
    row[REACH] = math.sqrt((corners**2).sum(axis=1).max())
    row[EXTENT] = np.abs(corners).max() + FIELD_MARGIN
    row[CIRCLE_COUNT] = circles.sum()
    row[PROBE_COUNT] = len(probes)
    row[INERTIA] = (probes[~circles, :2] ** 2).sum(axis=1).mean()
    row[HALF_WIDTH] = shape.area / shape.length
    row[INNER_RADIUS] = probes[0, 2] - math.hypot(probes[0, 0], probes[0, 1])
    return row


def _distance_field(shape: Polygon, extent: float) -> NDArray[np.float32]:
    frame = np.array([-extent, -extent, 2 * extent / (FIELD_SIZE - 1)])
    return -signed_distance(lines_of(shape), frame, FIELD_SIZE, FIELD_SIZE)
