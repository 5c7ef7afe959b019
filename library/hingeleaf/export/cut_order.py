"""Order cuts: inside cuts before outside cuts, with little travel between.

What lies inside another cut must be cut while the paper around it still holds. So a cut and all
that lies within its hull make one group, worked from the inside out, and the route goes from
group to group.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from hingeleaf.export.cubics import Complex, Indices
from hingeleaf.export.drawing import Stroke, StrokeGroup
from hingeleaf.export.route import route
from hingeleaf.geometry.arrays import lines_through


def in_order(shapes: Sequence[StrokeGroup], start: complex = 0j) -> list[StrokeGroup]:
    """The shapes in the order in which they should be cut, coming from `start`."""
    if len(shapes) < 2:
        return list(shapes)
    hulls = shapely.convex_hull(_outlines(shapes))
    within = _within(hulls)
    middles = shapely.get_coordinates(shapely.centroid(hulls)) @ [1, 1j]
    return [shapes[index] for index in _inside_out(within, middles, -1, start)]


def begun(strokes: Sequence[Stroke], starts: Sequence[Indices], at: complex = 0j) -> list[Stroke]:
    """The strokes in the given order, each begun where that makes the travel shortest.

    Closed strokes begin at one of the nodes named in `starts`, open ones at either end. The
    choice is exact: for every stroke and every start, the shortest way there (Viterbi).
    """
    if not strokes:
        return []
    best = np.zeros(1)
    ends = np.array([at])
    came_from = []
    for stroke, nodes in zip(strokes, starts, strict=True):
        begins, next_ends = _choices(stroke, nodes)
        ways = best[:, None] + np.abs(ends[:, None] - begins[None, :])
        came_from.append(np.argmin(ways, axis=0))
        best, ends = ways.min(axis=0), next_ends
    choice = int(np.argmin(best))
    chosen = []
    for stroke, nodes, back in zip(strokes[::-1], starts[::-1], came_from[::-1], strict=True):
        chosen.append(_begin(stroke, nodes, choice))
        choice = int(back[choice])
    return chosen[::-1]


def enclosed(inner: Sequence[StrokeGroup], outer: Sequence[StrokeGroup]) -> int:
    """How many of the inner shapes lie within the hull of an outer one."""
    if not inner or not outer:
        return 0
    hulls = shapely.convex_hull(_outlines(outer))
    found, _ = shapely.STRtree(hulls).query(_outlines(inner), predicate="within")
    return len(np.unique(found))


def travel(strokes: Sequence[Stroke], at: tuple[float, float] = (0.0, 0.0)) -> float:
    """How far the tool moves between cuts, coming from `at`, in mm."""
    if not strokes:
        return 0.0
    begins = np.array([stroke.start for stroke in strokes])
    ends = np.array([at, *(stroke.end for stroke in strokes[:-1])])
    return float(np.hypot(*(begins - ends).T).sum())


def _outlines(shapes: Sequence[StrokeGroup]) -> NDArray[np.object_]:
    """Lines through all points of the shapes, control points too: their hulls hold the shapes."""
    return lines_through([np.vstack([each.points for each in shape.strokes]) for shape in shapes])


def _within(hulls: NDArray[np.object_]) -> Indices:
    """For every hull the smallest other hull around it, or -1."""
    inner, outer = shapely.STRtree(hulls).query(hulls, predicate="within")
    area = shapely.area(hulls)
    larger = (area[outer] > area[inner]) | ((area[outer] == area[inner]) & (outer > inner))
    inner, outer = inner[larger], outer[larger]
    parent = np.full(len(hulls), -1)
    for index in np.argsort(-area[outer], kind="stable"):
        parent[inner[index]] = outer[index]
    return parent


def _inside_out(within: Indices, middles: Complex, around: int, start: complex) -> Iterator[int]:
    """Everything within `around` in a short route, each after what lies within it."""
    mine = np.flatnonzero(within == around)
    if not len(mine):
        return
    for index in mine[route(middles[mine], start)]:
        yield from _inside_out(within, middles, int(index), start)
        yield int(index)
        start = complex(middles[index])


def _choices(stroke: Stroke, nodes: Indices) -> tuple[Complex, Complex]:
    """Where a stroke may begin, and where it ends then."""
    if not stroke.closed:
        ends = np.array([stroke.start, stroke.end]) @ [1, 1j]
        return ends, ends[::-1]
    places = np.array([stroke.segments[node - 1][-1] for node in nodes]) @ [1, 1j]
    return places, places


def _begin(stroke: Stroke, nodes: Indices, choice: int) -> Stroke:
    if stroke.closed:
        return stroke.starting_at(int(nodes[choice]))
    return stroke.reversed() if choice else stroke
