"""Find minimum widths on a whole sheet: narrow webs between and within cuts, small windows.

Computing every neck of a panel takes seconds, and most are wide. Only those under a limit matter.
Between two cuts, the distance is enough; within one cut, a narrow web exists only if a buffer of
half the limit closes a ring. Necks are computed only for such cuts.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.geometry.members import (
    Geometries,
    connected_groups,
    multiline_of,
    near_pairs,
    windows_of,
)
from hingeleaf.geometry.ray_casting import Bools, Floats, Ints
from hingeleaf.geometry.triangulation import Sampling
from hingeleaf.model import XY, Card, Cuts, Finding
from hingeleaf.panel.findings import FindingKind, found
from hingeleaf.paper.necks import Neck, find_necks
from hingeleaf.units import format_mm

WIDTH_TOLERANCE = 2e-3
"""mm: the precision of stored geometry; smaller shortfalls are ignored."""
TOUCH_DISTANCE = 1e-4
"""mm: cuts closer than this count as touching."""
SIMPLIFY_TOLERANCE = 0.02
"""mm by which outlines are simplified before the test for narrow places within a cut."""
BUFFER_SHARES = (0.5, 0.25)
"""Buffer distances as shares of the limit; too large a buffer would fill the space behind a
neck."""
MIN_HOLLOW = 0.5
"""A cut whose hull has less paper than this many squares of a buffer distance closes no ring at it:
three points around a circle of that radius, evenly spaced, enclose 1.3 squares."""
QUARTER_SEGMENTS = 4
"""Segments of a quarter circle in buffers."""
REACH_STEP = 1.5
"""Where no web is narrow, the search distance grows by this factor until the narrowest is found."""

SAMPLING = Sampling(passes=3)


def narrow_webs(cuts: Cuts, sheet: Polygon, limit: float) -> tuple[Neck, ...]:
    """The webs narrower than `limit` mm, narrowest first; if there is none, the narrowest one.

    Two cuts that approach each other in several places have a web in each; places closer together
    than `limit` count as one. Empty if nothing is cut.
    """
    webs = _Webs.of(cuts, sheet)
    if webs is None:
        return ()
    found = [*webs.between(limit), *webs.within(limit)]
    narrow = [web for web in found if web.width < limit] or webs.narrowest(limit)
    return tuple(sorted(narrow, key=lambda web: web.width))


@dataclass(frozen=True, slots=True)
class _Webs:
    """The cuts of a sheet, its edge last, and groups of cuts that touch."""

    cuts: Geometries
    edges: Geometries
    """Their outlines."""
    tree: shapely.STRtree
    groups: Geometries
    simple: Geometries
    """The groups, simplified."""
    hollow: Floats
    """mm²: area of each group's convex hull that is not cut."""
    widest: float
    """Upper bound of the width of a web on this sheet."""

    @classmethod
    def of(cls, cuts: Cuts, sheet: Polygon) -> _Webs | None:
        """None where nothing is cut."""
        solid: Geometries = np.concatenate(
            [shapely.get_parts(cuts.windows), shapely.get_parts(cuts.slits)]
        )
        if not len(solid):
            return None
        groups = _touching(solid)
        simple = shapely.simplify(groups, SIMPLIFY_TOLERANCE, preserve_topology=False)
        edged: Geometries = np.append(solid, sheet.exterior)
        outlines = np.where(shapely.get_dimensions(edged) == 2, shapely.boundary(edged), edged)
        hollow = shapely.area(shapely.convex_hull(simple)) - shapely.area(simple)
        diagonal = math.dist(sheet.bounds[:2], sheet.bounds[2:])
        return cls(edged, outlines, shapely.STRtree(edged), groups, simple, hollow, 2 * diagonal)

    def between(self, limit: float) -> Iterator[Neck]:
        """Webs between different cuts, and between a cut and the sheet's edge."""
        found: dict[int, list[XY]] = {}
        pairs, lines = self._places(limit)
        free = self._unobstructed(lines)
        for pair, web in zip(pairs[free].tolist(), _webs(lines[free]), strict=True):
            others = found.setdefault(pair, [])
            if all(math.dist(web.at, other) > limit for other in others):
                others.append(web.at)
                yield web

    def within(self, limit: float) -> Iterator[Neck]:
        """Webs between two stretches of one cut or of touching cuts."""
        for group in self.groups[self._closes(limit)]:
            yield from find_necks(
                Cuts(windows_of(group), multiline_of(group)), widest=limit, sampling=SAMPLING
            )

    def _closes(self, limit: float) -> Bools:
        """Mask of the groups that enclose paper when grown by a share of the limit."""
        closes = np.zeros(len(self.groups), bool)
        for share in BUFFER_SHARES:
            reach = share * limit + SIMPLIFY_TOLERANCE
            open_ = np.flatnonzero(~closes & (self.hollow > MIN_HOLLOW * reach**2))
            grown = shapely.buffer(self.simple[open_], reach, quad_segs=QUARTER_SEGMENTS)
            closes[open_] = shapely.get_num_interior_rings(grown) > 0
        return closes

    def narrowest(self, reach: float) -> list[Neck]:
        """The narrowest web if all are wider than `reach`; empty if there is none."""
        reach = max(reach, TOUCH_DISTANCE)
        while reach < self.widest:
            reach *= REACH_STEP
            _, _, lines = self._pairs(reach)
            nearest = _webs(lines[self._unobstructed(lines)[:1]])
            found = [*nearest, *self.within(nearest[0].width if nearest else reach)]
            if found:
                return [min(found, key=lambda web: web.width)]
        return []

    def _pairs(self, limit: float) -> tuple[Ints, Ints, Geometries]:
        """Pairs of disjoint cuts closer than `limit`, and the shortest lines between them."""
        one, other = near_pairs(self.cuts, limit)
        lines = shapely.shortest_line(self.cuts[one], self.cuts[other])
        apart = shapely.length(lines) > TOUCH_DISTANCE
        return one[apart], other[apart], lines[apart]

    def _places(self, limit: float) -> tuple[Ints, Geometries]:
        """The shortest lines of all places where two cuts are closer than `limit`.

        Each with the index of its pair; first those between the pairs as a whole.
        """
        one, other, lines = self._pairs(limit)
        first, pair = np.unique(one, return_inverse=True)
        grown = shapely.buffer(self.cuts[first], limit, quad_segs=QUARTER_SEGMENTS * 2)
        near = shapely.line_merge(shapely.intersection(self.edges[other], grown[pair]))
        several = np.flatnonzero(shapely.get_num_geometries(near) > 1)
        stretches, pair = shapely.get_parts(near[several], return_index=True)
        pair = several[pair]
        more = shapely.shortest_line(self.cuts[one[pair]], stretches)
        narrow = (shapely.length(more) > TOUCH_DISTANCE) & (shapely.length(more) < limit)
        owner: Ints = np.concatenate([np.arange(len(lines)), pair[narrow]])
        return owner, np.concatenate([lines, more[narrow]])

    def _unobstructed(self, lines: Geometries) -> Ints:
        """The indices of the lines that cross no third cut, shortest first."""
        crossed = self.tree.query(lines, predicate="intersects")[0]
        free = np.bincount(crossed, minlength=len(lines)) <= 2
        order: Ints = np.argsort(shapely.length(lines), kind="stable")
        return order[free[order]]


