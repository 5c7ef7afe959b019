"""Fill rules: from rings that may cross themselves and each other to the area they paint.

The rings are noded, the faces between them found, and each face kept by its winding number
(SVG 2, section 13.4.2). Rings that cross nothing, nearly all there are, take a shorter way.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.artwork.matrices import Points
from hingeleaf.errors import HostileArtworkError
from hingeleaf.model import NO_WINDOWS

MAX_POINTS = 1_500_000
MAX_CROSSINGS = 3_000_000
_SAMPLES = 256


def fill(rings: Sequence[Points], even_odd: bool = False) -> MultiPolygon:
    """The area that closed rings ((n, 2), last point = first) paint under a fill rule.

    Raises HostileArtworkError where the rings cross themselves beyond measure.
    """
    rings = [ring for ring in rings if len(ring) > 3]
    if not rings:
        return NO_WINDOWS
    if len(rings) == 1:
        polygon = Polygon(rings[0])
        if polygon.is_valid:
            return polygons_of(polygon)
    check_tangle(rings)
    outlines = _linear_rings(rings)
    linework = shapely.multilinestrings(outlines)
    if not shapely.is_simple(linework):
        return _from_faces(linework, rings, even_odd)
    edges = linework if even_odd else shapely.multilinestrings(_boundary_rings(outlines))
    return polygons_of(shapely.build_area(edges))


def check_tangle(lines: Sequence[Points]) -> None:
    """Refuse linework whose crossings could not be worked out in reasonable time and memory."""
    total = sum(map(len, lines))
    if total < 2000:
        return
    low = np.concatenate([np.minimum(line[:-1], line[1:]) for line in lines])
    high = np.concatenate([np.maximum(line[:-1], line[1:]) for line in lines])
    chosen = np.linspace(0, len(low) - 1, _SAMPLES).astype(int)
    meets = [_overlaps(low, high, i) for i in chosen]
    crossings = sum(meets) / _SAMPLES * len(low) / 2
    if total > MAX_POINTS or crossings > MAX_CROSSINGS:
        raise HostileArtworkError(
            "An outline crosses itself too often to be cut.",
            "Simplify the drawing in its editor, or leave that part out.",
        )


def _overlaps(low: Points, high: Points, edge: int) -> int:
    """How many other edges' boxes meet an edge's box, its neighbours left out."""
    meets = ((low <= high[edge]) & (high >= low[edge])).all(axis=1)
    return max(0, int(np.count_nonzero(meets)) - 3)


def polygons_of(geometry: BaseGeometry) -> MultiPolygon:
    """The polygons in a geometry of any kind."""
    if isinstance(geometry, MultiPolygon):
        return geometry
    if isinstance(geometry, Polygon):
        return NO_WINDOWS if geometry.is_empty else MultiPolygon([geometry])
    parts = [p for p in shapely.get_parts(geometry) if isinstance(p, Polygon | MultiPolygon)]
    return polygons_of(shapely.union_all(parts)) if parts else NO_WINDOWS


def valid(area: MultiPolygon) -> MultiPolygon:
    """The area itself, mended if rounding has made it invalid."""
    return area if shapely.is_valid(area) else polygons_of(shapely.make_valid(area))


def winding_numbers(points: Points, rings: Sequence[Points]) -> NDArray[np.intp]:
    """How often the rings run around each point, clockwise as seen counted positive.

    A ray is cast from every point to the right; an upright sweep pairs it with the edges that it
    can meet, so the work grows with the crossings and not with points times edges.
    """
    start = np.concatenate([ring[:-1] for ring in rings])
    end = np.concatenate([ring[1:] for ring in rings])
    order = np.argsort(points[:, 1], kind="stable")
    heights = points[order, 1]
    low = np.searchsorted(heights, np.minimum(start[:, 1], end[:, 1]), "left")
    high = np.searchsorted(heights, np.maximum(start[:, 1], end[:, 1]), "left")
    counts = high - low
    edge = np.repeat(np.arange(len(start)), counts)
    step = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
    point = order[low[edge] + step]
    x0, y0 = start[edge].T
    x1, y1 = end[edge].T
    at = x0 + (points[point, 1] - y0) * (x1 - x0) / (y1 - y0)
    signs = np.where(at > points[point, 0], np.sign(y1 - y0), 0.0)
    return np.rint(np.bincount(point, signs, len(points))).astype(np.intp)


def _linear_rings(rings: Sequence[Points]) -> NDArray[np.object_]:
    owners = np.repeat(np.arange(len(rings)), [len(ring) for ring in rings])
    outlines: NDArray[np.object_] = shapely.linearrings(np.concatenate(rings), indices=owners)
    return outlines


def _from_faces(linework: BaseGeometry, rings: Sequence[Points], even_odd: bool) -> MultiPolygon:
    faces = shapely.get_parts(shapely.polygonize(shapely.get_parts(shapely.node(linework))))
    if not len(faces):
        return NO_WINDOWS
    inner = shapely.get_coordinates(shapely.point_on_surface(faces))
    winding = winding_numbers(inner, rings)
    kept = faces[winding % 2 == 1] if even_odd else faces[winding != 0]
    try:
        return valid(polygons_of(shapely.coverage_union_all(kept)))
    except shapely.GEOSException:  # rounding has left faces that overlap by a hair
        return valid(polygons_of(shapely.union_all(kept)))


def _boundary_rings(outlines: NDArray[np.object_]) -> NDArray[np.object_]:
    """Of rings that cross nothing, those with paint on one side only (rule nonzero)."""
    areas = shapely.polygons(outlines)
    turns = np.where(shapely.is_ccw(outlines), 1, -1)
    tree = shapely.STRtree(areas)
    starts = shapely.get_point(outlines, 0)
    inner, outer = tree.query(starts, predicate="within")
    apart = inner != outer
    outside = np.bincount(inner[apart], turns[outer[apart]], len(outlines))
    boundary: NDArray[np.object_] = outlines[(outside == 0) | (outside + turns == 0)]
    return boundary
