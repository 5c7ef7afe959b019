"""Cast straight lines through a cut sheet and list their hits on its cuts in order."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Bools = NDArray[np.bool_]

MAX_PAIRS = 65_536
"""Lines times cut points handled in one batch, so that arrays fit the processor's cache."""

FEW = 256
"""Number of cut points up to which testing all is faster than querying the spatial index."""

MAX_REACH = 1e9
"""mm: the longest reach of a line."""

BOX_MARGIN = 1e-9
"""mm added to the bounding box of a batch of lines, for rounding."""

BATCH_LINES = 21
"""Lines per batch where the spatial index is used; consecutive lines should be neighbours."""


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

    @cached_property
    def _edges(self) -> Ints:
        return np.flatnonzero(self.joined)

    @cached_property
    def _tree(self) -> shapely.STRtree:
        """Spatial index of the edges, in their order."""
        ends = np.stack([self.points[self._edges], self.points[self._edges + 1]], axis=1)
        return shapely.STRtree(shapely.linestrings(ends))

    def cast(self, origins: Floats, directions: Floats, reach: Floats | float) -> Hits:
        """Intersect lines through origins (n, 2) along unit vectors (n, 2) with the cuts.

        Finds every hit within `reach` mm ((n,) or one number) of the origin in either direction;
        hits farther away may or may not be included.
        """
        few = len(self.points) <= FEW
        rows = max(1, MAX_PAIRS // max(1, len(self.points))) if few else BATCH_LINES
        reach = np.broadcast_to(np.minimum(reach, MAX_REACH), len(origins))
        found = []
        for low in range(0, len(origins), rows):
            batch = slice(low, low + rows)
            chosen = None if few else self._near(origins[batch], directions[batch], reach[batch])
            found.append(self._intersect(origins[batch], directions[batch], chosen, low))
        line, at, edge = (
            (np.concatenate(column) for column in zip(*found, strict=True))
            if found
            else (np.zeros(0, np.intp), np.zeros(0), np.zeros(0, np.intp))
        )
        first = np.searchsorted(line, np.arange(len(origins) + 1))
        return Hits(line, at, edge, first)

    def _near(self, origins: Floats, directions: Floats, reach: Floats) -> Ints:
        """The edges that reach into the bounding box of some lines, oriented along their mean
        direction."""
        away = directions * reach[:, None]
        ends = np.concatenate([origins - away, origins + away])
        x, y = directions.mean(axis=0)
        about = shapely.box(*ends.min(axis=0), *ends.max(axis=0))
        chosen: Ints = self._edges[np.sort(self._tree.query(about))]
        for axis in (np.array([-y, x]), np.array([x, y])):
            place, box = self.points @ axis, ends @ axis
            here, there = place[chosen], place[chosen + 1]
            near = (np.maximum(here, there) >= box.min() - BOX_MARGIN) & (
                np.minimum(here, there) <= box.max() + BOX_MARGIN
            )
            chosen = chosen[near]
        return chosen

    def _intersect(
        self, origins: Floats, directions: Floats, chosen: Ints | None, low: int
    ) -> tuple[Ints, Floats, Ints]:
        """Hits of lines on the chosen edges, or on all edges."""
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
