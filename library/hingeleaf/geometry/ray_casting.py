"""Straight lines cast through a cut sheet: where they meet its cuts, in order."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

MOST_PAIRS = 65_536
"""Lines times cut points worked on at once: what fits a processor's cache."""

FEW = 256
"""With no more cut points than this, looking which of them are near costs more than it saves."""

FAR = 1e9
"""mm: as far as any line reaches."""

TINY = 1e-9
"""mm by which the box about some lines is widened: for roundings."""

BUNCH = 21
"""Lines that are looked at together where there are many cut points: neighbours, if it may be."""


@dataclass(frozen=True, slots=True)
class Hits:
    """Where lines meet cuts, ordered by line and then along it.

    `line`, `at` (signed distance from the line's origin) and `edge` (index of the cut edge) are
    (k,); the hits of line i are those from `first[i]` up to `first[i + 1]`.
    """

    line: Ints
    at: Floats
    edge: Ints
    first: Ints

    def beyond(self, places: Floats) -> Ints:
        """Index of the first hit of every line farther along than its place (n,).

        The index is `first[i + 1]` if there is none.
        """
        passed = self.at <= places[self.line]
        count = np.bincount(self.line[passed], minlength=len(places))
        index: Ints = self.first[:-1] + count
        return index

    def distance(self, index: Ints) -> Floats:
        """`at` of one hit per line, infinite where the index is off that line's hits."""
        lines = np.arange(len(self.first) - 1)
        before, behind = index < self.first[lines], index >= self.first[lines + 1]
        if not len(self.at):
            return np.full(len(lines), np.inf)
        found = self.at[np.clip(index, 0, len(self.at) - 1)]
        return np.where(before, -np.inf, np.where(behind, np.inf, found))

    def edge_of(self, index: Ints) -> Ints:
        """The cut edge of one hit per line, -1 where the index is off that line's hits."""
        lines = np.arange(len(self.first) - 1)
        off = (index < self.first[lines]) | (index >= self.first[lines + 1])
        if not len(self.edge):
            return np.full(len(lines), -1)
        return np.where(off, -1, self.edge[np.clip(index, 0, len(self.edge) - 1)])


class CutEdges:
    """The edges of outlines and lines: edge i runs from point i to point i + 1 if `joined[i]`."""

    def __init__(self, lines: NDArray[np.object_]) -> None:
        points, self.source = shapely.get_coordinates(lines, return_index=True)
        self.points: Floats = points
        self.joined: Bools = np.append(self.source[1:] == self.source[:-1], [False])[: len(points)]

    @cached_property
    def _edges(self) -> Ints:
        edges: Ints = np.flatnonzero(self.joined)
        return edges

    @cached_property
    def _tree(self) -> shapely.STRtree:
        """The edges by place, in their order."""
        ends = np.stack([self.points[self._edges], self.points[self._edges + 1]], axis=1)
        return shapely.STRtree(shapely.linestrings(ends))

    def cast(self, origins: Floats, directions: Floats, reach: Floats | float) -> Hits:
        """Meet the cuts with lines through origins (n, 2) along unit vectors (n, 2).

        Every cut is met that lies within `reach` mm ((n,) or one number) of the origin, either
        way; cuts farther off may be met or not.
        """
        few = len(self.points) <= FEW
        rows = max(1, MOST_PAIRS // max(1, len(self.points))) if few else BUNCH
        reach = np.broadcast_to(np.minimum(reach, FAR), len(origins))
        found = []
        for low in range(0, len(origins), rows):
            bunch = slice(low, low + rows)
            chosen = None if few else self._near(origins[bunch], directions[bunch], reach[bunch])
            found.append(self._meet(origins[bunch], directions[bunch], chosen, low))
        line, at, edge = (
            (np.concatenate(column) for column in zip(*found, strict=True))
            if found
            else (np.zeros(0, np.intp), np.zeros(0), np.zeros(0, np.intp))
        )
        first = np.searchsorted(line, np.arange(len(origins) + 1))
        return Hits(line, at, edge, first)

    def _near(self, origins: Floats, directions: Floats, reach: Floats) -> Ints:
        """The edges that lie in the box about some lines, turned to their mean direction."""
        away = directions * reach[:, None]
        ends = np.concatenate([origins - away, origins + away])
        x, y = directions.mean(axis=0)
        about = shapely.box(*ends.min(axis=0), *ends.max(axis=0))
        chosen: Ints = self._edges[np.sort(self._tree.query(about))]
        for axis in (np.array([-y, x]), np.array([x, y])):
            place, box = self.points @ axis, ends @ axis
            here, there = place[chosen], place[chosen + 1]
            near = (np.maximum(here, there) >= box.min() - TINY) & (
                np.minimum(here, there) <= box.max() + TINY
            )
            chosen = chosen[near]
        return chosen

    def _meet(
        self, origins: Floats, directions: Floats, chosen: Ints | None, low: int
    ) -> tuple[Ints, Floats, Ints]:
        """Lines met with the chosen edges, or with all."""
        x, y = directions[:, 0], directions[:, 1]
        base = (x * origins[:, 1] - y * origins[:, 0])[:, None]
        if chosen is None:
            side = x[:, None] * self.points[:, 1] - y[:, None] * self.points[:, 0] - base
            right = side >= 0
            line, edge = np.nonzero((right[:, 1:] != right[:, :-1]) & self.joined[:-1])
            here, there = side[line, edge], side[line, edge + 1]
        else:
            starts, ends = self.points[chosen], self.points[chosen + 1]
            from_side = x[:, None] * starts[:, 1] - y[:, None] * starts[:, 0] - base
            to_side = x[:, None] * ends[:, 1] - y[:, None] * ends[:, 0] - base
            line, which = np.nonzero((from_side >= 0) != (to_side >= 0))
            here, there, edge = from_side[line, which], to_side[line, which], chosen[which]
        step = self.points[edge + 1] - self.points[edge]
        points = self.points[edge] + step * (here / (here - there))[:, None]
        at = ((points - origins[line]) * directions[line]).sum(axis=1)
        order = np.lexsort((at, line))
        return line[order] + low, at[order], edge[order]
