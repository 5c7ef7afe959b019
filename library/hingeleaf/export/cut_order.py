"""Order cuts: inside cuts before outside cuts, with little travel between.

A cut inside another one must be made while the paper around it still holds. So a cut and all cuts
within its hull form a group, worked from the inside out, and the route goes from group to group:
by nearest neighbour, then 2-opt and or-opt. The two improvements are Croes' (A Method for Solving
Traveling-Salesman Problems, 1958) and Or's (1976), restricted to each point's nearest neighbours,
and repeated only where neighbours on the path changed (Bentley's don't-look bits, 1992), so that
the work is about linear.

The limits below are our own choice; tests/outside/test_export_travel.py compares routes.
"""

from collections import deque
from collections.abc import Iterator, Sequence

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray

from hingeleaf.export.cubics import Complex, Indices
from hingeleaf.export.drawing import Shape, Stroke
from hingeleaf.geometry.members import lines_through


def in_order(shapes: Sequence[Shape], start: complex = 0j) -> list[Shape]:
    """The shapes in cutting order, starting from `start`."""
    if len(shapes) < 2:
        return list(shapes)
    hulls = shapely.convex_hull(_outlines(shapes))
    within = _within(hulls)
    middles = shapely.get_coordinates(shapely.centroid(hulls)) @ [1, 1j]
    return [shapes[index] for index in _inside_out(within, middles, -1, start)]


