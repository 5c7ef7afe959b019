"""A plan in the making: the bridges taken so far, what they tie, and what may still be taken."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import Bridge, Card, Finding
from hingeleaf.paper.bridges import strip
from hingeleaf.paper.casting import Bools, Ints
from hingeleaf.paper.crossings import MOST_SKEW, Crossings, find_crossings, strips
from hingeleaf.paper.ground import NOBODY, Ground
from hingeleaf.paper.sheets import polygons_of
from hingeleaf.paper.starts import all_starts
from hingeleaf.paper.strips import axes, is_drawable

NARROWER = 0.8
"""Where a width finds no clean place, the next one tried is this share of it."""

MOST_WIDTHS = 12
"""However wide a bridge was asked for, hardly more widths than this are tried."""

SPACING = 0.2
"""Distance between the places tried along a cut, in widths."""

SPACING_RANGE = 0.6, 2.0
"""mm: the least and the largest such distance."""

WIDE = 0.1
"""What that distance is at least, in widths: wide mouths need no finer one."""


class Draft:
    """Bridges taken one group at a time, with every check that needs exact geometry."""

    def __init__(self, ground: Ground, width: float, pinned: Sequence[Bridge] = ()) -> None:
        self.ground = ground
        self.width = width
        self.bridges: list[Bridge] = []
        self.strips: list[Polygon] = []
        self.joins: list[tuple[int, int]] = []
        self.tied: set[int] = set(ground.sheet)
        self.settled: set[int] = set(ground.sheet)
        """Parts that need no more bridges. One that is only pinned may be tied and not settled."""
        self.findings: list[Finding] = []
        self._crossings: dict[float, Crossings] = {}
        self._sound: dict[Bridge, bool] = {}
        self._wide: dict[int, bool] = {}
        for bridge in pinned:
            self._pin(bridge)

    @property
    def card(self) -> Card:
        """The card that the plan is for."""
        return self.ground.card

    @property
    def pending(self) -> list[int]:
        """Parts that still need bridges, largest first."""
        return [part for part in self.ground.loose if part not in self.settled]

    def widths(self) -> Iterator[float]:
        """The width asked for and narrower ones, down to the card's least web."""
        least = min(self.width, self.card.least_web)
        width = min(self.width, max(self.ground.spans.max(initial=0.0), least))
        step = min(NARROWER, (least / width) ** (1 / MOST_WIDTHS))
        while width > least * 1.05:
            yield width
            width *= step
        yield least

    def crossings(self, width: float) -> Crossings:
        """Every clean place for a strip of this width to a part that is pending, cheapest first."""
        if width not in self._crossings:
            self._crossings[width] = self.crossings_of(self.pending, width)
        return self._crossings[width]

    def crossings_of(
        self, parts: Collection[int], width: float, most_skew: float = MOST_SKEW
    ) -> Crossings:
        """Every clean place for a strip of this width to one of some parts, cheapest first."""
        spacing = max(float(np.clip(SPACING * width, *SPACING_RANGE)), WIDE * width)
        roomy = [part for part in parts if self.ground.spans[part] > width]
        starts = all_starts(self.ground, spacing, roomy)
        return find_crossings(self.ground, starts, width, most_skew=most_skew)

    def free(self, crossings: Crossings, rows: Ints) -> Bools:
        """Which rows, with their images, keep clear of every strip already taken."""
        if not self.strips or not len(rows):
            return np.ones(len(rows), dtype=bool)
        _, near = crossings.tree.query(self.strips, predicate="dwithin", distance=self.gap)
        clear = np.ones(len(crossings), dtype=bool)
        clear[near] = False
        twins = np.where(crossings.twin[rows] >= 0, crossings.twin[rows], rows)
        free: Bools = clear[rows] & clear[twins]
        return free

    def rows_to_tied(self, crossings: Crossings, part: int) -> Ints:
        """The free rows that tie a part to one that is tied, cheapest first."""
        rows = np.flatnonzero(np.isin(crossings.other(part), list(self.tied)))
        return rows[self.free(crossings, rows)]

    def rows_there(self, crossings: Crossings, part: int) -> Ints:
        """The rows in whose place the part is tied already, by a pinned bridge."""
        there = [strip(bridge) for bridge in self.bridges_of(part)]
        rows = np.flatnonzero(np.isin(crossings.other(part), list(self.tied)))
        if not there or not len(rows):
            return rows[:0]
        near = shapely.dwithin(strips(crossings.take(rows)), shapely.union_all(there), self.gap)
        found: Ints = rows[near]
        return found

    def apart(self, crossings: Crossings, rows: Sequence[int]) -> bool:
        """Whether strips keep clear of each other."""
        rectangles = strips(crossings.take(np.array(rows, dtype=np.intp)))
        near = shapely.dwithin(rectangles[:, None], rectangles[None, :], self.gap)
        return not np.triu(near, 1).any()

    @property
    def gap(self) -> float:
        """The least distance between two bridges, so that the window between them can be cut."""
        return max(self.card.least_window, 1.0)

    def sound(self, crossings: Crossings, row: int) -> bool:
        """Whether a strip crosses one cut only, from side to side, by exact overlay."""
        key = crossings.bridge(row)
        if key not in self._sound:
            self._sound[key] = self._crosses_once(strips(crossings.take(np.array([row])))[0])
        return self._sound[key]

    def _crosses_once(self, rectangle: Polygon) -> bool:
        ground = self.ground
        touched = ground.window_tree.query(rectangle, predicate="intersects")
        slits = shapely.intersection(ground.slits, rectangle)
        if len(touched) == 0:
            return bool(slits.length > 0)
        if len(touched) > 1 or slits.length > 0:
            return False
        return (
            len(polygons_of(shapely.intersection(ground.window_list[touched[0]], rectangle))) == 1
        )

    def leaves_nibs(self, crossings: Crossings, rows: Sequence[int]) -> bool:
        """Whether the strips leave a piece of window that is too small to be cut cleanly."""
        new = strips(crossings.take(np.array(rows, dtype=np.intp)))
        every = np.append(new, self.strips)
        over, under = self.ground.window_tree.query(every, predicate="intersects")
        for index in np.unique(under[over < len(new)]):
            if self._is_wide(int(index)):
                window = self.ground.window_list[index]
                left = shapely.difference(window, shapely.union_all(every[over[under == index]]))
                if any(self._is_nib(piece) for piece in polygons_of(left)):
                    return True
        return False

    def _is_wide(self, index: int) -> bool:
        if index not in self._wide:
            self._wide[index] = not self._is_nib(self.ground.window_list[index])
        return self._wide[index]

    def _is_nib(self, piece: Polygon) -> bool:
        """Whether a piece is everywhere narrower than the card's least window."""
        least = self.card.least_window
        if piece.area >= piece.length * least / 2:  # its inscribed circle is at least area/length
            return False
        return bool(shapely.buffer(piece, -least / 2).is_empty)

    def with_images(self, crossings: Crossings, rows: Sequence[int]) -> list[int]:
        """The rows and their mirror images, each once."""
        both = [one for row in rows for one in (row, int(crossings.twin[row])) if one >= 0]
        return list(dict.fromkeys(both))

    def take(self, crossings: Crossings, rows: Sequence[int]) -> None:
        """Take strips; the parts at their ends are tied from now on, and settled."""
        before = set(self.tied)
        for row in rows:
            bridge = crossings.bridge(row)
            first, second = (int(part) for part in crossings.parts[row])
            self.bridges.append(bridge)
            self.strips.append(strip(bridge))
            self.joins.append((first, second))
            self._spread()
        self.settled |= self.tied - before

    def _spread(self) -> None:
        """Let being tied spread over all joins."""
        changed = True
        while changed:
            changed = False
            for first, second in self.joins:
                if (first in self.tied) != (second in self.tied):
                    self.tied |= {first, second}
                    changed = True

    def _pin(self, bridge: Bridge) -> None:
        """Keep a bridge as it is; if it runs from part to part, they are joined."""
        join = NOBODY, NOBODY
        if is_drawable(bridge):
            self.strips.append(strip(bridge))
            ends = shapely.get_coordinates(axes([bridge]))
            parts = sorted({int(part) for part in self.ground.owner(ends)})
            if len(parts) == 2 and parts[0] != NOBODY:
                join = parts[0], parts[1]
        self.bridges.append(bridge)
        self.joins.append(join)
        self._spread()

    def bridges_of(self, part: int) -> list[Bridge]:
        """The bridges that end on a part."""
        return [
            bridge for bridge, join in zip(self.bridges, self.joins, strict=True) if part in join
        ]

    def ties_of(self, part: int) -> int:
        """How many bridges end on a part."""
        return sum(part in join for join in self.joins)


def outline_points(part: Polygon, count: int) -> NDArray[np.float64]:
    """`count` points (n, 2) evenly along a part's outer edge."""
    edge: BaseGeometry = part.exterior
    places = (np.arange(count) + 0.5) / count
    points: NDArray[np.float64] = shapely.get_coordinates(
        shapely.line_interpolate_point(edge, places, normalized=True)
    )
    return points
