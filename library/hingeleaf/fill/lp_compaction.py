"""Compaction by linear programs: all motifs grow together to exact contact.

A linear program finds the small change of all poses that adds most area: for each vertex near
another outline, the distance along their shortest connection must stay at least what the rules
require. A vertex's position is linear in its pose (x, y, ax, ay), so only the direction of the
shortest connection is held constant; that error vanishes as the program is solved again with
smaller steps.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from hingeleaf.fill.contacts import Contacts, Outlines, contacts_of, fixed_outlines
from hingeleaf.fill.container import Container
from hingeleaf.fill.pool import PoolItem, outline_vertices, place_outlines

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
HASTY_STEPS = (0.3, 0.1, 0.02)
QUICK_STEPS = (0.6, 0.4, 0.2, 0.1, 0.1, 0.02)
LONG_STEPS = (1.0, 1.0, 0.6, 0.3, 0.1, 0.1, 0.02)
"""The largest change of a pose's numbers in each round, in units.

The first round with fine outlines must be able to compensate for what the rough ones left out.
"""
SIZE_RESERVE = 2e-5
"""Share by which motifs stay above their smallest size, as a reserve for the exact check."""
INFEASIBILITY_COST = 1e5
"""Cost of each mm of violation, mm²."""
ROUGH_TOLERANCE, FINE_TOLERANCE = 1e-3, 5e-5
"""Deviation of outlines from the footprints, in sizes: while steps are long, and at the end."""
MAX_GROUP = 64
"""Greatest number of motifs in one program; those around them are fixed meanwhile."""
FINE_STEPS = 2
"""Number of final steps made with the fine outlines, which cover the footprints."""


@dataclass(frozen=True, slots=True)
class PoseLimits:
    """Limits of every motif, (motifs,) each. Sizes in mm, turns in radians."""

    smallest: Floats
    largest: Floats
    upright: Floats
    turn: Floats
    """Greatest turn from upright either way; π or more is free."""

    def of(self, group: Ints) -> PoseLimits:
        """The limits of some motifs."""
        return PoseLimits(
            self.smallest[group], self.largest[group], self.upright[group], self.turn[group]
        )

    def _lean(self, numbers: Floats) -> Floats:
        """The turns from upright, -π to π."""
        lean: Floats = np.arctan2(numbers[:, 3], numbers[:, 2]) - self.upright
        return lean - 2 * math.pi * np.round(lean / (2 * math.pi))

    def clamped(self, numbers: Floats) -> Floats:
        """Poses clamped to the limits, which rounding may have exceeded."""
        numbers = numbers.copy()
        sizes = np.hypot(numbers[:, 2], numbers[:, 3])
        lean = self._lean(numbers)
        bent = (np.abs(lean) > self.turn) & (self.turn < math.pi)
        turn = self.upright + np.clip(lean, -self.turn, self.turn)
        numbers[bent, 2] = (sizes * np.cos(turn))[bent]
        numbers[bent, 3] = (sizes * np.sin(turn))[bent]
        numbers[:, 2:4] *= (np.clip(sizes, self.smallest, self.largest) / sizes)[:, None]
        return numbers

    def rows(self, numbers: Floats) -> tuple[scipy.sparse.coo_array, Floats]:
        """The limits as rows A · change ≤ b of a linear program."""
        count = len(numbers)
        sizes = np.hypot(numbers[:, 2], numbers[:, 3])
        along = numbers[:, 2:4] / sizes[:, None]
        low = np.minimum(np.minimum(self.smallest * (1 + SIZE_RESERVE), self.largest), sizes)
        lean = self._lean(numbers)
        limited = np.flatnonzero(self.turn < math.pi)
        motif = np.concatenate([np.arange(count), np.arange(count), limited, limited])
        across = np.column_stack([-along[:, 1], along[:, 0]])[limited]
        values = np.vstack([along, -along, across, -across])
        row = np.arange(len(motif))
        matrix = scipy.sparse.coo_array(
            (values.T.ravel(), (np.tile(row, 2), np.concatenate([4 * motif + 2, 4 * motif + 3]))),
            shape=(len(motif), 4 * count),
        )
        spare = np.maximum(0.0, np.concatenate([self.turn - lean, self.turn + lean]))
        spare = spare.reshape(2, count)[:, limited] * sizes[limited]
        return matrix, np.concatenate([self.largest - sizes, sizes - low, *spare])


Round = tuple[float, bool]
"""The largest change of a pose's numbers in a round over all motifs, mm, and whether outlines cover
the footprints."""


def rounds_of(steps: Sequence[float], unit: float) -> list[Round]:
    """The rounds for steps in the given unit (mm), the last ones fine."""
    rough = len(steps) - FINE_STEPS
    return [(step * unit, index >= rough) for index, step in enumerate(steps)]


def compact(
    numbers: Floats,
    kinds: Ints,
    pool: Sequence[PoolItem],
    container: Container,
    limits: PoseLimits,
    rounds: Iterable[Round],
) -> Iterator[Floats]:
    """Poses (n, 5) with increasing coverage, group by group of motifs.

    After two rounds with fine outlines they keep all distances to about LP_EPS.
    """
    fixed = fixed_outlines(container)
    rough = [outline_vertices(item, ROUGH_TOLERANCE, covers=False) for item in pool]
    fine = [outline_vertices(item, FINE_TOLERANCE, covers=True) for item in pool]
    areas = np.array([item.footprint.area / item.drawn_size**2 for item in pool])[kinds]
    gaps = np.full(len(kinds), container.gap)
    numbers = numbers.copy()
    for step, is_fine in rounds:
        outlines = fine if is_fine else rough
        for group in groups_of(numbers[:, :2]):
            placed = Outlines(*place_outlines(numbers, kinds, outlines), gaps).joined(fixed)
            contacts = contacts_of(placed, group, 3 * step)
            change = _best_change(numbers[group], areas[group], limits.of(group), contacts, step)
            if change is not None:
                numbers[group, :4] += change
                numbers[group] = limits.of(group).clamped(numbers[group])
            yield numbers.copy()


def groups_of(centres: Floats, most: int = MAX_GROUP) -> list[Ints]:
    """Motifs in groups of at most `most` that are close together, by repeated halving."""
    groups = [np.arange(len(centres))]
    while len(groups[-1]) > most:
        halves = []
        for group in groups:
            places = centres[group]
            longer = int(np.ptp(places, axis=0).argmax())
            order = group[np.argsort(places[:, longer], kind="stable")]
            halves += np.array_split(order, 2)
        groups = halves
    return groups


def _best_change(
    numbers: Floats, areas: Floats, limits: PoseLimits, contacts: Contacts, step: float
) -> Floats | None:
    """Change (n, 4) of (x, y, ax, ay), none more than `step`, that adds most area."""
    gain = np.zeros((len(numbers), 4))
    gain[:, 2:4] = 2 * areas[:, None] * numbers[:, 2:4]
    matrix, spare = limits.rows(numbers)
    broken = scipy.sparse.coo_array(-(contacts.slack < 0)[:, None].astype(float))
    answer = scipy.optimize.linprog(
        np.append(-gain.ravel(), INFEASIBILITY_COST),
        A_ub=scipy.sparse.block_array(
            [[_contact_derivatives(numbers, contacts), broken], [matrix, None]]
        ),
        b_ub=np.concatenate([contacts.slack, spare]),
        bounds=np.vstack([np.tile([-step, step], (gain.size, 1)), [0, np.inf]]),
        method="highs-ds",
    )
    return None if answer.x is None else answer.x[:-1].reshape(-1, 4)


def _contact_derivatives(numbers: Floats, contacts: Contacts) -> scipy.sparse.coo_array:
    """The derivative of each contact's closing by each number: (contacts, 4 · motifs)."""
    away = contacts.place - contacts.other_place
    away /= np.hypot(away[:, 0], away[:, 1])[:, None]
    values, rows, columns = [], [], []
    for owner, place, sign in (
        (contacts.owner, contacts.place, -1.0),
        (contacts.other, contacts.other_place, 1.0),
    ):
        row = np.flatnonzero(owner >= 0)
        motif = owner[row]
        a = numbers[motif, 2] + 1j * numbers[motif, 3]
        from_origin = place[row] - numbers[motif, :2]
        probe = (from_origin[:, 0] + 1j * from_origin[:, 1]) / a
        x, y = sign * away[row, 0], sign * away[row, 1]
        values += [x, y, x * probe.real + y * probe.imag, y * probe.real - x * probe.imag]
        rows += [row] * 4
        columns += [4 * motif + number for number in range(4)]
    return scipy.sparse.coo_array(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
        shape=(len(away), 4 * len(numbers)),
    )
