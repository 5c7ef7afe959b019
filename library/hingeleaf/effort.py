"""Work limits for one drawing, counted in operations, so that no machine is treated differently.

A small file can require enormous work: a scribble of a thousand strokes crosses itself a hundred
thousand times. The limits are far above the needs of any real drawing.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from hingeleaf.errors import HostileArtworkError
from hingeleaf.model import Points

# Chosen by trial, no source.
MAX_POINTS = 3_000_000
MAX_CROSSINGS = 30_000
MAX_DASHES = 12_000
MAX_REPAIRED_POINTS = 200_000
MAX_PAIRS = 50_000_000
"""Pairs of a point and an edge compared in winding number tests."""
MAX_OVERLAY = 2_000_000
"""Points of areas in overlay operations."""
_UNCHECKED_POINTS = 200
"""Up to this many points are not checked for crossings."""
_COMPARISONS = 4_000_000
_MIN_SAMPLES, _MAX_SAMPLES = 16, 256
_CROSSING_LIMIT = 100 * MAX_CROSSINGS
_LONGEST_EDGES = 4
Work = Literal["points", "crossings", "dashes", "pairs", "overlay"]
"""Points of flattened outlines, crossings of lines, dashes, pairs of a point and an edge beside it,
points of overlaid areas."""
_EXHAUSTED: dict[Work, str] = {
    "points": "The drawing has far too many points.",
    "crossings": "An outline crosses itself too often to be cut.",
    "dashes": "The drawing has far too many dashes.",
    "pairs": "An outline is too tangled to be cut.",
    "overlay": "Too many shapes lie over each other.",
}
_REMEDY = "Simplify the drawing in its editor, or leave that part out."


@dataclass(slots=True)
class Effort:
    """Remaining budget for one drawing. All methods raise HostileArtworkError when it is
    exhausted."""

    points: int = MAX_POINTS
    crossings: float = MAX_CROSSINGS
    dashes: int = MAX_DASHES
    pairs: int = MAX_PAIRS
    overlay: int = MAX_OVERLAY

    def spend(self, work: Work, count: float) -> None:
        """Count work of one kind."""
        left = getattr(self, work) - count
        setattr(self, work, left)
        _raise_if(left < 0, _EXHAUSTED[work])

    def check_crossings(self, lines: Sequence[Points]) -> None:
        """Raise if lines, (n, 2) each, are estimated to have more crossings than the budget
        allows."""
        if sum(map(len, lines)) > _UNCHECKED_POINTS:
            left = replace(self)
            left.spend("crossings", estimated_crossings(lines))

    def check_repair(self, count: int) -> None:
        """Raise if a self-touching outline has too many points to be repaired."""
        _raise_if(count > MAX_REPAIRED_POINTS, "A very long outline crosses itself.")


def _raise_if(spent: bool, sentence: str) -> None:
    if spent:
        raise HostileArtworkError(sentence, _REMEDY)


def estimated_crossings(lines: Sequence[Points]) -> float:
    """Estimate how often lines cross themselves and each other.

    Extrapolated from a sample of the edges; for the longest edges, which may cross all others,
    crossings and touches are counted exactly.
    """
    edges = _Edges(lines)
    count = len(edges.start)
    wanted = min(count, _MAX_SAMPLES, max(_MIN_SAMPLES, _COMPARISONS // count))
    samples = np.linspace(0, count - 1, wanted).astype(int)
    total = 0
    for done, edge in enumerate(samples, 1):
        total += edges.crossings(int(edge))
        if total / done * count / 2 > _CROSSING_LIMIT:
            return float(_CROSSING_LIMIT)
    longest = sum(edges.crossings(int(edge), touching=True) for edge in edges.longest())
    return max(total / len(samples) * count / 2, longest / 2)


class _Edges:
    """The edges of some lines, with their bounding boxes as separate arrays."""

    def __init__(self, lines: Sequence[Points]) -> None:
        self.start = np.concatenate([line[:-1] for line in lines])
        self.end = np.concatenate([line[1:] for line in lines])
        self.left, self.top = np.minimum(self.start, self.end).T.copy()
        self.right, self.bottom = np.maximum(self.start, self.end).T.copy()

    def longest(self) -> NDArray[np.intp]:
        """The few longest edges."""
        size = (self.right - self.left) + (self.bottom - self.top)
        few = min(_LONGEST_EDGES, len(size))
        return np.argpartition(size, -few)[-few:]

    def crossings(self, edge: int, touching: bool = False) -> int:
        """How many edges properly cross a given one, or, with `touching`, also touch it."""
        near = (self.left <= self.right[edge]) & (self.right >= self.left[edge])
        index = np.flatnonzero(near)
        beside = (self.top[index] <= self.bottom[edge]) & (self.bottom[index] >= self.top[edge])
        index = index[beside]
        a, b, p, q = self.start[edge], self.end[edge], self.start[index], self.end[index]
        splits_them = _side(a, b, p) * _side(a, b, q)
        if touching:
            return int(np.count_nonzero(splits_them <= 0))
        splits_it = _side(p, q, a) * _side(p, q, b)
        return int(np.count_nonzero((splits_them < 0) & (splits_it < 0)))


def _side(a: Points, b: Points, c: Points) -> Points:
    """On which side of the line from a to b each c lies."""
    along, across = b - a, c - a
    return np.sign(along[..., 0] * across[..., 1] - along[..., 1] * across[..., 0])
