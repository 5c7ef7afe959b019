"""Cast straight lines through a cut sheet and list their hits on its cuts in order."""

from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

MAX_PAIRS = 65_536
"""Lines times cut points handled in one batch, so that arrays fit the processor's cache."""

ROUNDING = 1e-9
"""mm: edges this near to a bundle of lines are tested too."""


@dataclass(frozen=True, slots=True)
class Hits:
    """The hits of lines on cuts, ordered by line and then along it.

    `line`, `at` (signed distance from the line's origin) and `edge` (index of the cut edge) are
    (k,); the hits of line i are those from `first[i]` up to `first[i + 1]`.
    """

    line: Ints
    at: Floats
    edge: Ints
    first: Ints

    def beyond(self, places: Floats) -> Ints:
        """Index of each line's first hit beyond a given distance along it, `places` (n,).

        The index is `first[i + 1]` if there is none.
        """
        passed = self.at <= places[self.line]
        count = np.bincount(self.line[passed], minlength=len(places))
        return self.first[:-1] + count

    def distance(self, index: Ints) -> Floats:
        """`at` of one hit per line; infinite where the index is not one of that line's hits."""
        lines = np.arange(len(self.first) - 1)
        before, behind = index < self.first[lines], index >= self.first[lines + 1]
        if not len(self.at):
            return np.full(len(lines), np.inf)
        found = self.at[np.clip(index, 0, len(self.at) - 1)]
        return np.where(before, -np.inf, np.where(behind, np.inf, found))

    def edge_of(self, index: Ints) -> Ints:
        """The cut edge of one hit per line; -1 where the index is not one of that line's hits."""
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

    def cast(self, origins: Floats, directions: Floats, bundle: int = 1) -> Hits:
        """Intersect lines through origins (n, 2) along unit vectors (n, 2) with the cuts.

        Each `bundle` of consecutive lines must be parallel: edges away from all of them are
        discarded at once.
        """
        rows = max(1, MAX_PAIRS // max(1, len(self.points))) * bundle
        met = []
        for low in range(0, max(1, len(origins)), rows):
            batch = slice(low, low + rows)
            line, edge, share = self._met(origins[batch], directions[batch], bundle)
            met.append((line + low, edge, share))
        line, edge, share = map(np.concatenate, zip(*met, strict=True))
        start, end = self.points[edge], self.points[edge + 1]
        points = start + (end - start) * share[:, None]
        at = ((points - origins[line]) * directions[line]).sum(axis=1)
        order = np.lexsort((at, line))
        first = np.searchsorted(line[order], np.arange(len(origins) + 1))
        return Hits(line[order], at[order], edge[order], first)

    def _met(self, origins: Floats, directions: Floats, bundle: int) -> tuple[Ints, Ints, Floats]:
        """The line and edge of every hit, and the hit's place as a share of the edge."""
        x, y = directions[:, :1], directions[:, 1:]
        base = (x * origins[:, 1:] - y * origins[:, :1]).reshape(-1, bundle)
        side = x[::bundle] * self.points[:, 1] - y[::bundle] * self.points[:, 0]
        below = side < base.min(axis=1)[:, None] - ROUNDING
        above = side > base.max(axis=1)[:, None] + ROUNDING
        away = (below[:, 1:] & below[:, :-1]) | (above[:, 1:] & above[:, :-1])
        group, edge = np.nonzero(self.joined[:-1] & ~away)
        here = side[group, edge][:, None] - base[group]
        there = side[group, edge + 1][:, None] - base[group]
        near, number = np.nonzero((here >= 0) != (there >= 0))
        here, there = here[near, number], there[near, number]
        return group[near] * bundle + number, edge[near], here / (here - there)
