"""Join shapes that nearly touch, smooth outlines, and remove specks too small to cut."""

import math
from collections.abc import Callable

import numpy as np
import scipy
import shapely
from shapely import LinearRing, MultiPolygon, Polygon

from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.geometry.members import area_of, valid
from hingeleaf.model import Points, Severity
from hingeleaf.text import plural
from hingeleaf.units import format_mm

_STEP = 0.25
_MOVE = 0.75
_THINNING = 0.1
"""Shares of the tolerance: the step along an outline (half of it is lost where a corner lies
between two points), how far a point may move, and the error of leaving points out."""
_SPREAD = 8
"""Standard deviation, in steps along an outline, of the bell curve by which points are averaged
(our own choice)."""
_FEWEST_STEPS = 80
_MAX_STEPS = 2_000_000
"""Fewest and most steps along one outline."""


def clean(
    area: MultiPolygon, join: float, smoothing: float, least: float, notes: Diagnostics
) -> MultiPolygon:
    """The area joined, smoothed and without specks; a length of 0 skips its step."""
    if join > 0:
        area = joined(area, join)
    if smoothing > 0:
        area = smoothed(area, smoothing)
    return without_specks(area, least, notes) if least > 0 else area


def joined(area: MultiPolygon, distance: float) -> MultiPolygon:
    """Parts nearer to each other than `distance` merged (a morphological closing)."""
    grown = shapely.buffer(area, distance / 2, quad_segs=16)
    closed = shapely.buffer(grown, -distance / 2, quad_segs=16)
    return area_of(shapely.union(area, closed))


def smoothed(area: MultiPolygon, tolerance: float) -> MultiPolygon:
    """Outlines without raggedness and with few points, within `tolerance` of the originals.

    Each point moves a little towards the mean of its neighbourhood along the outline, weighted by a
    bell curve, so that ripples disappear and corners stay. Rings shorter than some tolerances, or
    with too many steps, are left unchanged.
    """
    polygons = [
        Polygon(
            _smooth_ring(polygon.exterior, tolerance),
            [_smooth_ring(hole, tolerance) for hole in polygon.interiors],
        )
        for polygon in area.geoms
    ]
    return valid(area_of(shapely.make_valid(MultiPolygon(polygons))))


def _smooth_ring(ring: LinearRing, tolerance: float) -> LinearRing:
    steps = math.ceil(ring.length / (_STEP * tolerance))
    if not _FEWEST_STEPS <= steps <= _MAX_STEPS:
        return ring
    points = _even_steps(shapely.get_coordinates(ring), steps)
    move = (
        scipy.ndimage.gaussian_filter1d(points, _SPREAD, axis=0, mode="wrap", truncate=2.5) - points
    )
    far = np.hypot(*move.T)
    most = tolerance * _MOVE
    move[far > most] *= (most / far[far > most])[:, None]
    even = LinearRing(points + move)
    thinned = shapely.simplify(even, tolerance * _THINNING, preserve_topology=False)
    is_whole = isinstance(thinned, LinearRing) and thinned.is_valid
    return thinned if is_whole else even


def _even_steps(corners: Points, steps: int) -> Points:
    """Evenly spaced points along a closed line; the first is not repeated."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(corners, axis=0).T))])
    spots = np.linspace(0.0, along[-1], steps, endpoint=False)
    return np.column_stack([np.interp(spots, along, corners[:, axis]) for axis in (0, 1)])


def without_small(
    area: MultiPolygon, large: Callable[[Polygon], bool]
) -> tuple[MultiPolygon, int, int]:
    """The area without polygons and holes that are not `large`, and the counts of both."""
    kept = [part for part in area.geoms if large(part)]
    holes = [[hole for hole in part.interiors if large(Polygon(hole))] for part in kept]
    lost = sum(len(part.interiors) - len(of) for part, of in zip(kept, holes, strict=True))
    if lost:
        kept = [Polygon(part.exterior, of) for part, of in zip(kept, holes, strict=True)]
    removed = len(area.geoms) - len(kept)
    return MultiPolygon(kept) if lost or removed else area, removed, lost


def without_specks(area: MultiPolygon, least: float, notes: Diagnostics) -> MultiPolygon:
    """The area without windows, and without islands inside windows, nowhere wider than `least`."""
    area, windows, islands = without_small(area, lambda part: is_wider(part, least))
    for count, what in ((windows, "window"), (islands, "speck")):
        if count:
            of_paper = " of paper" if what == "speck" else ""
            sentence = f"{plural(count, what)}{of_paper} narrower than {format_mm(least)} removed."
            notes.add("speck", sentence, severity=Severity.NOTE)
    return area


def is_wider(polygon: Polygon, least: float) -> bool:
    """Whether a circle of diameter `least` fits inside."""
    left, top, right, bottom = polygon.bounds
    if min(right - left, bottom - top) < least:
        return False
    if polygon.area > 2 * least * polygon.length:
        return True
    edge, middle = polygon.boundary, polygon.centroid
    if edge.distance(middle) > least / 2 and polygon.contains(middle):
        return True
    return not shapely.is_empty(shapely.buffer(polygon, -least / 2, quad_segs=8))
