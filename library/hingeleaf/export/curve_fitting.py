"""Fit few curves to polylines within a tolerance, with sharp corners and without crossings.

Cutting machines slow down at every node, and some refuse files with too many, so a ring of two
thousand points should become about thirty curves.

A flattened curve turns a little at every point. A corner is a turn much larger than those of its
neighbours; a straight stretch is a chord so long that, as an arc with the turns at its ends, it
would deviate from the curve by more than the flattening tolerance.

The limits below are our own choice; tests/library/export/test_export_curves.py checks what comes
of them.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from hingeleaf.export.cubics import Complex, Fit, Flags, Floats, Indices, Runs, fit, unit
from hingeleaf.export.drawing import Points, Stroke
from hingeleaf.geometry.members import owners

ALWAYS_CORNER = np.radians(50)
NEVER_CORNER = np.radians(12)
CORNER_RATIO = 2.2
"""Least ratio of a corner's turn to those of the points beside it."""
STRAIGHT_SAG = 2.5
"""A chord is straight if its arc would have a sagitta of more than this many tolerances."""


@dataclass(frozen=True, slots=True)
class Chains:
    """Lines concatenated in one array; a ring begins and ends at the same point.

    `breaks` marks points where one curve must end and the next begin, `smooth` those breaks where
    both must have the same direction, `heading` is the unit direction of travel at every point.
    """

    points: Complex
    owner: Indices
    """Index of the line that each point belongs to."""
    breaks: Flags
    smooth: Flags
    heading: Complex


def chains(
    lines: Sequence[Complex], closed: Flags, tolerance: Floats, pinned: Sequence[Flags]
) -> Chains:
    """Lines of complex points, rings with their first point repeated, ready to be fitted.

    A ring is rotated to begin at a break, if it has one. `tolerance` is per line; `pinned` marks
    points of each line that must not move.
    """
    bare = [line[:-1] if ring else line for line, ring in zip(lines, closed, strict=True)]
    stay = np.concatenate([pins[: len(line)] for line, pins in zip(bare, pinned, strict=True)])
    flat = _marked(bare, closed, tolerance, stay)
    order = _from_a_break(bare, closed, flat.breaks)
    last = np.cumsum([len(line) + ring for line, ring in zip(bare, closed, strict=True)]) - 1
    first = np.concatenate([[0], last[:-1] + 1])
    breaks = flat.breaks[order]
    seams = np.concatenate([first, last])
    smooth = flat.smooth[order]
    smooth[seams] |= ~breaks[seams]
    breaks[seams] = True
    return Chains(flat.points[order], flat.owner[order], breaks, smooth, flat.heading[order])


def _marked(bare: Sequence[Complex], closed: Flags, tolerance: Floats, stay: Flags) -> Chains:
    points = np.concatenate(bare)
    owner = owners(bare)
    before, after = _neighbours(bare, closed)
    into, out = points - points[before], points[after] - points
    arriving, leaving = np.abs(into), np.abs(out)
    turn = np.abs(np.angle(out * into.conj()))
    beside = np.maximum(turn[before], turn[after])
    corner = (turn > ALWAYS_CORNER) | ((turn > NEVER_CORNER) & (turn > CORNER_RATIO * beside))
    corner |= (arriving == 0) | (leaving == 0)

    gentle = np.where(corner, 0.0, turn)
    sag = leaving * np.maximum(gentle, gentle[after]) / 8
    straight = sag > STRAIGHT_SAG * tolerance[owner]
    touches = straight | straight[before]
    heading = unit(unit(into) * leaving + unit(out) * arriving)
    heading = np.where(straight[before] & ~straight, unit(into), heading)
    heading = np.where(straight & ~straight[before], unit(out), heading)
    smooth = (touches | stay) & ~corner & ~(straight & straight[before])
    return Chains(points, owner, corner | touches | stay, smooth, heading)


