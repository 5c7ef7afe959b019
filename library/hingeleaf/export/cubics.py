"""Least-squares cubic Bézier curves through many runs of points at once.

The method is Schneider's (An Algorithm for Automatically Fitting Digitized Curves, Graphics Gems,
1990), with two changes. All runs are fitted together as flat arrays, so that three hundred motifs
cost about as much as one. And an end that need not join smoothly takes its direction from the
unconstrained fit instead of from its first points.

Points are complex numbers here, x + iy: the dot product of a and b is the real part of a·b*.

The limits below are our own choice; tests/library/export/test_export_curves.py checks what comes
of them.
"""

from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

Complex = NDArray[np.complex128]
Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Flags = NDArray[np.bool_]
Solved = TypeVar("Solved", Floats, Complex)

ROUNDS = 6
"""Iterations that improve the points' parameters; more gain next to nothing."""
GIVE_UP_FACTOR = 8.0
"""A run with an initial error of this many tolerances is not iterated: it must be split anyway."""
MAX_SAMPLES = 64
"""Sampled points per run; a curve cannot deviate much between them."""
EXTRA_BETWEEN = 0.1, 2e-3
"""Extra deviation allowed half-way between two points: share of the tolerance, and mm."""


@dataclass(frozen=True, slots=True)
class Runs:
    """Spans `first` to `last` (inclusive) of one array of points, to be fitted by one curve each.

    Directions are unit vectors: along the run at its first point, and backwards along it at its
    last point. At an end that is `free` the direction is found by the fit.
    """

    first: Indices
    last: Indices
    leaving: Complex
    arriving: Complex
    leaving_free: Flags
    arriving_free: Flags

    def __len__(self) -> int:
        return len(self.first)

    def __getitem__(self, keep: Indices) -> "Runs":
        return Runs(
            self.first[keep],
            self.last[keep],
            self.leaving[keep],
            self.arriving[keep],
            self.leaving_free[keep],
            self.arriving_free[keep],
        )


@dataclass(slots=True)
class Fit:
    """Curves (n, 4), the error of each, and the point of its run with the largest error."""

    controls: Complex
    error: Floats
    worst: Indices


@dataclass(slots=True)
class _Samples:
    """Sampled points of some runs, run after run, each with its parameter on its run's curve."""

    index: Indices
    owner: Indices
    begins: Indices
    at: Complex
    u: Floats

    def __getitem__(self, keep: Flags) -> "_Samples":
        """The samples of the runs to keep."""
        mine = keep[self.owner]
        owner = (np.cumsum(keep) - 1)[self.owner[mine]]
        begins = np.searchsorted(owner, np.arange(np.count_nonzero(keep)))
        return _Samples(self.index[mine], owner, begins, self.at[mine], self.u[mine])


def fit(points: Complex, runs: Runs, tolerance: Floats) -> Fit:
    """The best cubic for every run; iteration ends once it is within its tolerance."""
    best = Fit(np.zeros((len(runs), 4), complex), np.full(len(runs), np.inf), runs.first.copy())
    open_ = np.arange(len(runs))
    samples = _sampled(points, runs)
    for _ in range(ROUNDS):
        here = runs[open_]
        controls = _solve(samples, points[here.first], points[here.last], here)
        away = evaluate(controls[samples.owner], samples.u) - samples.at
        strayed = np.abs(away)
        error = np.maximum.reduceat(strayed, samples.begins)
        near = error <= tolerance[open_]
        if near.any():
            leave = np.minimum(EXTRA_BETWEEN[0] * tolerance[open_[near]], EXTRA_BETWEEN[1])
            bulge = _bulge(points, controls[near], samples[near])
            error[near] = np.maximum(error[near], bulge - leave)
        better = error < best.error[open_]
        best.controls[open_[better]] = controls[better]
        best.error[open_[better]] = error[better]
        best.worst[open_[better]] = _worst(samples, strayed)[better]
        going = (best.error[open_] > tolerance[open_]) & (error < GIVE_UP_FACTOR * tolerance[open_])
        if not going.any():
            break
        samples.u = _nearer(controls[samples.owner], samples.u, away)
        samples, open_ = samples[going], open_[going]
    return best


def evaluate(controls: Complex, u: Floats) -> Complex:
    """Points (n,) on curves (n, 4) at parameters (n,)."""
    s = 1.0 - u
    middle: Complex = 3 * s * u * (s * controls[:, 1] + u * controls[:, 2])
    return s**3 * controls[:, 0] + middle + u**3 * controls[:, 3]


def unit(vectors: Complex) -> Complex:
    """The vectors normalised; a zero vector stays as it is."""
    length = np.abs(vectors)
    return np.divide(vectors, length, out=np.zeros_like(vectors), where=length > 0)


def dot(one: Complex, other: Complex) -> Floats:
    """The dot products of two arrays of vectors."""
    return one.real * other.real + one.imag * other.imag


