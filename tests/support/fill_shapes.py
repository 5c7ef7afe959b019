"""Simple shapes and fields for tests of single filling rules."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import shapely
from shapely import MultiPolygon, Point, Polygon, box

from hingeleaf.fill.pool import PoolItem
from hingeleaf.model import XY, Field, Pose, SizeRange

DRAWN = 20.0


def star(points: int, inner: float, stretch: float = 1.0) -> Polygon:
    """A star about the origin whose box is DRAWN mm on its longer side."""
    turns = np.arange(2 * points) * math.pi / points
    radii = np.where(np.arange(2 * points) % 2, inner, 1.0)
    corners = np.column_stack([radii * np.sin(turns) * stretch, -radii * np.cos(turns)])
    middle = (corners.min(axis=0) + corners.max(axis=0)) / 2
    side = (corners.max(axis=0) - corners.min(axis=0)).max()
    return Polygon((corners - middle) * DRAWN / side)


def flag() -> Polygon:
    """A shape that differs from its mirror image and from itself upside down."""
    return Polygon([(-7, -10), (7, -6), (-3, -2), (-3, 10), (-7, 10)])


SHAPES = {
    "sun": star(8, 0.7),
    "kite": star(2, 0.55, 0.8),
    "clover": star(3, 0.5),
    "pebble": Point(0, 0).buffer(DRAWN / 2, quad_segs=8),
    "plank": box(-10, -4, 10, 4),
    "flag": flag(),
}


def item(name: str, low: float = 9, high: float = 26, **rest: Any) -> PoolItem:
    return PoolItem(name, 1, SHAPES[name], DRAWN, SizeRange(low, high), **rest)


def pool(low: float = 9, high: float = 26, **rest: Any) -> list[PoolItem]:
    return [item(name, low, high, **rest) for name in SHAPES]


def plain_field(area: Polygon | MultiPolygon, axis: tuple[XY, XY] | None = None) -> Field:
    area = area if isinstance(area, MultiPolygon) else MultiPolygon([area])
    return Field("outline", "tile", area, area, axis)


def tile(width: float = 100, height: float = 66) -> Field:
    return plain_field(box(0, 0, width, height))


def mirror_image(shape: Polygon, axis_x: float) -> Polygon:
    """The image about the upright line through `axis_x`."""
    return shapely.transform(shape, lambda points: [2 * axis_x, 0] + points * [-1, 1])


def feet_direction(pose: Pose) -> XY:
    """The unit vector from the middle of a motif to its feet."""
    turn = math.radians(pose.turn)
    return -math.sin(turn), math.cos(turn)