def _neighbours(bare: Sequence[Complex], closed: Flags) -> tuple[Indices, Indices]:
    """The index before and after every point; an open line's end is its own neighbour."""
    last = np.cumsum([len(line) for line in bare]) - 1
    first = np.concatenate([[0], last[:-1] + 1])
    before, after = np.arange(last[-1] + 1) - 1, np.arange(last[-1] + 1) + 1
    before[first] = np.where(closed, last, first)
    after[last] = np.where(closed, first, last)
    return before, after


def _from_a_break(bare: Sequence[Complex], closed: Flags, breaks: Flags) -> Indices:
    """An order of points in which every ring begins, and ends again, at a break if it has one."""
    order, start = [], 0
    for line, ring in zip(bare, closed, strict=True):
        index = np.arange(start, start + len(line))
        if ring:
            index = np.roll(index, -int(np.argmax(breaks[index])))
            index = np.append(index, index[0])
        order.append(index)
        start += len(line)
    return np.concatenate(order)


SPACING = 0.4
"""Chords are sampled at their ends and in between at least this often, in mm …"""
PART_RANGE = (1, 4)
"""… but in no fewer or more parts than these."""

MERGE_PASSES = 3
"""Passes for which a piece counts as new: after that both its neighbours have been tried."""


@dataclass(frozen=True, slots=True)
class _Samples:
    """The chains' points and additional points on the chords between them."""

    points: Complex
    of_point: Indices
    """Index of the sample at each point of the chains."""

    def nearest_point(self, sample: Indices) -> Indices:
        """The chain point at a sample, or nearest to it along its chord."""
        after = np.searchsorted(self.of_point, sample).clip(1)
        before = after - 1
        nearer = sample - self.of_point[before] < self.of_point[after] - sample
        return np.where(nearer, before, after)


@dataclass(frozen=True, slots=True)
class _Pieces:
    """Curves or chords, each from one point of the chains to a later one."""

    first: Indices
    last: Indices
    controls: Complex

    def sorted(self) -> "_Pieces":
        order = np.argsort(self.first)
        return _Pieces(self.first[order], self.last[order], self.controls[order])


def fit_strokes(
    lines: Sequence[Points], tolerance: Floats, pinned: Sequence[Flags]
) -> list[Stroke]:
    """A stroke for every line (n, 2) of mm; rings repeat their first point.

    No point of a stroke is further than `tolerance` (one per line) from its line, apart from the
    sagitta of the line itself between its points. `pinned` points are kept.
    """
    if not len(lines):
        return []
    closed = np.array([bool(np.array_equal(line[0], line[-1])) for line in lines])
    complex_lines = [line[:, 0] + 1j * line[:, 1] for line in lines]
    marked = chains(complex_lines, closed, tolerance, pinned)
    pieces = _merged(marked, _split(marked, tolerance), tolerance)
    return _strokes(marked, pieces, closed)


def _samples(marked: Chains) -> _Samples:
    step = np.diff(marked.points)
    parts = np.clip(np.ceil(np.abs(step) / SPACING), *PART_RANGE).astype(np.intp)
    of_point = np.concatenate([[0], np.cumsum(parts)])
    chord = np.repeat(np.arange(len(step)), parts)
    share = (np.arange(len(chord)) - of_point[chord]) / parts[chord]
    between = marked.points[chord] + share * step[chord]
    return _Samples(np.append(between, marked.points[-1]), of_point)


def _runs(marked: Chains, samples: _Samples, first: Indices, last: Indices) -> Runs:
    """Runs over the samples; only a break that need not be smooth leaves the direction free."""
    sharp = marked.breaks & ~marked.smooth
    return Runs(
        samples.of_point[first],
        samples.of_point[last],
        marked.heading[first],
        -marked.heading[last],
        sharp[first],
        sharp[last],
    )


