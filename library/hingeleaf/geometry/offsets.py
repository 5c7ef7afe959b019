"""Grow and shrink areas by a distance, and widen the places narrower than a width."""

import math

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import area_of

SCALES = (0.5, 0.75, 1.0)
"""Shares of the width at which narrow places are searched for: a pocket behind a neck, wider than
the neck, may itself be narrower than the width."""
STEPS = 8
"""Narrow places grow in at most this many steps, each by an eighth of the width."""
SIMPLIFY_TOLERANCE = 0.004
"""mm: how far a widened edge may be simplified."""
MIN_AREA = 1e-3
"""mm²: smaller remains are rounding errors."""
QUARTER_SEGMENTS = 8
"""Segments of a quarter circle."""


def thicken(shape: MultiPolygon, offset: float, tolerance: float) -> MultiPolygon:
    """The shape grown by `offset` mm, its outer corners rounded within `tolerance`."""
    turn = math.acos(max(0.0, 1 - tolerance / (4 * offset)))
    return area_of(shape.buffer(offset, quad_segs=max(8, math.ceil(math.pi / 4 / turn))))


def with_margin(shape: MultiPolygon, margin: float) -> MultiPolygon:
    """The shape grown by `margin` mm, to 1 % of the margin."""
    return area_of(shape.buffer(margin)) if margin else shape


def without_margin(shape: MultiPolygon, margin: float) -> MultiPolygon:
    """The shape shrunk by `margin` mm, to 1 % of the margin."""
    return area_of(shape.buffer(-margin)) if margin else shape


def widened(area: MultiPolygon, width: float) -> MultiPolygon:
    """The area with every neck between two wider places made about `width` mm wide.

    Ends that taper to a tip stay unchanged: they connect nothing.
    """
    for scale in SCALES:
        for _ in range(STEPS):
            narrow = narrow_places(area, scale * width)
            if narrow.is_empty:
                break
            grown = narrow.buffer(width / STEPS, quad_segs=QUARTER_SEGMENTS)
            area = area_of(area.union(grown.simplify(SIMPLIFY_TOLERANCE)))
    return area


def narrow_places(area: MultiPolygon, width: float) -> MultiPolygon:
    """The places narrower than `width` mm that connect wider ones, or that make up a whole part."""
    radius = width / 2
    kernel = area.buffer(-radius, quad_segs=QUARTER_SEGMENTS)
    # Slightly more than before, so that smooth edges leave no slivers.
    opened = kernel.buffer(radius * 1.01, quad_segs=QUARTER_SEGMENTS)
    remains = shapely.get_parts(area.difference(opened))
    remains = remains[shapely.area(remains) > MIN_AREA]
    joining = [each for each in remains if _contacts(each, opened) != 1]
    return MultiPolygon([each for each in joining if isinstance(each, Polygon)])


def _contacts(place: Polygon, opened: BaseGeometry) -> int:
    """How many separate stretches of a place's edge border on the wider rest."""
    edge = place.boundary.intersection(opened.buffer(1e-6))
    lines = [line for line in shapely.get_parts(edge) if line.length > 1e-6]
    if not lines:
        return 0
    return len(shapely.get_parts(shapely.line_merge(shapely.MultiLineString(lines))))
