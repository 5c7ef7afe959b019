"""Widen the places where an area is narrower than a minimum width; leave the rest unchanged."""

from __future__ import annotations

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.winding import polygons_of

SCALES = (0.5, 0.75, 1.0)
"""Shares of the width at which narrow places are searched for: a pocket behind a neck, wider than
the neck, may itself be narrower than the width."""
STEPS = 8
"""Narrow places grow in at most this many steps, each by an eighth of the width."""
SIMPLIFY_TOLERANCE = 0.004
"""mm: how far a widened edge may be simplified."""
LEAST_AREA = 1e-3
"""mm²: smaller remains are rounding errors."""
QUARTER_SEGMENTS = 8
"""Segments of a quarter circle."""


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
            area = polygons_of(area.union(grown.simplify(SIMPLIFY_TOLERANCE)))
    return area


def narrow_places(area: MultiPolygon, width: float) -> MultiPolygon:
    """The places narrower than `width` mm that connect wider ones, or that make up a whole part."""
    radius = width / 2
    kernel = area.buffer(-radius, quad_segs=QUARTER_SEGMENTS)
    # Slightly more than before, so that smooth edges leave no slivers.
    opened = kernel.buffer(radius * 1.01, quad_segs=QUARTER_SEGMENTS)
    remains = shapely.get_parts(area.difference(opened))
    remains = remains[shapely.area(remains) > LEAST_AREA]
    joining = [each for each in remains if _contacts(each, opened) != 1]
    return MultiPolygon([each for each in joining if isinstance(each, Polygon)])


def _contacts(place: Polygon, opened: BaseGeometry) -> int:
    """How many separate stretches of a place's edge border on the wider rest."""
    edge = place.boundary.intersection(opened.buffer(1e-6))
    lines = [line for line in shapely.get_parts(edge) if line.length > 1e-6]
    if not lines:
        return 0
    return len(shapely.get_parts(shapely.line_merge(shapely.MultiLineString(lines))))
