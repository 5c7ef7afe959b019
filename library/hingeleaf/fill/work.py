"""A filling under way: placed, improved, brought to exact contact."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.clearance import lay_grid
from hingeleaf.fill.columns import LARGEST, SMALLEST, TURN_LIMIT
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.finish import mend
from hingeleaf.fill.greedy import fill_greedily
from hingeleaf.fill.improve import Improver
from hingeleaf.fill.ledger import Ledger
from hingeleaf.fill.options import FillOptions, Spread
from hingeleaf.fill.outlines import outer
from hingeleaf.fill.pace import Pace, in_time
from hingeleaf.fill.packing import Packing
from hingeleaf.fill.refusals import FINEST, MOST
from hingeleaf.fill.room import Room
from hingeleaf.fill.samples import sample_pool
from hingeleaf.fill.tighten import (
    HASTY_STEPS,
    LAST_STEPS,
    LONG_STEPS,
    QUICK_STEPS,
    Limits,
    rounds_of,
    tighten,
)
from hingeleaf.fill.worth import Wishes
from hingeleaf.tasks import Progress

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

UNIT = 25.0
"""A pool's scale is one unit where its middle size and the gap make so many mm."""
AT_ONCE = 16
"""Changes between two reports."""
SHOWINGS, BETWEEN = 8, 5
"""How often a better filling is shown while it is worked on, and after how many changes for each
motif at least."""
FILL_EMPTY = 0.4
"""From what share of the changes on large empty places count too, where there is time."""
MANY = 800
"""From so many motifs on the exact finish is cut short."""
ROUGH, FINE = 5e-4, 5e-5
"""How much larger footprints may be taken for, in sizes, for a showing and in the end."""


class Work:
    """One filling of one room, step by step.

    `filling` is the best valid one so far, `showing` the seconds that went into proving it.
    """

    def __init__(self, ledger: Ledger, room: Room, rules: FillOptions, filling: Filling) -> None:
        self.ledger = ledger
        self.room = room
        self.rules = rules
        self.filling = filling
        self.steps = 0
        self.showing = 0.0
        left, top, right, bottom = room.open.bounds
        longest = max(right - left, bottom - top)
        samples = sample_pool(
            ledger.pool,
            least=longest * FINEST,
            widest=longest,
            turn_limit=180.0 if rules.feet is None else rules.feet_sway,
        )
        placed = np.array([item.weight > 0 for item in ledger.pool])
        smallest = samples.traits[placed, SMALLEST].min()
        largest = samples.traits[placed, LARGEST].max()
        unit = float(np.sqrt(smallest * largest) + rules.gap) / UNIT
        self.wishes = _wishes(ledger, rules, smallest, largest)
        self.packing = Packing(samples, lay_grid(room, unit, rules.feet), rules.gap, unit)
        self.random = np.random.default_rng(rules.seed)

    @property
    def placed(self) -> int:
        """How many motifs have been placed anew."""
        return len(self.packing.kinds)

    def place(self) -> Iterator[Progress[Filling]]:
        """A first complete filling."""
        state = self.random.integers(0, 2**63, 1, np.uint64)
        for count in fill_greedily(self.packing, self.wishes, state, MOST):
            yield Progress(0, 1, f"{count} placed", self.filling)
        if self.placed:
            self._show(self.packing.poses, self.packing.kinds)

    def improve(self, pace: Pace, *, long: bool) -> Iterator[Progress[Filling]]:
        """Try changes for as long as the pace says."""
        improver = Improver(self.packing, self.wishes, self.random)
        best, due, soonest = improver.best, 0.0, BETWEEN * self.placed
        while (share := pace.share(self.steps)) < 1:
            if share >= due and self.steps >= soonest and improver.best > best:
                self._show(improver.poses, improver.kinds)
                best, due = improver.best, share + 1 / SHOWINGS
                soonest = self.steps + BETWEEN * self.placed
            yield Progress(int(1000 * share), 1000, "improving", self.filling)
            if long and share > FILL_EMPTY and not improver.fills_empty:
                improver.fill_empty()
                best = improver.best
            for _ in range(AT_ONCE):
                improver.step(1 - share)
                self.steps += 1
        self.packing.poses, self.packing.kinds = improver.poses, improver.kinds

    def finish(self, *, long: bool, end: float = math.inf) -> Iterator[Progress[Filling]]:
        """Bring all to exact contact, or nearly where the clock gets to `end` before."""
        packing, clock = self.packing, self.ledger.clock
        poses, kinds = packing.poses, packing.kinds
        end -= self.showing
        rounds = rounds_of(_finish_steps(len(kinds), long=long), packing.unit)
        due = in_time(rounds, LAST_STEPS, clock, end)
        pool, room = self.ledger.pool, self.room
        for tighter in tighten(poses, kinds, pool, room, self._limits(poses), due):
            poses = tighter
            yield Progress(1000, 1000, "finishing", self.filling)
            if clock() >= end:
                break
        self._show(poses, kinds, FINE)

    def _limits(self, poses: Floats) -> Limits:
        traits = self.packing.samples.traits[self.packing.kinds]
        return Limits(
            traits[:, SMALLEST], traits[:, LARGEST], self.packing.upright(poses),
            traits[:, TURN_LIMIT],
        )  # fmt: skip

    def _show(self, poses: Floats, kinds: Ints, tolerance: float = ROUGH) -> None:
        """Make a valid filling of these and keep it if it covers more than the one so far."""
        begun = self.ledger.clock()
        covers = [outer(item, tolerance) for item in self.ledger.pool]
        mended = mend(poses, kinds, covers, self.room)
        if not len(mended[1]):
            # Thin shapes that overlap may all shrink too far: the ledger keeps those that hold.
            mended = poses, kinds
        filling = self.ledger.filling(*mended, self.steps)
        self.showing = self.ledger.clock() - begun
        if filling.coverage > self.filling.coverage:
            self.filling = filling


def _finish_steps(count: int, *, long: bool) -> Sequence[float]:
    if count > MANY:
        return HASTY_STEPS
    return LONG_STEPS if long else QUICK_STEPS


def _wishes(ledger: Ledger, rules: FillOptions, smallest: float, largest: float) -> Wishes:
    weights = np.array([max(0.0, item.weight) for item in ledger.pool])
    classes = None
    if rules.spread is Spread.VARIED and largest > 1.5 * smallest:
        classes = smallest * (largest / smallest) ** np.array([1 / 3, 2 / 3])
    return Wishes(
        field_area=ledger.field.area.area,
        gap=rules.gap,
        shares=weights / weights.sum(),
        counts=ledger.counts(),
        lifts=np.array([item.lifts for item in ledger.pool]),
        lifting_share=rules.lifting_share,
        avoid_neighbours=rules.avoid_neighbours,
        classes=classes,
    )
