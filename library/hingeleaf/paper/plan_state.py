"""A plan in progress: the bridges taken so far, what they tie, and what may still be taken."""

from collections.abc import Collection, Iterator, Sequence
from copy import copy
from dataclasses import replace
from functools import partial

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import polygons_of
from hingeleaf.geometry.ray_casting import Bools, Floats, Ints
from hingeleaf.model import Bridge, Card, Finding, HoldStyle
from hingeleaf.paper.arrangement import NO_FACE
from hingeleaf.paper.bridge_candidates import BridgeCandidates
from hingeleaf.paper.bridges import axes, is_drawable, strip, strips
from hingeleaf.paper.erosion import narrow_window
from hingeleaf.paper.hinge_candidates import HingeCandidates
from hingeleaf.paper.plan_tables import PlanTables

WIDTH_FACTOR = 0.8
"""Factor from one width to the next tried, if no place is clean at the first."""

WIDTH_COUNT = 6
"""Approximate number of widths tried."""

FLAP_TOLERANCE = 0.05
"""mm: a strip that lands this near to a flap is tied to the flap."""


MIN_NARROW_LENGTH = 2.0
"""mm: shorter narrow stretches beside a strip are ignored, since edges are bent and slanted."""


class PlanState:
    """Bridges taken one group at a time, with all checks that need exact geometry."""

    def __init__(
        self,
        tables: PlanTables,
        pinned: Sequence[Bridge] = (),
        hold: HoldStyle = HoldStyle.RIGID,
    ) -> None:
        self.tables, self.width = tables, tables.width
        self.arrangement = arrangement = tables.arrangement
        self.lifts = hold.lifts
        self._spines = hold in (HoldStyle.SPINE, HoldStyle.POINTS)
        self.bridges: list[Bridge] = []
        self.strips: list[Polygon] = []
        self.crossed: list[Polygon] = []
        """The strips from edge to edge of the cut, without overlap onto the paper."""
        self.joins: list[tuple[int, int]] = []
        self.tied: set[int] = set(arrangement.sheet)
        self.settled: set[int] = set(arrangement.sheet)
        """Parts that need no more bridges; one tied only by pinned bridges may not be settled."""
        self.lifted: set[int] = set()
        """Parts tied so that they fold."""
        self.findings: list[Finding] = []
        self.flaps: list[tuple[int, Polygon]] = []
        """Part index and region of each flap. Flap n is body n + 1; the sheet is body 0."""
        self.body: dict[int, int] = {}
        """For each tied part, the body that its flat paper moves with."""
        self._tables: dict[float, BridgeCandidates] = {}
        self._clear: dict[int, tuple[BridgeCandidates, int, Bools]] = {}
        """By table id: the table, how many strips it was checked against, which rows are clear."""
        self._clean_crossings: dict[Bridge, bool] = {}
        for bridge in pinned:
            self._pin(bridge)

    def copied(self) -> "PlanState":
        """An independent copy of the state."""
        other = copy(self)
        for name in ("bridges", "strips", "crossed", "joins", "findings", "flaps"):
            setattr(other, name, [*getattr(self, name)])
        other.tied, other.settled, other.lifted = {*self.tied}, {*self.settled}, {*self.lifted}
        other.body, other._tables, other._clear = {**self.body}, {**self._tables}, {}
        return other

    @property
    def card(self) -> Card:
        """The card planned for."""
        return self.arrangement.card

    @property
    def pending(self) -> list[int]:
        """Loose parts that still need bridges, largest first."""
        return [part for part in self.arrangement.loose if part not in self.settled]

    def widths(self) -> Iterator[float]:
        """The requested width and narrower ones, down to the card's least web."""
        least = min(self.width, self.card.least_web)
        width = min(self.width, max(self.arrangement.spans.max(initial=0.0), least))
        step = min(WIDTH_FACTOR, (least / width) ** (1 / WIDTH_COUNT))
        while width > least * 1.05:
            yield width
            width *= step
        yield least

    def candidates(self, width: float) -> BridgeCandidates:
        """Every clean place for a strip of this width to a pending part, cheapest first."""
        if width not in self._tables:
            spans = self.arrangement.spans
            roomy = tuple(part for part in self.pending if spans[part] > width)
            self._tables[width] = self.tables.candidates(width, roomy, spines=self._spines)
        return self._tables[width]

    def mouths(self, part: int, width: float) -> BridgeCandidates:
        """Clean places for one wide strip to a part, cheapest first."""
        return self.tables.mouths(part, width, self._spines)

    def free(self, candidates: BridgeCandidates, rows: Ints) -> Bools:
        """Mask of the rows that, with their images, are clear of every strip taken."""
        table, count, clear = self._clear.get(
            id(candidates), (candidates, 0, np.ones(len(candidates), dtype=bool))
        )
        if count < len(self.crossed):
            new = self.crossed[count:]
            clear[candidates.tree.query(new, predicate="dwithin", distance=self.gap)[1]] = False
        self._clear[id(candidates)] = table, len(self.crossed), clear
        return np.asarray(clear[candidates.images[rows]].all(axis=1))

    def rows_to_tied(
        self, candidates: BridgeCandidates, part: int, others: Collection[int] = ()
    ) -> Ints:
        """The free rows that tie a part to a tied part or to one of `others`, cheapest first."""
        rows = np.flatnonzero(np.isin(candidates.other(part), [*self.tied, *others]))
        return rows[self.free(candidates, rows)]

    def rows_by_body(
        self, candidates: BridgeCandidates, part: int, others: Collection[int] = ()
    ) -> Iterator[Ints]:
        """The free rows to tied parts or to `others`, grouped by the body that moves as one piece.

        The sheet's group comes first. A part tied to two flaps would keep both from folding.
        """
        rows = self.rows_to_tied(candidates, part, others)
        bodies = self._landing_bodies(candidates, part, rows)
        held = {self._body_at(bridge, part) for bridge in self.bridges_of(part)}
        for body in sorted(set(bodies.tolist()), key=lambda body: (body != 0, body)):
            if held <= {body}:
                yield rows[bodies == body]

    def _landing_bodies(self, candidates: BridgeCandidates, part: int, rows: Ints) -> Ints:
        """The body to which each row ties a part."""
        here = candidates.parts[rows, 0] == part
        lands = np.where(here[:, None], candidates.end[rows], candidates.start[rows])
        return self._bodies(candidates.other(part)[rows], lands)

    def _body_at(self, bridge: Bridge, part: int) -> int:
        """The body to which a bridge ties a part."""
        ends = shapely.get_coordinates(axes([bridge]))
        others = self.arrangement.face_at(ends)
        away = np.flatnonzero(others != part)[:1]
        if not len(away) or (others == NO_FACE).any():
            return 0
        if any(bridge.folds) and not bridge.pinned:  # flaps hinge next to it
            return self.body.get(int(others[away[0]]), 0)
        return int(self._bodies(others[away], ends[away])[0])

    def _bodies(self, parts: Ints, places: Floats) -> Ints:
        """The body of each part (n,) at a point (n, 2): 0 for the sheet, else a flap."""
        bodies = np.array([self.body.get(part, 0) for part in parts.tolist()], dtype=np.intp)
        meant = set(parts.tolist())
        for number, (part, region) in enumerate(self.flaps, start=1):
            if part in meant:
                own = np.flatnonzero(parts == part)
                near = shapely.dwithin(region, shapely.points(places[own]), FLAP_TOLERANCE)
                bodies[own[near]] = number
        return bodies

    def fits(self, candidates: BridgeCandidates, rows: Sequence[int]) -> bool:
        """Whether strips are clean, clear of each other, and tie no part to two bodies."""
        if not all(self.crosses_cleanly(candidates, row) for row in rows) or not self.apart(
            candidates, rows
        ):
            return False
        if not self.flaps:
            return True
        found: dict[int, set[int]] = {}
        for row in rows:
            for part in candidates.parts[row].tolist():
                if part not in self.tied:
                    body = self._landing_bodies(candidates, part, np.array([row]))
                    found.setdefault(part, set()).update(body.tolist())
        return all(len(bodies) == 1 for bodies in found.values())

    def apart(self, candidates: BridgeCandidates, rows: Sequence[int]) -> bool:
        """Whether strips are clear of each other."""
        crossed = candidates.crossings(rows)
        near = shapely.dwithin(crossed[:, None], crossed[None, :], self.gap)
        return not np.triu(near, 1).any()

    @property
    def gap(self) -> float:
        """mm: least distance between two bridges, so that the window between them can be cut."""
        return max(self.card.least_window, 1.0)

    def crosses_cleanly(self, candidates: BridgeCandidates, row: int) -> bool:
        """Whether a strip crosses exactly one cut, from side to side, by exact overlay."""
        key = candidates.bridge(row)
        if key not in self._clean_crossings:
            self._clean_crossings[key] = self._crosses_once(candidates.strips([row])[0])
        return self._clean_crossings[key]

    def _crosses_once(self, rectangle: Polygon) -> bool:
        arrangement = self.arrangement
        touched = arrangement.window_tree.query(rectangle, predicate="intersects")
        slits = shapely.intersection(arrangement.slits, rectangle)
        if len(touched) == 0:
            return bool(slits.length > 0)
        if len(touched) > 1 or slits.length > 0:
            return False
        window = arrangement.window_list[touched[0]]
        pieces = polygons_of(shapely.intersection(window, rectangle))
        return len(pieces) == 1 and not _runs_along_an_edge(
            rectangle, window, self.card.least_window
        )

    def leaves_nibs(self, candidates: BridgeCandidates, rows: Sequence[int]) -> bool:
        """Whether the strips leave a piece or strip of window too narrow to be cut cleanly."""
        new = candidates.strips(rows)
        every = np.append(new, self.strips)
        over, under = self.arrangement.window_tree.query(every, predicate="intersects")
        for index in np.unique(under[over < len(new)]).tolist():
            window = self.arrangement.window_list[index]
            left = shapely.difference(window, shapely.union_all(every[over[under == index]]))
            if not self.tables.is_narrow(index):
                laid = shapely.union_all(new)
                beside = polygons_of(left)
                beside = beside[shapely.dwithin(beside, laid, self.gap)]
                if narrow_window(MultiPolygon(list(beside)), self.card.least_window, laid):
                    return True
            elif self._any_nib(left) and not self._any_nib(window):
                return True
        return False

    def _any_nib(self, window: BaseGeometry) -> bool:
        """Whether any piece is everywhere narrower than the card's least window."""
        cores = shapely.buffer(polygons_of(window), -self.card.least_window / 2)
        return bool(shapely.is_empty(cores).any())

    def with_images(
        self, candidates: BridgeCandidates, rows: Sequence[int], elements: Ints | None = None
    ) -> list[int]:
        """The rows and their images under the symmetry, or some elements of it, once each."""
        images = candidates.images[np.array(rows, dtype=np.intp)]
        if elements is not None:
            images = images[:, elements]
        return list(dict.fromkeys(images.ravel().tolist()))

    def take(
        self,
        candidates: BridgeCandidates,
        rows: Sequence[int],
        folding: Collection[tuple[int, int]] = (),
        waiting: Collection[int] = (),
    ) -> None:
        """Take strips; the parts at their ends become tied, and settled unless in `waiting`.

        In a style that lifts, flaps begin only at the strip edges in `folding`: pairs of row and
        side, 0 for left and 1 for right.
        """
        before = set(self.tied)
        bridges = [candidates.bridge(row) for row in rows]
        self.strips += strips(bridges).tolist()
        self.crossed += candidates.crossings(rows).tolist()
        for row, bridge in zip(rows, bridges, strict=True):
            if self.lifts:
                sides = ((row, 0) in folding, (row, 1) in folding)
                bridge = replace(bridge, folds=sides)
            self.bridges.append(bridge)
            first, second = (int(part) for part in candidates.parts[row])
            for part, other in ((first, second), (second, first)):
                if part not in self.tied and other in self.tied:
                    body = self._landing_bodies(candidates, part, np.array([row]))
                    self.body[part] = int(body[0])
            self.joins.append((first, second))
            self._spread_ties()
        self.settled |= self.tied - before - set(waiting)

    def take_flaps(
        self, candidates: BridgeCandidates, part: int, flaps: HingeCandidates, elements: Ints
    ) -> None:
        """Take the strips between which a part's flaps hinge, with their images."""
        symmetry = self.arrangement.symmetry
        folding: set[tuple[int, int]] = set()
        for element in elements.tolist():
            for column, rows in enumerate((flaps.first, flaps.last)):
                images = candidates.images[rows, element]
                along = symmetry.apply_vectors(element, candidates.along[rows])
                turned = (along * candidates.along[images]).sum(axis=1) < 0
                swapped = turned ^ (element >= symmetry.turns)
                sides = flaps.sides[:, column] ^ swapped
                folding |= set(zip(images.tolist(), sides.tolist(), strict=True))
        there = self.pinned_rows(candidates, part)
        both = np.concatenate([flaps.first, flaps.last]).tolist()
        new = [row for row in dict.fromkeys(both) if row not in there]
        foldable = self.tables.foldable(part)
        regions = [
            foldable.region(start, end)
            for start, end in zip(flaps.begins.tolist(), flaps.ends.tolist(), strict=True)
        ]
        images = set(self.arrangement.images[part, elements].tolist())
        waiting = set(self.pending) - images
        self.take(candidates, self.with_images(candidates, new, elements), folding, waiting)
        self.settled |= images & self.tied
        for element in elements.tolist():
            image = int(self.arrangement.images[part, element])
            for region in regions:
                moved = shapely.transform(region, partial(symmetry.apply, element))
                self.flaps.append((image, moved))

    def pinned_rows(self, candidates: BridgeCandidates, part: int) -> list[int]:
        """The rows at whose place a pinned bridge ties the part already."""
        there = [strip(bridge) for bridge in self.bridges_of(part)]
        rows = np.flatnonzero((candidates.parts == part).any(axis=1))
        if not there or not len(rows):
            return []
        near = shapely.dwithin(candidates.strips(rows), shapely.union_all(there), self.gap)
        found: list[int] = rows[near].tolist()
        return found

    def _spread_ties(self) -> None:
        """Mark as tied all parts connected to tied parts."""
        changed = True
        while changed:
            changed = False
            for first, second in self.joins:
                if (first in self.tied) != (second in self.tied):
                    self.tied |= {first, second}
                    changed = True

    def _pin(self, bridge: Bridge) -> None:
        """Keep a bridge unchanged; if it runs from part to part, they are joined."""
        join = NO_FACE, NO_FACE
        if is_drawable(bridge):
            self.strips.append(strip(bridge))
            self.crossed.append(self.strips[-1])
            ends = shapely.get_coordinates(axes([bridge]))
            parts = sorted({int(part) for part in self.arrangement.face_at(ends)})
            if len(parts) == 2 and parts[0] != NO_FACE:
                join = parts[0], parts[1]
        self.bridges.append(bridge)
        self.joins.append(join)
        self._spread_ties()

    def bridges_of(self, part: int) -> list[Bridge]:
        """The bridges that end on a part."""
        return [
            bridge for bridge, join in zip(self.bridges, self.joins, strict=True) if part in join
        ]

    def mouths_of(self, part: int) -> Floats:
        """(m, 2): points of a part nearest to the middles of the bridges that end on it."""
        middles = np.array([bridge.at for bridge in self.bridges_of(part)]).reshape(-1, 2)
        lines = shapely.shortest_line(self.arrangement.part(part), shapely.points(middles))
        mouths: Floats = shapely.get_coordinates(shapely.get_point(lines, 0)).reshape(-1, 2)
        return mouths

    def tie_count(self, part: int, excluding: Collection[int] = ()) -> int:
        """Number of bridges that end on a part, not counting those to the parts in `excluding`."""
        return sum(part in join and not set(join) & set(excluding) for join in self.joins)


def outline_points(part: Polygon, count: int) -> Floats:
    """`count` evenly spaced points (n, 2) along a part's outer edge."""
    edge: BaseGeometry = part.exterior
    places = (np.arange(count) + 0.5) / count
    points: Floats = shapely.get_coordinates(
        shapely.line_interpolate_point(edge, places, normalized=True)
    )
    return points


def _runs_along_an_edge(rectangle: Polygon, window: Polygon, least: float) -> bool:
    """Whether the window beside a strip is narrower than `least` mm over much of its length."""
    corners = shapely.get_coordinates(rectangle)[:4]
    across = corners[1] - corners[0]
    across *= least / np.hypot(*across)
    sides = corners[[[0, 3], [1, 2]]]
    beside = sides + np.array([-across, across])[:, None]
    lines = shapely.linestrings(np.stack([sides, beside]))
    inside, off = shapely.length(shapely.intersection(lines, window))
    return bool((inside - off > np.maximum(MIN_NARROW_LENGTH, inside / 3)).any())