def _split(marked: Chains, tolerance: Floats) -> _Pieces:
    """Fit every run between breaks, and split those that do not fit at their largest error."""
    at = np.flatnonzero(marked.breaks)
    same = marked.owner[at[:-1]] == marked.owner[at[1:]]
    first, last = at[:-1][same], at[1:][same]
    samples = _samples(marked)
    done = [_chords(marked, first[last - first == 1])]
    first, last = first[last - first > 1], last[last - first > 1]
    while len(first):
        fitted = _fit(marked, samples, first, last, tolerance)
        good = fitted.error <= tolerance[marked.owner[first]]
        done.append(_Pieces(first[good], last[good], fitted.controls[good]))
        first, last, worst = first[~good], last[~good], fitted.worst[~good]
        middle = np.clip(samples.nearest_point(worst), first + 1, last - 1)
        first, last = np.concatenate([first, middle]), np.concatenate([middle, last])
        done.append(_chords(marked, first[last - first == 1]))
        first, last = first[last - first > 1], last[last - first > 1]
    return _joined(done)


def _chords(marked: Chains, first: Indices) -> _Pieces:
    start, end = marked.points[first], marked.points[first + 1]
    third = (end - start) / 3
    return _Pieces(first, first + 1, np.stack([start, start + third, end - third, end], axis=1))


def _joined(pieces: Sequence[_Pieces]) -> _Pieces:
    return _Pieces(
        np.concatenate([each.first for each in pieces]),
        np.concatenate([each.last for each in pieces]),
        np.concatenate([each.controls for each in pieces]),
    ).sorted()


def _merged(marked: Chains, pieces: _Pieces, tolerance: Floats) -> _Pieces:
    """Merge neighbours if one curve fits both, since splitting at the largest error is greedy.

    Every other pair is tried at a time, and a pair again only while one of the two is new.
    """
    samples = _samples(marked)
    age = np.zeros(len(pieces.first), np.intp)
    parity = 0
    while (age < MERGE_PASSES).any():
        left = np.arange(parity, len(pieces.first) - 1, 2)
        joins = pieces.last[left] == pieces.first[left + 1]
        fresh = np.minimum(age[left], age[left + 1]) < MERGE_PASSES
        left = left[joins & fresh & ~marked.breaks[pieces.last[left]]]
        parity ^= 1
        age += 1
        if not len(left):
            continue
        first, last = pieces.first[left], pieces.last[left + 1]
        fitted = _fit(marked, samples, first, last, tolerance)
        good = fitted.error <= tolerance[marked.owner[first]]
        pieces, age = _replaced(
            pieces, age, left[good], _Pieces(first[good], last[good], fitted.controls[good])
        )
    return pieces


def _replaced(
    pieces: _Pieces, age: Indices, left: Indices, new: _Pieces
) -> tuple[_Pieces, Indices]:
    """The pieces with each of `left` and its successor replaced by a new one, of age 0."""
    kept = np.ones(len(pieces.first), bool)
    kept[left] = kept[left + 1] = False
    old = _Pieces(pieces.first[kept], pieces.last[kept], pieces.controls[kept])
    ages = np.concatenate([age[kept], np.zeros(len(left), np.intp)])
    order = np.argsort(np.concatenate([old.first, new.first]))
    return _joined([old, new]), ages[order]


def _fit(
    marked: Chains, samples: _Samples, first: Indices, last: Indices, tolerance: Floats
) -> Fit:
    return fit(samples.points, _runs(marked, samples, first, last), tolerance[marked.owner[first]])


def _strokes(marked: Chains, pieces: _Pieces, closed: Flags) -> list[Stroke]:
    owner = marked.owner[pieces.first]
    bounds = np.searchsorted(owner, np.arange(len(closed) + 1))
    chord = (pieces.last - pieces.first) == 1
    controls = np.stack([pieces.controls.real, pieces.controls.imag], axis=2)
    return [
        Stroke(controls[start:stop], chord[start:stop], bool(ring))
        for ring, start, stop in zip(closed, bounds[:-1], bounds[1:], strict=True)
    ]
