"""Motifs as tables of numbers for the compiled loops: samples, distance fields, traits.

A motif's footprint is scaled to size 1. Its *probes* are what is held against the distance fields
of everything else: first a few large circles inside the footprint, which rule a place out
quickly and keep one motif from swallowing another, then points of the outline, each as far as
possible from those before it, so that a place that is too tight shows early.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hingeleaf.fill.pool import PoolItem

GRID = 144
"""Grid points along each side of a motif's own distance field."""
SURROUND = 0.35
"""What a motif's distance field shows of its surroundings, in sizes of the motif."""
SPACING = 0.045
"""Distance between outline samples, in sizes of the motif."""
CIRCLES = 6
"""Circles inside the footprint among the probes."""

AREA, REACH, EXTENT, CIRCLE_COUNT, PROBE_COUNT = 0, 1, 2, 3, 4
SMALLEST, LARGEST, TURN_LIMIT, MIRRORS, INERTIA = 5, 6, 7, 8, 9
TRAITS = 10
"""Columns of the table of traits: area, farthest outline point and half the side of the distance
field (all for size 1), how many probes are circles and how many there are, range of sizes in mm,
turn limit in radians, 1 if it may be mirrored, mean square distance of the outline from the
origin."""


@dataclass(frozen=True, slots=True)
class Samples:
    """The pool in numbers; the first axis of every table counts the kinds."""

    traits: NDArray[np.float64]
    probes: NDArray[np.float64]
    """(kinds, probes, 3): x, y and radius for size 1."""
    fields: NDArray[np.float32]
    """(kinds, GRID, GRID): distance to the footprint for size 1, positive outside."""


def sample_pool(pool: Sequence[PoolItem], widest: float) -> Samples:
    """Tables for a pool; `widest` (mm) caps ranges of sizes that have no upper end of their own."""
    shapes = [_unit_footprint(item) for item in pool]
    probes = [_probes(shape) for shape in shapes]
    table = np.zeros((len(pool), max(map(len, probes)), 3))
    traits = np.zeros((len(pool), TRAITS))
    fields = np.empty((len(pool), GRID, GRID), np.float32)
    for kind, (item, shape, points) in enumerate(zip(pool, shapes, probes, strict=True)):
        table[kind, : len(points)] = points
        traits[kind] = _traits(item, shape, points, widest)
        fields[kind] = _distance_field(shape, traits[kind, EXTENT])
    return Samples(traits, table, fields)


def lines_of(shape: shapely.Geometry) -> NDArray[np.float64]:
    """All rings of a polygon or multipolygon as lines (x1, y1, x2, y2)."""
    pieces = []
    for ring in shapely.get_rings(shapely.get_parts(shape)):
        points = shapely.get_coordinates(ring)
        pieces.append(np.hstack([points[:-1], points[1:]]))
    return np.ascontiguousarray(np.vstack(pieces)) if pieces else np.empty((0, 4))


def _unit_footprint(item: PoolItem) -> Polygon:
    shape = shapely.transform(item.footprint, lambda points: points / item.drawn_size)
    simple: Polygon = shape.simplify(0.001)
    return simple


def _probes(shape: Polygon) -> NDArray[np.float64]:
    circles = _inner_circles(shape)
    outline = _farthest_first(_outline_points(shape))
    return np.vstack([circles, np.column_stack([outline, np.zeros(len(outline))])])


def _inner_circles(shape: Polygon) -> NDArray[np.float64]:
    """The largest circle inside, then the largest inside what it leaves, and so on."""
    circles = []
    free = shape
    for _ in range(CIRCLES):
        radius_line = shapely.maximum_inscribed_circle(free, tolerance=0.004)
        if radius_line.length < 0.02:
            break
        centre = radius_line.coords[0]
        circles.append((*centre, radius_line.length))
        free = free.difference(shapely.Point(centre).buffer(radius_line.length))
    return np.array(circles).reshape(-1, 3)


def _outline_points(shape: Polygon) -> NDArray[np.float64]:
    """Sharp corners, and points spread evenly along the outline."""
    ring = shape.exterior
    count = max(24, math.ceil(ring.length / SPACING))
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


def _traits(
    item: PoolItem, shape: Polygon, points: NDArray[np.float64], widest: float
) -> NDArray[np.float64]:
    corners = shapely.get_coordinates(shape)
    square = (points[points[:, 2] == 0, :2] ** 2).sum(axis=1)
    row = np.zeros(TRAITS)
    row[AREA] = shape.area
    row[REACH] = math.sqrt((corners**2).sum(axis=1).max())
    row[EXTENT] = np.abs(corners).max() + SURROUND
    row[CIRCLE_COUNT] = (points[:, 2] > 0).sum()
    row[PROBE_COUNT] = len(points)
    row[SMALLEST] = item.sizes.smallest
    row[LARGEST] = max(item.sizes.smallest, min(item.sizes.largest, widest))
    row[TURN_LIMIT] = math.radians(min(180.0, item.turn_limit))
    row[MIRRORS] = item.may_mirror
    row[INERTIA] = square.mean()
    return row


def _distance_field(shape: Polygon, extent: float) -> NDArray[np.float32]:
    from hingeleaf.fill.distance import signed_distance

    frame = np.array([-extent, -extent, 2 * extent / (GRID - 1)])
    field: NDArray[np.float32] = -signed_distance(lines_of(shape), frame, GRID, GRID)
    return field