def _sampled(points: Complex, runs: Runs) -> _Samples:
    """Up to MAX_SAMPLES evenly spread points of every run, with chord-length parameters."""
    whole = runs.last - runs.first
    count = np.minimum(whole + 1, MAX_SAMPLES)
    begins = np.concatenate([[0], np.cumsum(count)[:-1]])
    owner = np.repeat(np.arange(len(runs)), count)
    nth = np.arange(len(owner)) - begins[owner]
    index = runs.first[owner] + nth * whole[owner] // (count[owner] - 1)
    along = np.concatenate([[0.0], np.cumsum(np.abs(np.diff(points)))])
    start = along[runs.first]
    u = (along[index] - start[owner]) / (along[runs.last] - start)[owner]
    return _Samples(index, owner, begins, points[index], u)


def _worst(samples: _Samples, strayed: Floats) -> Indices:
    """The point of each run with the largest error, the first if there are several."""
    most = np.maximum.reduceat(strayed, samples.begins)
    peak = np.flatnonzero(strayed == most[samples.owner])
    _, first = np.unique(samples.owner[peak], return_index=True)
    return samples.index[peak[first]]


def _bulge(points: Complex, controls: Complex, samples: _Samples) -> Floats:
    """Greatest distance of each curve from its run half-way between all points, sampled or not.

    A point may lie over the chord before or after the one that its parameter belongs to.
    """
    ends = np.append(samples.begins[1:], len(samples.u)) - 1
    here = np.delete(np.arange(len(samples.u)), ends)
    chords = samples.index[here + 1] - samples.index[here]
    of = np.repeat(here, chords)
    nth = np.arange(len(of)) - np.repeat(np.cumsum(chords) - chords, chords)
    share = (nth + 0.5) / np.repeat(chords, chords)
    at = evaluate(
        controls[samples.owner[of]], samples.u[of] + share * (samples.u[of + 1] - samples.u[of])
    )
    chord = samples.index[of] + nth
    first = samples.index[samples.begins][samples.owner[of]]
    last = samples.index[ends][samples.owner[of]] - 1
    away = np.min(
        [
            _from_chord(at, points[each], points[each + 1])
            for each in (chord, np.maximum(chord - 1, first), np.minimum(chord + 1, last))
        ],
        axis=0,
    )
    whole = samples.index[ends] - samples.index[samples.begins]
    return np.maximum.reduceat(away, np.cumsum(whole) - whole)


def _from_chord(at: Complex, start: Complex, end: Complex) -> Floats:
    """The distances of points from chords; a chord may have no length."""
    along = end - start
    length = dot(along, along)
    share = np.divide(dot(at - start, along), length, out=np.zeros_like(length), where=length > 0)
    return np.abs(at - start - np.clip(share, 0, 1) * along)


def _solve(samples: _Samples, start: Complex, end: Complex, runs: Runs) -> Complex:
    """Least-squares control points for the samples at their parameters."""
    u, owner = samples.u, samples.owner
    s = 1.0 - u
    b1, b2 = 3 * u * s * s, 3 * u * u * s
    rest = samples.at - (s**3 + b1) * start[owner] - (u**3 + b2) * end[owner]
    a, b, c = (np.add.reduceat(term, samples.begins) for term in (b1 * b1, b1 * b2, b2 * b2))
    first, second = (np.add.reduceat(term * rest, samples.begins) for term in (b1, b2))
    chord = end - start
    leaving, arriving = _directions(a, b, c, first, second, chord, runs)

    across = b * dot(leaving, arriving)
    x, y = dot(first, leaving), dot(second, arriving)
    third = np.abs(chord) / 3
    alpha, beta = _two_by_two(a, across, c, x, y)
    astray = (alpha < 1e-3 * third) | (beta < 1e-3 * third)
    alpha, beta = np.where(astray, third, alpha), np.where(astray, third, beta)
    return np.stack([start, start + alpha * leaving, end + beta * arriving, end], axis=1)


def _directions(
    a: Floats, b: Floats, c: Floats, first: Complex, second: Complex, chord: Complex, runs: Runs
) -> tuple[Complex, Complex]:
    """The given end directions, and for free ends those of the unconstrained fit."""
    p, q = _two_by_two(a, b, c, first, second)
    leaving = np.where(p == 0, unit(chord), unit(p))
    arriving = np.where(q == 0, -unit(chord), unit(q))
    return (
        np.where(runs.leaving_free, leaving, runs.leaving),
        np.where(runs.arriving_free, arriving, runs.arriving),
    )


def _two_by_two(a: Floats, b: Floats, c: Floats, x: Solved, y: Solved) -> tuple[Solved, Solved]:
    """Solve [[a, b], [b, c]] · (p, q) = (x, y); zeros if singular."""
    determinant = a * c - b * b
    regular = np.abs(determinant) > 1e-12 * a * c
    share = np.divide(1.0, determinant, out=np.zeros_like(determinant), where=regular)
    return (x * c - y * b) * share, (y * a - x * b) * share


def _nearer(controls: Complex, u: Floats, away: Complex) -> Floats:
    """One Newton step of every parameter towards its point's foot on the curve."""
    s = 1.0 - u
    one, two, three = (3 * (controls[:, i + 1] - controls[:, i]) for i in range(3))
    speed = s * s * one + 2 * s * u * two + u * u * three
    bend = 2 * (s * (two - one) + u * (three - two))
    slope = dot(speed, speed) + dot(away, bend)
    step = dot(away, speed) / np.where(np.abs(slope) > 1e-12, slope, np.inf)
    return np.clip(u - step, 0.0, 1.0)
