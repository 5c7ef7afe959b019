"""A plan in the making: the bridges taken so far, what they tie, and what may still be taken."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import Bridge, Card, Finding
from hingeleaf.paper.arrangement import NO_FACE, CutArrangement
from hingeleaf.paper.bridge_candidates import MOST_SKEW, BridgeCandidates, find_candidates, strips
from hingeleaf.paper.bridges import strip
from hingeleaf.paper.candidate_seeds import all_seeds
from hingeleaf.paper.ray_casting import Bools, Ints
from hingeleaf.paper.sheets import polygons_of
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


class PlanState:
    """Bridges taken one group at a time, with every check that needs exact geometry."""

    def __init__(
        self, arrangement: CutArrangement, width: float, pinned: Sequence[Bridge] = ()
    ) -> None:
        self.arrangement = arrangement
        self.width = width
        self.bridges: list[Bridge] = []
        self.strips: list[Polygon] = []
        self.joins: list[tuple[int, int]] = []
        self.tied: set[int] = set(arrangement.sheet)
        self.settled: set[int] = set(arrangement.sheet)
        """Parts that need no more bridges. One that is only pinned may be tied and not settled."""
        self.findings: list[Finding] = []
        self._crossings: dict[float, BridgeCandidates] = {}
        self._sound: dict[Bridge, bool] = {}
        self._wide: dict[int, bool] = {}
        for bridge in pinned:
            self._pin(bridge)

    @property
    def card(self) -> Card:
        """The card that the plan is for."""
        return self.arrangement.card

    @property
    def pending(self) -> list[int]:
        """Parts that still need bridges, largest first."""
        return [part for part in self.arrangement.loose if part not in self.settled]

    def widths(self) -> Iterator[float]:
        """The width asked for and narrower ones, down to the card's least web."""
        least = min(self.width, self.card.least_web)
        width = min(self.width, max(self.arrangement.spans.max(initial=0.0), least))
        step = min(NARROWER, (least / width) ** (1 / MOST_WIDTHS))
        while width > least * 1.05:
            yield width
            width *= step
        yield least

    def candidates(self, width: float) -> BridgeCandidates:
        """Every clean place for a strip of this width to a part that is pending, cheapest first."""
        if width not in self._crossings:
            self._crossings[width] = self.candidates_of(self.pending, width)
        return self._crossings[width]

    def candidates_of(
        self, parts: Collection[int], width: float, most_skew: float = MOST_SKEW
    ) -> BridgeCandidates:
        """Every clean place for a strip of this width to one of some parts, cheapest first."""
        spacing = max(float(np.clip(SPACING * width, *SPACING_RANGE)), WIDE * width)
        roomy = [part for part in parts if self.arrangement.spans[part] > width]
        starts = all_seeds(self.arrangement, spacing, roomy)
        return find_candidates(self.arrangement, starts, width, most_skew=most_skew)

    def free(self, candidates: BridgeCandidates, rows: Ints) -> Bools:
        """Which rows, with their images, keep clear of every strip already taken."""
        if not self.strips or not len(rows):
            return np.ones(len(rows), dtype=bool)
        _, near = candidates.tree.query(self.strips, predicate="dwithin", distance=self.gap)
        clear = np.ones(len(candidates), dtype=bool)
        clear[near] = False
        twins = np.where(candidates.twin[rows] >= 0, candidates.twin[rows], rows)
        free: Bools = clear[rows] & clear[twins]
        return free

    def rows_to_tied(self, candidates: BridgeCandidates, part: int) -> Ints:
        """The free rows that tie a part to one that is tied, cheapest first."""
        rows = np.flatnonzero(np.isin(candidates.other(part), list(self.tied)))
        return rows[self.free(candidates, rows)]

    def rows_there(self, candidates: BridgeCandidates, part: int) -> Ints:
        """The rows in whose place the part is tied already, by a pinned bridge."""
        there = [strip(bridge) for bridge in self.bridges_of(part)]
        rows = np.flatnonzero(np.isin(candidates.other(part), list(self.tied)))
        if not there or not len(rows):
            return rows[:0]
        near = shapely.dwithin(strips(candidates.take(rows)), shapely.union_all(there), self.gap)
        found: Ints = rows[near]
        return found

    def apart(self, candidates: BridgeCandidates, rows: Sequence[int]) -> bool:
        """Whether strips keep clear of each other."""
        rectangles = strips(candidates.take(np.array(rows, dtype=np.intp)))
        near = shapely.dwithin(rectangles[:, None], rectangles[None, :], self.gap)
        return not np.triu(near, 1).any()

    @property
    def gap(self) -> float:
        """The least distance between two bridges, so that the window between them can be cut."""
        return max(self.card.least_window, 1.0)

    def sound(self, candidates: BridgeCandidates, row: int) -> bool:
        """Whether a strip crosses one cut only, from side to side, by exact overlay."""
        key = candidates.bridge(row)
        if key not in self._sound:
            self._sound[key] = self._crosses_once(strips(candidates.take(np.array([row])))[0])
        return self._sound[key]

    def _crosses_once(self, rectangle: Polygon) -> bool:
        arrangement = self.arrangement
        touched = arrangement.window_tree.query(rectangle, predicate="intersects")
        slits = shapely.intersection(arrangement.slits, rectangle)
        if len(touched) == 0:
            return bool(slits.length > 0)
        if len(touched) > 1 or slits.length > 0:
            return False
        return (
            len(polygons_of(shapely.intersection(arrangement.window_list[touched[0]], rectangle)))
            == 1
        )

    def leaves_nibs(self, candidates: BridgeCandidates, rows: Sequence[int]) -> bool:
        """Whether the strips leave a piece of window that is too small to be cut cleanly."""
        new = strips(candidates.take(np.array(rows, dtype=np.intp)))
        every = np.append(new, self.strips)
        over, under = self.arrangement.window_tree.query(every, predicate="intersects")
        for index in np.unique(under[over < len(new)]):
            if self._is_wide(int(index)):
                window = self.arrangement.window_list[index]
                left = shapely.difference(window, shapely.union_all(every[over[under == index]]))
                if any(self._is_nib(piece) for piece in polygons_of(left)):
                    return True
        return False

    def _is_wide(self, index: int) -> bool:
        if index not in self._wide:
            self._wide[index] = not self._is_nib(self.arrangement.window_list[index])
        return self._wide[index]

    def _is_nib(self, piece: Polygon) -> bool:
        """Whether a piece is everywhere narrower than the card's least window."""
        least = self.card.least_window
        if piece.area >= piece.length * least / 2:  # its inscribed circle is at least area/length
            return False
        return bool(shapely.buffer(piece, -least / 2).is_empty)

    def with_images(self, candidates: BridgeCandidates, rows: Sequence[int]) -> list[int]:
        """The rows and their mirror images, each once."""
        both = [one for row in rows for one in (row, int(candidates.twin[row])) if one >= 0]
        return list(dict.fromkeys(both))

    def take(self, candidates: BridgeCandidates, rows: Sequence[int]) -> None:
        """Take strips; the parts at their ends are tied from now on, and settled."""
        before = set(self.tied)
        for row in rows:
            bridge = candidates.bridge(row)
            first, second = (int(part) for part in candidates.parts[row])
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
        join = NO_FACE, NO_FACE
        if is_drawable(bridge):
            self.strips.append(strip(bridge))
            ends = shapely.get_coordinates(axes([bridge]))
            parts = sorted({int(part) for part in self.arrangement.face_at(ends)})
            if len(parts) == 2 and parts[0] != NO_FACE:
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
