"""Widen the places where an area is narrower than a least width, and leave the rest as it is."""

from __future__ import annotations

import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.winding import polygons_of

SCALES = (0.5, 0.75, 1.0)
"""Shares of the width at which narrow places are sought: a wide pocket behind a neck may itself be
narrower than the width."""
STEPS = 8
"""Narrow places grow in so many steps at most, each by an eighth of the width."""
SIMPLER = 0.004
"""mm: how far a widened edge may be simplified."""
TRIFLE = 1e-3
"""mm²: smaller remains of rounding are no places."""
QUARTER = 8
"""Segments of a quarter circle."""


def widened(area: MultiPolygon, width: float) -> MultiPolygon:
    """The area with every place between two wider ones made `width` mm wide, or nearly.

    Ends that taper to a tip stay: nothing hangs on them.
    """
    for scale in SCALES:
        for _ in range(STEPS):
            narrow = narrow_places(area, scale * width)
            if narrow.is_empty:
                break
            grown = narrow.buffer(width / STEPS, quad_segs=QUARTER)
            area = polygons_of(area.union(grown.simplify(SIMPLER)))
    return area


def narrow_places(area: MultiPolygon, width: float) -> MultiPolygon:
    """The places of an area narrower than `width` mm that join wider ones, or are all there is."""
    radius = width / 2
    kernel = area.buffer(-radius, quad_segs=QUARTER)
    # A little more than it was, so that smooth edges leave no slivers behind.
    opened = kernel.buffer(radius * 1.01, quad_segs=QUARTER)
    remains = shapely.get_parts(area.difference(opened))
    remains = remains[shapely.area(remains) > TRIFLE]
    joining = [each for each in remains if _contacts(each, opened) != 1]
    return MultiPolygon([each for each in joining if isinstance(each, Polygon)])


def _contacts(place: Polygon, opened: BaseGeometry) -> int:
    """How many stretches of a place's edge lie on the wider rest."""
    edge = place.boundary.intersection(opened.buffer(1e-6))
    lines = [line for line in shapely.get_parts(edge) if line.length > 1e-6]
    if not lines:
        return 0
    return len(shapely.get_parts(shapely.line_merge(shapely.MultiLineString(lines))))