def choose_starts(
    strokes: Sequence[Stroke], starts: Sequence[Indices], at: complex = 0j
) -> list[Stroke]:
    """The strokes in the given order, with starting points that minimise the travel.

    Closed strokes begin at one of the nodes in `starts`, open ones at either end. The choice is
    exact: for every stroke and start, the shortest path to it (Viterbi).
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


def enclosed(inner: Sequence[Shape], outer: Sequence[Shape]) -> int:
    """Number of inner shapes within the hull of an outer one."""
    if not inner or not outer:
        return 0
    hulls = shapely.convex_hull(_outlines(outer))
    found, _ = shapely.STRtree(hulls).query(_outlines(inner), predicate="within")
    return len(np.unique(found))


def travel(strokes: Sequence[Stroke], at: tuple[float, float] = (0.0, 0.0)) -> float:
    """Travel between cuts in mm, starting from `at`."""
    if not strokes:
        return 0.0
    begins = np.array([stroke.start for stroke in strokes])
    ends = np.array([at, *(stroke.end for stroke in strokes[:-1])])
    return float(np.hypot(*(begins - ends).T).sum())


def _outlines(shapes: Sequence[Shape]) -> NDArray[np.object_]:
    """Lines through all points of the shapes, control points included: their hulls contain them."""
    return lines_through([np.vstack([each.points for each in shape]) for shape in shapes])


def _within(hulls: NDArray[np.object_]) -> Indices:
    """For every hull the index of the smallest other hull around it, or -1."""
    inner, outer = shapely.STRtree(hulls).query(hulls, predicate="within")
    area = shapely.area(hulls)
    larger = (area[outer] > area[inner]) | ((area[outer] == area[inner]) & (outer > inner))
    inner, outer = inner[larger], outer[larger]
    parent = np.full(len(hulls), -1)
    for index in np.argsort(-area[outer], kind="stable"):
        parent[inner[index]] = outer[index]
    return parent


def _inside_out(within: Indices, middles: Complex, around: int, start: complex) -> Iterator[int]:
    """Everything within `around` in a short route, each after the cuts inside it."""
    mine = np.flatnonzero(within == around)
    if not len(mine):
        return
    for index in mine[route(middles[mine], start)]:
        yield from _inside_out(within, middles, int(index), start)
        yield int(index)
        start = complex(middles[index])


def _choices(stroke: Stroke, nodes: Indices) -> tuple[Complex, Complex]:
    """The points where a stroke may begin, and where it ends then."""
    if not stroke.closed:
        ends = np.array([stroke.start, stroke.end]) @ [1, 1j]
        return ends, ends[::-1]
    places: Complex = stroke.nodes[nodes] @ np.array([1, 1j])
    return places, places


def _begin(stroke: Stroke, nodes: Indices, choice: int) -> Stroke:
    if stroke.closed:
        return stroke.starting_at(int(nodes[choice]))
    return stroke.reversed() if choice else stroke


NEIGHBOUR_COUNT = 8
"""Number of nearest neighbours tried as the next point."""
MAX_VISITS = 20
"""Greatest average number of visits per point; rarely more than three are needed."""
MAX_MOVED = 3
"""Greatest number of points moved together."""
MIN_GAIN = 1e-9
"""mm: smaller gains are ignored."""


def route(places: Complex, start: complex = 0j) -> list[int]:
    """The order of a short open path from `start` through all points."""
    path = _Path(np.concatenate([[start], places]))
    waiting = deque(path.order)
    idle = [False] * len(path.order)
    for _ in range(MAX_VISITS * len(path.order)):
        if not waiting:
            break
        place = waiting.popleft()
        idle[place] = True
        for moved in path.improve(place):
            if idle[moved]:
                idle[moved] = False
                waiting.append(moved)
    return [place - 1 for place in path.order[1:]]


class _Path:
    """An open path with a fixed first point."""

    def __init__(self, places: Complex) -> None:
        self.at: list[complex] = places.tolist()
        self.near = _neighbours(places)
        self.order = _nearest_first(places)
        self.position = [0] * len(self.order)
        self._count_from(0, len(self.order))

    def improve(self, place: int) -> set[int]:
        """Try to connect `place` directly to one of its nearest neighbours.

        Returns the points whose neighbours on the path changed.
        """
        near = list(self._worth_trying(place))
        for other in near:
            low, high = sorted((self.position[place], self.position[other]))
            moved = self._reverse(low + 1, high) or self._reverse(low, high - 1)
            if moved:
                return moved
        return next(filter(None, (self._move(place, other) for other in near)), set())

    def _worth_trying(self, place: int) -> Iterator[int]:
        """Neighbours nearer than the point before or after on the path; others gain nothing."""
        index = self.position[place]
        longest = self._step(index, index + 1)
        if index:
            longest = max(longest, self._step(index - 1, index))
        here = self.at[place]
        for other in self.near[place]:
            if abs(self.at[other] - here) >= longest:
                return
            yield other

    def _step(self, one: int, two: int) -> float:
        """The length from position `one` to position `two`; 0 past the end."""
        if two >= len(self.order):
            return 0.0
        return abs(self.at[self.order[one]] - self.at[self.order[two]])

    def _reverse(self, first: int, last: int) -> set[int]:
        """Reverse positions `first` to `last` if that shortens the path."""
        if not 0 < first < last:
            return set()
        before = self._step(first - 1, first) + self._step(last, last + 1)
        after = self._step(first - 1, last) + self._step(first, last + 1)
        if after > before - MIN_GAIN:
            return set()
        self.order[first : last + 1] = self.order[first : last + 1][::-1]
        self._count_from(first, last + 1)
        return self._at(first - 1, first, last, last + 1)

    def _move(self, place: int, near: int) -> set[int]:
        """Move a short stretch that begins at `place` to the other side of `near`."""
        first, target = self.position[place], self.position[near]
        if first == 0:
            return set()
        for last in range(first, min(first + MAX_MOVED, len(self.order))):
            if first - 1 <= target <= last:
                continue
            freed = self._step(first - 1, first) + self._step(last, last + 1)
            freed -= self._step(first - 1, last + 1)
            added = self._step(target, first) + self._step(last, target + 1)
            added -= self._step(target, target + 1)
            if added < freed - MIN_GAIN:
                moved = self._at(first - 1, first, last, last + 1, target, target + 1)
                self._relocate(first, last, target)
                return moved
        return set()

    def _at(self, *positions: int) -> set[int]:
        """The points at the given positions of the path, if they exist."""
        return {self.order[position] for position in positions if position < len(self.order)}

    def _relocate(self, first: int, last: int, target: int) -> None:
        stretch = self.order[first : last + 1]
        del self.order[first : last + 1]
        to = target + 1 if target < first else target + 1 - len(stretch)
        self.order[to:to] = stretch
        self._count_from(min(first, to), max(last, target) + 1)

    def _count_from(self, start: int, stop: int) -> None:
        for index in range(start, stop):
            self.position[self.order[index]] = index


def _neighbours(places: Complex) -> list[list[int]]:
    points = np.column_stack([places.real, places.imag])
    count = min(NEIGHBOUR_COUNT + 1, len(places))
    _, near = scipy.spatial.KDTree(points).query(points, k=count)
    return [list(_others(row, index)) for index, row in enumerate(near.reshape(-1, count).tolist())]


def _others(row: list[int], index: int) -> Iterator[int]:
    return (place for place in row if place != index)


def _nearest_first(places: Complex) -> list[int]:
    """An order that goes from each point to the nearest remaining one."""
    order, left = [0], np.arange(1, len(places))
    while len(left):
        nearest = int(np.argmin(np.abs(places[left] - places[order[-1]])))
        order.append(int(left[nearest]))
        left = np.delete(left, nearest)
    return order