def _webs(lines: Geometries) -> list[Neck]:
    """The webs across which lines with two points run."""
    ends = shapely.get_coordinates(lines).reshape(-1, 2, 2).tolist()
    return [
        Neck((x, y), (to_x, to_y), math.dist((x, y), (to_x, to_y)), in_loop=True)
        for (x, y), (to_x, to_y) in ends
    ]


def _touching(solid: Geometries) -> Geometries:
    """The cuts, with touching ones combined."""
    group = connected_groups(np.stack(near_pairs(solid, TOUCH_DISTANCE), axis=1), len(solid))
    if len(np.unique(group)) == len(solid):
        return solid
    members = np.split(solid[np.argsort(group, kind="stable")], np.cumsum(np.bincount(group))[:-1])
    return np.array([shapely.union_all(each) for each in members], dtype=object)


def thin_webs(webs: Iterable[Neck], card: Card) -> Iterator[Finding]:
    """Webs under the card's least web."""
    for web in webs:
        if web.width < card.least_web - WIDTH_TOLERANCE:
            hangs = f", and it carries {web.hanging_area:.0f} mm²" if web.hanging_area >= 1 else ""
            yield found(
                FindingKind.THIN_WEB,
                f"The paper is only {_format_down(web.width)} wide here{hangs}; "
                f"{card.name} needs {format_mm(card.least_web)}.",
                web.at,
            )


def small_windows(cuts: Cuts, card: Card) -> Iterator[Finding]:
    """Windows in which no circle as wide as the card's least window fits."""
    windows = shapely.get_parts(cuts.windows)
    if not len(windows):
        return
    radius = card.least_window / 2 - WIDTH_TOLERANCE
    inside = shapely.distance(shapely.point_on_surface(windows), shapely.boundary(windows))
    doubtful = windows[inside < radius]
    room = shapely.buffer(doubtful, -radius, quad_segs=4)
    for window in doubtful[shapely.is_empty(room)]:
        width = 2 * shapely.maximum_inscribed_circle(window).length
        yield found(
            FindingKind.SMALL_WINDOW,
            f"A window is only {_format_down(width)} wide; "
            f"{card.name} needs {format_mm(card.least_window)}.",
            window,
        )


def _format_down(width: float) -> str:
    """Rounded down, so that 0.996 mm is not shown as 1 mm."""
    return format_mm(math.floor(width * 100) / 100)
