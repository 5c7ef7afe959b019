"""Replace a sheet's lines by curves without changing which of them meet or cross.

A curve may deviate by the tolerance, so two lines closer than that could come to cross. Lines near
each other get a tighter tolerance, lines that meet keep their common point, and a stroke that still
crosses itself is fitted more tightly, or follows its line exactly.

The limits below are our own choice; tests/library/export/test_export_curves.py checks what comes
of them.
"""

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from hingeleaf.export.cubics import Indices
from hingeleaf.export.curve_fitting import fit_strokes
from hingeleaf.export.drawing import Points, Stroke, flatten
from hingeleaf.geometry.members import lines_through, near_pairs

EPS_MEET = 1e-4
"""mm: lines nearer than this meet, and points nearer than this are one."""
EPS_REDUNDANT = 1e-3
"""mm: points nearer than this to the line without them are redundant."""
SPACING_RATIO = 3.0
"""A line's tolerance is at most its distance from the next line divided by this."""

REFIT_FACTOR = 0.25
"""Factor on the tolerance for refitting a stroke that crosses itself."""


def trace(lines: Sequence[Points], tolerance: float) -> list[Stroke]:
    """A stroke for every line (n, 2) of mm, rings with their first point repeated."""
    if not len(lines):
        return []
    if tolerance <= 0:
        return [Stroke.through(line) for line in lines]
    geometries, simple = _thinned(lines_through(lines), min(EPS_REDUNDANT, 0.1 * tolerance))
    allowed = np.full(len(lines), float(tolerance))
    meetings = _meetings(geometries, allowed)
    thin = [shapely.get_coordinates(geometry) for geometry in geometries]
    pinned = [np.zeros(len(points), bool) for points in thin]
    for index, places in meetings.items():
        thin[index], pinned[index] = _with_points(thin[index], geometries[index], places)
    strokes = fit_strokes(thin, allowed, pinned)
    for index in _newly_self_crossing(simple, strokes, tolerance):
        (tighter,) = fit_strokes([thin[index]], REFIT_FACTOR * allowed[[index]], [pinned[index]])
        tangled = _newly_self_crossing(simple[[index]], [tighter], tolerance)
        strokes[index] = Stroke.through(thin[index]) if len(tangled) else tighter
    return strokes


def _thinned(
    lines: NDArray[np.object_], by: float
) -> tuple[NDArray[np.object_], NDArray[np.bool_]]:
    """The lines without redundant points, and a mask of those that do not cross themselves.

    A line that would start to cross itself, or a ring that would collapse, stays unchanged.
    """
    thin = shapely.simplify(lines, by, preserve_topology=False)
    flat = shapely.is_closed(lines) & (shapely.get_num_coordinates(thin) < 4)
    simple: NDArray[np.bool_] = shapely.is_simple(thin) & ~flat
    spoilt = np.flatnonzero(~simple)
    thin[spoilt] = lines[spoilt]
    simple[spoilt] = shapely.is_simple(lines[spoilt])
    return thin, simple


def _meetings(geometries: NDArray[np.object_], allowed: Points) -> dict[int, Points]:
    """Points where lines meet others, by line; reduces `allowed` tolerances near others."""
    one, other = near_pairs(geometries, SPACING_RATIO * allowed.max())
    clearance = shapely.distance(geometries[one], geometries[other])
    apart = clearance > EPS_MEET
    for side in (one, other):
        np.minimum.at(allowed, side[apart], clearance[apart] / SPACING_RATIO)
    return _shared_points(geometries, one[~apart], other[~apart])


def _shared_points(
    geometries: NDArray[np.object_], one: Indices, other: Indices
) -> dict[int, Points]:
    """Points where pairs of lines meet: crossings, ends of shared stretches, touching ends."""
    shared = shapely.intersection(geometries[one], geometries[other])
    nearest = shapely.shortest_line(geometries[one], geometries[other])
    places = np.where(shapely.is_empty(shared), nearest, shared)
    found: dict[int, list[Points]] = {}
    for left, right, place in zip(one, other, places, strict=True):
        for side in (int(left), int(right)):
            found.setdefault(side, []).append(shapely.get_coordinates(place))
    return {index: np.concatenate(points) for index, points in found.items()}


def _with_points(
    line: Points, geometry: shapely.LineString, places: Points
) -> tuple[Points, NDArray[np.bool_]]:
    """The line with points at `places` inserted, and a mask of those points."""
    steps = np.hypot(*np.diff(line, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    wanted = np.unique(shapely.line_locate_point(geometry, shapely.points(places)))
    nearest = np.abs(along[:, None] - wanted[None, :])
    there = nearest.min(axis=1) < EPS_MEET
    new = wanted[nearest.min(axis=0) >= EPS_MEET]
    points = np.vstack([line, shapely.get_coordinates(geometry.interpolate(new))])
    order = np.argsort(np.concatenate([along, new]), kind="stable")
    pinned = np.concatenate([there, np.ones(len(new), bool)])
    return points[order], pinned[order]


def _newly_self_crossing(
    simple: NDArray[np.bool_], strokes: Sequence[Stroke], tolerance: float
) -> Indices:
    """Indices of strokes that cross themselves although their lines do not."""
    flat = lines_through(flatten(strokes, tolerance / 4))
    return np.flatnonzero(simple & ~shapely.is_simple(flat))
