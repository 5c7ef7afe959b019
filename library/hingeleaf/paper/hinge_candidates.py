"""Hinge candidates: stretches of a part's outline between two bridge sites, and their fold lines.

Natural fold lines follow from how people see the parts of silhouettes: they join concave corners
(Hoffman and Richards' minima rule, 1984), the shortest first (Singh, Seyranian and Hoffman's
short-cut rule, 1999), and a limb stands out the more, the longer its outline is relative to its
base (Hoffman and Singh's protrusion, 1997; all from memory).
"""

from dataclasses import dataclass, fields
from functools import cached_property

import numpy as np
import shapely
from shapely import LineString, Polygon

from hingeleaf.geometry.ray_casting import Bools, Floats, Ints
from hingeleaf.paper.bridge_candidates import BridgeCandidates
from hingeleaf.paper.hinges import HINGE_TOL, MIN_REACH

MIN_RATIO = 1 / 8
"""Least ratio of hinge length to flap reach that is ever planned."""

MIN_HINGE = 0.8
"""mm: shortest hinge (common practice, no source)."""

MIN_FULLNESS = 0.3
"""Least area of a flap as a share of hinge times least reach; a triangle's is a half (our own
choice)."""

MAX_BEHIND = 0.15
"""How far a flap may extend back behind its own fold line, as a share of its reach."""

CONCAVE_TURN = np.radians(12)
"""Least inward turn of the outline across a bridge that counts as a concave corner."""

OUTLINE_POINTS = 140
"""Number of outline points used to measure flaps."""
COARSE_STEP = 5
"""Every how many outline points are tested in the first, coarse pass."""


@dataclass(frozen=True)
class HingeCandidates:
    """Flaps of one part that could fold, as columns; each of the k rows is one flap.

    A flap runs along the outline from site `first` to site `last` (rows of bridge candidates);
    `sides` (k, 2) are the edges of the two bridges at which it begins and ends, 0 for left and 1
    for right. `start` and `end` (k, 2) are the ends of its fold line.
    """

    first: Ints
    last: Ints
    sides: Ints
    start: Floats
    end: Floats
    length: Floats
    reach: Floats
    area: Floats
    protrusion: Floats
    """Length of the flap's outline over the length of its hinge."""
    concave: Ints
    """How many of the two sites are in concave corners."""
    begins: Floats
    """(k,): position along the outline where the flap begins."""
    ends: Floats

    def __len__(self) -> int:
        return len(self.first)

    def take(self, rows: Ints | Bools) -> "HingeCandidates":
        """The flaps in the given rows."""
        return HingeCandidates(*(getattr(self, column.name)[rows] for column in fields(self)))

    @property
    def ratio(self) -> Floats:
        """(k,): hinge length over reach."""
        return self.length / self.reach

    @property
    def flat_side(self) -> Floats:
        """(k, 2): unit normals of the fold lines, pointing away from the flap."""
        step = (self.end - self.start) / self.length[:, None]
        return np.stack([-step[:, 1], step[:, 0]], axis=1)


