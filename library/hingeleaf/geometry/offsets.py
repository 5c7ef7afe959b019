"""Offset shapes outwards or inwards by a distance."""

from __future__ import annotations

import math

from shapely import MultiPolygon

from hingeleaf.geometry.winding import polygons_of


def thicken(shape: MultiPolygon, offset: float, tolerance: float) -> MultiPolygon:
    """The shape grown by `offset` mm, its outer corners rounded within `tolerance`."""
    turn = math.acos(max(0.0, 1 - tolerance / (4 * offset)))
    return polygons_of(shape.buffer(offset, quad_segs=max(8, math.ceil(math.pi / 4 / turn))))


def with_margin(shape: MultiPolygon, margin: float) -> MultiPolygon:
    """The shape grown by `margin` mm, to 1 % of the margin."""
    return polygons_of(shape.buffer(margin)) if margin else shape


def without_margin(shape: MultiPolygon, margin: float) -> MultiPolygon:
    """The shape shrunk by `margin` mm, to 1 % of the margin."""
    return polygons_of(shape.buffer(-margin)) if margin else shape
