"""Least-squares cubic Bézier curves through many runs of points at once.

The method is Schneider's (An Algorithm for Automatically Fitting Digitized Curves, Graphics Gems,
1990), with two changes. All runs are fitted together as flat arrays, so that three hundred motifs
cost about as much as one. And an end that need not join smoothly takes its direction from the
unconstrained fit instead of from its first points.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Points = NDArray[np.float64]
Indices = NDArray[np.intp]

ROUNDS = 5
"""Times that the points' parameters are improved; more gains next to nothing."""


@dataclass(frozen=True, slots=True)
class Runs:
    """Spans `first` to `last` (both included) of one array of points, one curve wanted for each.

    Directions are unit vectors: along the run at its first point, and backwards along it at its
    last point. Where an end is `free` its direction is found.
    """

    first: Indices
    last: Indices
    leaving: Points
    arriving: Points
    leaving_free: NDArray[np.bool_]
    arriving_free: NDArray[np.bool_]

    def __len__(self) -> int:
        return len(self.first)

    def __getitem__(self, keep: NDArray[np.bool_] | Indices) -> Runs:
        return Runs(
            self.first[keep],
            self.last[keep],
            self.leaving[keep],
            self.arriving[keep],
            self.leaving_free[keep],
            self.arriving_free[keep],
        )


@dataclass(frozen=True, slots=True)
class Fit:
    """Curves (n, 4, 2), their greatest distance from a point, and the index of that point."""

    controls: Points
    error: Points
    worst: Indices


def fit(points: Points, runs: Runs) -> Fit:
    """The best cubic for every run."""
    count = runs.last - runs.first + 1
    begins = np.concatenate([[0], np.cumsum(count)[:-1]])
    owner = np.repeat(np.arange(len(runs)), count)
    index = np.arange(count.sum()) - begins[owner] + runs.first[owner]
    here = points[index]
    u = _by_length(points, runs, index, owner)

    best = Fit(np.zeros((len(runs), 4, 2)), np.full(len(runs), np.inf), runs.first.copy())
    for _ in range(ROUNDS):
        controls = _solve(here, u, begins, owner, points[runs.first], points[runs.last], runs)
        curve = evaluate(controls[owner], u)
        strayed = np.einsum("ij,ij->i", curve - here, curve - here)
        error = np.sqrt(np.maximum.reduceat(strayed, begins))
        worst = index[_first_peak(strayed, begins, owner)]
        better = error < best.error
        best = Fit(
            np.where(better[:, None, None], controls, best.controls),
            np.where(better, error, best.error),
            np.where(better, worst, best.worst),
        )
        u = _nearer(controls[owner], u, curve - here)
    return best


def evaluate(controls: Points, u: Points) -> Points:
    """Points (n, 2) on curves (n, 4, 2) at parameters (n,)."""
    t, s = u[:, None], 1.0 - u[:, None]
    ends = s**3 * controls[:, 0] + t**3 * controls[:, 3]
    middle: Points = 3 * s * t * (s * controls[:, 1] + t * controls[:, 2])
    return ends + middle


def unit(vectors: Points) -> Points:
    """The vectors at length 1; a vector of no length stays as it is."""
    length = np.hypot(vectors[:, 0], vectors[:, 1])[:, None]
    return np.divide(vectors, length, out=np.zeros_like(vectors), where=length > 0)


def _by_length(points: Points, runs: Runs, index: Indices, owner: Indices) -> Points:
    """First parameters: the share of the run's length up to each point."""
    steps = np.hypot(*np.diff(points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    from_first = along[index] - along[runs.first][owner]
    share: Points = from_first / (along[runs.last] - along[runs.first])[owner]
    return share


def _first_peak(values: Points, begins: Indices, owner: Indices) -> Indices:
    """Where each run reaches its greatest value first."""
    peak = np.flatnonzero(values == np.maximum.reduceat(values, begins)[owner])
    _, first = np.unique(owner[peak], return_index=True)
    return peak[first]


def _solve(
    here: Points, u: Points, begins: Indices, owner: Indices, start: Points, end: Points, runs: Runs
) -> Points:
    """Control points that bring the curves nearest to the points at parameters `u`."""
    s = 1.0 - u
    b1, b2 = 3 * u * s * s, 3 * u * u * s
    near_start = (s**3 + b1)[:, None] * start[owner]
    rest = here - near_start - (u**3 + b2)[:, None] * end[owner]
    sums = np.add.reduceat(
        np.column_stack([b1 * b1, b1 * b2, b2 * b2, b1[:, None] * rest, b2[:, None] * rest]),
        begins,
    )
    a, b, c, first, second = sums[:, 0], sums[:, 1], sums[:, 2], sums[:, 3:5], sums[:, 5:7]
    chord = end - start
    leaving, arriving = _directions(a, b, c, first, second, chord, runs)

    b = b * np.einsum("ij,ij->i", leaving, arriving)
    x = np.einsum("ij,ij->i", first, leaving)
    y = np.einsum("ij,ij->i", second, arriving)
    alpha, beta = _two_by_two(a, b, c, x, y)
    third = np.hypot(chord[:, 0], chord[:, 1]) / 3
    astray = (alpha < 1e-3 * third) | (beta < 1e-3 * third)
    alpha, beta = np.where(astray, third, alpha), np.where(astray, third, beta)
    return np.stack(
        [start, start + alpha[:, None] * leaving, end + beta[:, None] * arriving, end], axis=1
    )


def _directions(
    a: Points, b: Points, c: Points, first: Points, second: Points, chord: Points, runs: Runs
) -> tuple[Points, Points]:
    """The given end directions, and for free ends those of the unconstrained fit."""
    x = _two_by_two(a, b, c, first[:, 0], second[:, 0])
    y = _two_by_two(a, b, c, first[:, 1], second[:, 1])
    leaving = unit(np.column_stack([x[0], y[0]]))
    arriving = unit(np.column_stack([x[1], y[1]]))
    leaving = np.where(np.any(leaving, axis=1)[:, None], leaving, unit(chord))
    arriving = np.where(np.any(arriving, axis=1)[:, None], arriving, unit(-chord))
    return (
        np.where(runs.leaving_free[:, None], leaving, runs.leaving),
        np.where(runs.arriving_free[:, None], arriving, runs.arriving),
    )


def _two_by_two(a: Points, b: Points, c: Points, x: Points, y: Points) -> tuple[Points, Points]:
    """Solve [[a, b], [b, c]] · (p, q) = (x, y); zeros where that cannot be done."""
    determinant = a * c - b * b
    sound = np.abs(determinant) > 1e-12 * a * c
    divisor = np.where(sound, determinant, 1.0)
    p: Points = np.where(sound, (x * c - b * y) / divisor, 0.0)
    q: Points = np.where(sound, (a * y - b * x) / divisor, 0.0)
    return p, q


def _nearer(controls: Points, u: Points, away: Points) -> Points:
    """One Newton step of every parameter towards the foot of its point on the curve."""
    t, s = u[:, None], 1.0 - u[:, None]
    one, two, three = (3 * (controls[:, i + 1] - controls[:, i]) for i in range(3))
    speed = s * s * one + 2 * s * t * two + t * t * three
    bend = 2 * (s * (two - one) + t * (three - two))
    slope = np.einsum("ij,ij->i", speed, speed) + np.einsum("ij,ij->i", away, bend)
    step = np.einsum("ij,ij->i", away, speed) / np.where(np.abs(slope) > 1e-12, slope, np.inf)
    nearer: Points = np.clip(u - step, 0.0, 1.0)
    return nearer
