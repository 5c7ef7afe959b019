"""Limits on the work that one drawing may cause, counted so that no machine differs.

A drawing can be small and still ask for the impossible: a scribble of a thousand strokes crosses
itself a hundred thousand times. What is refused here is far beyond any drawing.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hingeleaf.errors import HostileArtworkError
from hingeleaf.model import Points

MAX_POINTS = 3_000_000
MAX_CROSSINGS = 30_000
MAX_DASHES = 12_000
MAX_TANGLED = 200_000
MAX_PAIRS = 50_000_000
"""Points paired with edges to find which side they are on."""
MAX_OVERLAY = 2_000_000
"""Points of areas that are laid over each other."""
_FEW = 200
"""So few points cannot cross each other too often."""
_COMPARISONS = 4_000_000
_FEWEST_SAMPLES, _MOST_SAMPLES = 16, 256
_HOPELESS = 100 * MAX_CROSSINGS
_LONGEST = 4
_REMEDY = "Simplify the drawing in its editor, or leave that part out."


@dataclass(slots=True)
class Effort:
    """What is left to spend on one drawing. All methods raise HostileArtworkError at its end."""

    points: int = MAX_POINTS
    crossings: float = MAX_CROSSINGS
    dashes: int = MAX_DASHES
    pairs: int = MAX_PAIRS
    overlay: int = MAX_OVERLAY

    def spend_points(self, count: int) -> None:
        """Take note of points of flattened outlines."""
        self.points -= count
        _stop_if(self.points < 0, "The drawing has far too many points.")

    def spend_dashes(self, count: int) -> None:
        """Take note of dashes."""
        self.dashes -= count
        _stop_if(self.dashes < 0, "The drawing has far too many dashes.")

    def spend_pairs(self, count: int) -> None:
        """Take note of pairs of a point and an edge beside it."""
        self.pairs -= count
        _stop_if(self.pairs < 0, "An outline is too tangled to be cut.")

    def spend_crossings(self, count: float) -> None:
        """Take note of places where lines cross."""
        self.crossings -= count
        _stop_if(self.crossings < 0, "An outline crosses itself too often to be cut.")

    def spend_overlay(self, count: int) -> None:
        """Take note of points of areas of which one is laid over the other."""
        self.overlay -= count
        _stop_if(self.overlay < 0, "Too many shapes lie over each other.")

    def foresee_crossings(self, lines: Sequence[Points]) -> None:
        """Stop before lines, (n, 2) each, are cut at more crossings than are left to spend."""
        if sum(map(len, lines)) > _FEW:
            left = replace(self)
            left.spend_crossings(estimated_crossings(lines))

    def foresee_tangle(self, count: int) -> None:
        """Stop before repairing an outline of too many points where it touches itself."""
        _stop_if(count > MAX_TANGLED, "A very long outline crosses itself.")


def _stop_if(spent: bool, sentence: str) -> None:
    if spent:
        raise HostileArtworkError(sentence, _REMEDY)


def estimated_crossings(lines: Sequence[Points]) -> float:
    """About how often lines cross themselves and each other.

    A sample of the edges stands for all; the longest, which may be met by all others, are counted
    one by one, with what only touches them.
    """
    edges = _Edges(lines)
    count = len(edges.start)
    wanted = min(count, _MOST_SAMPLES, max(_FEWEST_SAMPLES, _COMPARISONS // count))
    samples = np.linspace(0, count - 1, wanted).astype(int)
    total = 0
    for done, edge in enumerate(samples, 1):
        total += edges.crossings(int(edge))
        if total / done * count / 2 > _HOPELESS:
            return float(_HOPELESS)
    longest = sum(edges.crossings(int(edge), touching=True) for edge in edges.longest())
    return max(total / len(samples) * count / 2, longest / 2)


class _Edges:
    """The edges of some lines, with the ends of their boxes apart for quick looking."""

    def __init__(self, lines: Sequence[Points]) -> None:
        self.start = np.concatenate([line[:-1] for line in lines])
        self.end = np.concatenate([line[1:] for line in lines])
        self.left, self.top = np.minimum(self.start, self.end).T.copy()
        self.right, self.bottom = np.maximum(self.start, self.end).T.copy()

    def longest(self) -> NDArray[np.intp]:
        """The few longest edges."""
        size = (self.right - self.left) + (self.bottom - self.top)
        few = min(_LONGEST, len(size))
        return np.argpartition(size, -few)[-few:]

    def crossings(self, edge: int, touching: bool = False) -> int:
        """How many edges properly cross one of them, or also touch it."""
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
    side: Points = np.sign(along[..., 0] * across[..., 1] - along[..., 1] * across[..., 0])
    return side
