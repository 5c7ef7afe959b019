"""Convert rings, which may cross themselves and each other, to the area painted by a fill rule.

The rings are noded, the faces between them found, and faces selected by their winding number
(SVG 2, section 13.4.2). Rings without crossings, the usual case, take a faster route.
"""

from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from hingeleaf.effort import Effort
from hingeleaf.geometry.members import area_of, lines_through, rings_through, valid
from hingeleaf.model import NO_WINDOWS, Points

_BLOCK = 2_000_000
_REPEATING = 0.6
_WEIGHTS = np.sqrt([2.0, 3.0, 5.0, 7.0])
MANY_POINTS = 20_000
"""Rings with more points are checked for crossings before they are passed to GEOS."""


def painted_area(
    rings: Sequence[Points], even_odd: bool = False, effort: Effort | None = None
) -> MultiPolygon:
    """The area that closed rings ((n, 2), last point = first) paint under a fill rule.

    Raises HostileArtworkError where the rings cross themselves too often.
    """
    rings = [ring for ring in rings if len(ring) > 3]
    if not rings:
        return NO_WINDOWS
    effort = effort or Effort()
    if sum(map(len, rings)) > MANY_POINTS:
        if _repeats_itself(rings):
            return _from_faces(rings, even_odd, effort)
        effort.check_crossings(rings)
    if len(rings) == 1:
        polygon = Polygon(rings[0])
        if _runs_round_once(rings[0]) or polygon.is_valid:
            return area_of(polygon)
        effort.check_repair(len(rings[0]))
    outlines = rings_through(rings)
    linework = shapely.multilinestrings(outlines)
    if not shapely.is_simple(linework):
        return _from_faces(rings, even_odd, effort)
    edges = linework if even_odd else shapely.multilinestrings(_boundary_rings(outlines))
    return area_of(shapely.build_area(edges))


def winding_numbers(
    points: Points, rings: Sequence[Points], effort: Effort | None = None
) -> NDArray[np.intp]:
    """The winding number of the rings about each point, positive for clockwise as seen.

    Rays are cast from the points along the axis with fewer candidate edges; a sweep pairs each with
    the edges that it can cross, so the cost grows with the crossings, not with points times edges.
    """
    effort = effort or Effort()
    start = np.concatenate([ring[:-1] for ring in rings])
    end = np.concatenate([ring[1:] for ring in rings])
    rightwards = _Sweep(points, start, end)
    downwards = _Sweep(points[:, ::-1], start[:, ::-1], end[:, ::-1])
    if rightwards.pairs <= downwards.pairs:
        effort.spend("pairs", rightwards.pairs)
        return rightwards.crossings()
    effort.spend("pairs", downwards.pairs)
    return -downwards.crossings()


class _Sweep:
    """Points and edges sorted by y, for counting the edges right of each point."""

    def __init__(self, points: Points, start: Points, end: Points) -> None:
        self.points, self.start, self.end = points, start, end
        self.order = np.argsort(points[:, 1], kind="stable")
        heights = points[self.order, 1]
        self.low = np.searchsorted(heights, np.minimum(start[:, 1], end[:, 1]), "left")
        high = np.searchsorted(heights, np.maximum(start[:, 1], end[:, 1]), "left")
        self.counts = high - self.low
        self.pairs = int(self.counts.sum())

    def crossings(self) -> NDArray[np.intp]:
        """Downward minus upward edges right of each point."""
        total = np.zeros(len(self.points))
        blocks = np.searchsorted(np.cumsum(self.counts), np.arange(0, self.pairs, _BLOCK))
        for first, last in pairwise([*np.unique(blocks), len(self.counts)]):
            total += self._block(slice(first, last))
        return np.rint(total).astype(np.intp)

    def _block(self, edges: slice) -> Points:
        counts = self.counts[edges]
        edge = np.repeat(np.arange(len(counts)), counts)
        step = np.arange(len(edge)) - np.repeat(np.cumsum(counts) - counts, counts)
        point = self.order[self.low[edges][edge] + step]
        x0, y0 = self.start[edges][edge].T
        x1, y1 = self.end[edges][edge].T
        at = x0 + (self.points[point, 1] - y0) * (x1 - x0) / (y1 - y0)
        signs = np.where(at > self.points[point, 0], np.sign(y1 - y0), 0.0)
        return np.bincount(point, signs, len(self.points)).astype(np.float64)


def _runs_round_once(ring: Points) -> bool:
    """Whether a ring goes round its centre once, always forwards, and so cannot cross itself.

    For shapes such as a fine gear this is much faster than GEOS, which needs quadratic time.
    """
    arms = ring - ring[:-1].mean(axis=0)
    cross = arms[:-1, 0] * arms[1:, 1] - arms[:-1, 1] * arms[1:, 0]
    if not ((cross > 0).all() or (cross < 0).all()):
        return False
    turns = np.arctan2(cross, (arms[:-1] * arms[1:]).sum(axis=1)).sum() / (2 * np.pi)
    return bool(round(abs(turns)) == 1)


def _from_faces(rings: Sequence[Points], even_odd: bool, effort: Effort) -> MultiPolygon:
    lines = _edges_once(rings) if _repeats_itself(rings) else rings
    effort.check_crossings(lines)
    pieces = shapely.get_parts(shapely.node(shapely.multilinestrings(lines_through(lines))))
    effort.spend("crossings", max(0, len(pieces) - len(lines)) / 2)
    faces = shapely.get_parts(shapely.polygonize(pieces))
    if not len(faces):
        return NO_WINDOWS
    inner = shapely.get_coordinates(shapely.point_on_surface(faces))
    winding = winding_numbers(inner, rings, effort)
    kept = faces[winding % 2 == 1] if even_odd else faces[winding != 0]
    try:
        return valid(area_of(shapely.coverage_union_all(kept)))
    except shapely.GEOSException:  # rounding has left faces that overlap slightly
        return valid(area_of(shapely.union_all(kept)))


def _edges(rings: Sequence[Points]) -> Points:
    """Every edge as x, y, x, y, with the leftmost end first."""
    edges = np.concatenate([np.hstack([ring[:-1], ring[1:]]) for ring in rings])
    swapped = (edges[:, 0] > edges[:, 2]) | (
        (edges[:, 0] == edges[:, 2]) & (edges[:, 1] > edges[:, 3])
    )
    edges[swapped] = edges[swapped][:, [2, 3, 0, 1]]
    return edges


def _repeats_itself(rings: Sequence[Points]) -> bool:
    """Whether the rings repeat the same edges many times, which makes GEOS slow."""
    edges = _edges(rings)
    marks = (edges * _WEIGHTS).sum(axis=1)  # a hash: equal edges have equal marks
    return len(np.unique(marks)) < _REPEATING * len(edges)


def _edges_once(rings: Sequence[Points]) -> list[Points]:
    """Each distinct edge once, as a separate line."""
    return list(np.unique(_edges(rings), axis=0).reshape(-1, 2, 2))


def _boundary_rings(outlines: NDArray[np.object_]) -> NDArray[np.object_]:
    """Of rings without crossings, those with paint on one side only (nonzero rule)."""
    areas = shapely.polygons(outlines)
    turns = np.where(shapely.is_ccw(outlines), 1, -1)
    tree = shapely.STRtree(areas)
    starts = shapely.get_point(outlines, 0)
    inner, outer = tree.query(starts, predicate="within")
    apart = inner != outer
    outside = np.bincount(inner[apart], turns[outer[apart]], len(outlines))
    boundary: NDArray[np.object_] = outlines[(outside == 0) | (outside + turns == 0)]
    return boundary