class FoldablePart:
    """A part's outline, anticlockwise in its own coordinates, prepared for measuring flaps."""

    def __init__(self, polygon: Polygon) -> None:
        self.polygon = polygon
        self.area = float(Polygon(polygon.exterior).area)
        ring = shapely.orient_polygons(polygon, exterior_cw=False).exterior
        self.ring = LineString(ring.coords)
        dense = shapely.segmentize(self.ring, self.ring.length / OUTLINE_POINTS)
        self.points: Floats = shapely.get_coordinates(dense)
        step = np.diff(self.points, axis=0)
        self.places: Floats = np.concatenate([[0.0], np.cumsum(np.hypot(step[:, 0], step[:, 1]))])
        twice = self.points[:-1, 0] * self.points[1:, 1] - self.points[1:, 0] * self.points[:-1, 1]
        self._swept: Floats = np.concatenate([[0.0], np.cumsum(twice)]) / 2
        self._inside = shapely.buffer(polygon, HINGE_TOL, quad_segs=2)
        shapely.prepare(self._inside)

    @cached_property
    def length(self) -> float:
        """mm: perimeter of the outline."""
        return float(self.places[-1])

    def locate(self, points: Floats) -> Floats:
        """(…): positions along the outline of points (…, 2)."""
        places: Floats = shapely.line_locate_point(self.ring, shapely.points(points))
        return places

    def outer(self, points: Floats) -> Bools:
        """(n,): whether points on the part's boundary lie on its outline, not on a hole."""
        if not self.polygon.interiors:
            return np.ones(len(points), dtype=bool)
        outer: Bools = shapely.dwithin(self.ring, shapely.points(points), HINGE_TOL)
        return outer

    def at(self, places: Floats) -> Floats:
        """(n, 2): the points at positions along the outline, taken modulo its length."""
        places = places % self.length
        return np.stack([np.interp(places, self.places, xy) for xy in self.points.T], axis=1)

    def swept(self, starts: Floats, ends: Floats) -> Floats:
        """(n,): area between the outline from start to end and the chord back."""
        total = []
        for places in (starts, ends):
            here = self.at(places)
            index = np.searchsorted(self.places, places % self.length, side="right") - 1
            before = self.points[index]
            rest = (before[:, 0] * here[:, 1] - here[:, 0] * before[:, 1]) / 2
            total.append((self._swept[index] + rest, here))
        (from_area, start), (to_area, end) = total
        wraps = np.where(ends % self.length < starts % self.length, self._swept[-1], 0.0)
        back = (end[:, 0] * start[:, 1] - start[:, 0] * end[:, 1]) / 2
        return to_area - from_area + wraps + back

    def region(self, start: float, end: float) -> Polygon:
        """Polygon between the outline from one point to another and the chord back."""
        onwards = (self.places[:-1] - start) % self.length
        run = (end - start) % self.length
        order = np.argsort(onwards, kind="stable")
        middle = self.points[:-1][order[(onwards[order] > 0) & (onwards[order] < run)]]
        outline = np.vstack([self.at(np.array([start])), middle, self.at(np.array([end]))])
        region = Polygon(outline)
        return region if region.is_valid else shapely.buffer(region, 0)

    def hinges(
        self, candidates: BridgeCandidates, part: int, rows: Ints, *, alone: bool = False
    ) -> HingeCandidates:
        """Every foldable flap between two of these sites; with `alone`, all round one site."""
        low, high, sides = self._supports(candidates, part, rows)
        concave = self._concave(low, high)
        every = np.arange(len(rows))
        first, last = (every, every) if alone else np.indices((len(rows), len(rows))).reshape(2, -1)
        begins, ends = high[first], low[last]
        width = (high - low) % self.length
        run = (ends - begins) % self.length
        onwards = (low[last] - low[first]) % self.length
        apart = (onwards >= width[first]) & (onwards + width[last] <= self.length)
        apart = apart & (first != last) if not alone else first == last
        start, end = self.at(begins), self.at(ends)
        length = np.hypot(*(end - start).T)
        area = self.swept(begins, ends)
        able = (
            apart & (length > MIN_HINGE) & (area > 0) & (area >= MIN_FULLNESS * MIN_REACH * length)
        )
        found = np.flatnonzero(able)
        for pitch in (COARSE_STEP, 1):
            reach, behind = self._reach(
                start[found], end[found], length[found], begins[found], run[found], pitch
            )
            slack = 1.0 if pitch == 1 else 0.8
            fits = (reach >= slack * MIN_REACH) & (slack * reach * MIN_RATIO <= length[found])
            fits &= behind <= np.maximum(3 * HINGE_TOL, MAX_BEHIND * reach / slack)
            found, reach = found[fits], reach[fits]
        lines = shapely.linestrings(np.stack([start[found], end[found]], axis=1))
        inside = shapely.covers(self._inside, lines)
        found, reach = found[inside], reach[inside]
        one, two = first[found], last[found]
        return HingeCandidates(
            first=rows[one],
            last=rows[two],
            sides=np.stack([sides[one, 1], sides[two, 0]], axis=1),
            start=start[found],
            end=end[found],
            length=length[found],
            reach=reach,
            area=area[found],
            protrusion=run[found] / length[found],
            concave=concave[one].astype(np.intp) + concave[two],
            begins=begins[found],
            ends=ends[found],
        )

    def _supports(
        self, candidates: BridgeCandidates, part: int, rows: Ints
    ) -> tuple[Floats, Floats, Ints]:
        """Start and end (n,) of each strip along the outline, and its edges there (n, 2)."""
        corners = self.locate(candidates.corners(part)[rows])
        middle = self.locate(candidates.mouth(part)[rows])
        forward = (middle - corners[:, 0]) % self.length <= (
            corners[:, 1] - corners[:, 0]
        ) % self.length
        sides = np.where(forward[:, None], [0, 1], [1, 0])
        ordered = np.take_along_axis(corners, sides, axis=1)
        return ordered[:, 0], ordered[:, 1], sides

    def _concave(self, low: Floats, high: Floats) -> Bools:
        """Which supports are where the outline turns inwards."""
        arm = np.clip((high - low) % self.length, 0.5, self.length / 12)
        before = self.at(low) - self.at(low - arm)
        after = self.at(high + arm) - self.at(high)
        cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
        turn: Floats = -np.arctan2(cross, (before * after).sum(axis=1))
        concave: Bools = turn > CONCAVE_TURN
        return concave

    def _reach(
        self, start: Floats, end: Floats, length: Floats, begins: Floats, run: Floats, pitch: int
    ) -> tuple[Floats, Floats]:
        """Reach of flaps beyond their fold lines, and extent behind them."""
        points, places = self.points[:-1:pitch], self.places[:-1:pitch]
        ux, uy = ((end - start) / np.maximum(length, 1e-9)[:, None]).T[:, :, None]
        away = points[None] - start[:, None]
        onwards = places[None] - begins[:, None]
        onwards += np.where(onwards < 0, self.length, 0.0)
        own = onwards <= run[:, None]
        beyond = np.where(own, uy * away[:, :, 0] - ux * away[:, :, 1], 0.0)
        return beyond.max(axis=1, initial=0.0), -beyond.min(axis=1, initial=0.0)
