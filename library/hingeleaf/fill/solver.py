"""Run the stages of a filling: greedy placement, annealing, compaction."""

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.annealing import Annealer
from hingeleaf.fill.clearance import lay_grid
from hingeleaf.fill.compiled import Floats, Ints
from hingeleaf.fill.container import Container
from hingeleaf.fill.feasibility import FINEST, MAX_MOTIFS
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.greedy import place_greedily, place_more
from hingeleaf.fill.lp_compaction import (
    FINE_STEPS,
    HASTY_STEPS,
    LONG_STEPS,
    QUICK_STEPS,
    PoseLimits,
    compact,
    rounds_of,
)
from hingeleaf.fill.motif_tables import tabulate
from hingeleaf.fill.objective import FEW, FEW_SMALL, FOCAL, Objective, score
from hingeleaf.fill.options import Spread
from hingeleaf.fill.packing import Packing
from hingeleaf.fill.problem import Problem
from hingeleaf.fill.repair import shrink_to_valid
from hingeleaf.fill.schedule import Schedule, in_time
from hingeleaf.fill.table_columns import LARGEST, SMALLEST, TURN_LIMIT
from hingeleaf.tasks import Progress

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
UNIT = 25.0
"""mm: the sum of a pool's median size and the gap at which its scale is one."""
STARTS = 4
"""Number of first fillings, of which the best is improved."""
REPORT_INTERVAL = 16
"""Changes between two reports of progress."""
MAX_PUBLISHED, PUBLISH_INTERVAL = 8, 5
"""How often a better filling is published meanwhile, and the least number of changes between, per
motif."""
FILL_EMPTY = 0.4
"""Share of the changes from which large empty places count too, if there is time."""
MANY_MOTIFS = 800
"""Number of motifs from which the exact finish is shortened."""
ROUGH_TOLERANCE, FINE_TOLERANCE = 5e-4, 5e-5
"""Outward tolerance of footprints, in sizes: when published meanwhile, and at the end."""


class Solver:
    """One filling of one container, step by step.

    `filling` is the best valid one so far, `showing` the seconds spent on validating it.
    """

    def __init__(self, problem: Problem, container: Container, filling: Filling) -> None:
        rules = problem.rules
        self.problem = problem
        self.container = container
        self.filling = filling
        self.steps = 0
        self.publishing_time = 0.0
        left, top, right, bottom = container.open.bounds
        longest = max(right - left, bottom - top)
        tables = tabulate(
            problem.pool,
            least=longest * FINEST,
            widest=longest,
            turn_limit=180.0 if rules.feet is None else rules.feet_sway,
            along=rules.along,
        )
        placed = np.array([item.weight > 0 for item in problem.pool])
        smallest = tables.traits[placed, SMALLEST].min()
        largest = tables.traits[placed, LARGEST].max()
        unit = float(np.sqrt(smallest * largest) + rules.gap) / UNIT
        self.objective = _objective(problem, smallest, largest)
        grids = lay_grid(container, unit, rules.feet, along=rules.along)
        self.packing = Packing(tables, grids, rules.gap, unit)
        self.random = np.random.default_rng(rules.seed)

    @property
    def placed(self) -> int:
        """Number of motifs placed anew."""
        return len(self.packing.kinds)

    def place(self) -> Iterator[Progress[Filling]]:
        """Make a first complete filling: the best of several."""
        packing, best = self.packing, -math.inf
        poses, kinds = packing.poses, packing.kinds
        for start in range(STARTS):
            state = self._state()
            for count in place_greedily(packing, self.objective, state, MAX_MOTIFS):
                yield Progress(0, 1, f"{count} placed", self.filling)
            if self.objective.capped and not start:
                self._raise_caps(state)
            counts = self.objective.counts(packing.kinds)
            worth = score(
                self.objective, packing.tables.traits, packing.poses, packing.kinds, counts
            )
            if worth > best:
                best, poses, kinds = worth, packing.poses, packing.kinds
            packing.clear()
        packing.poses, packing.kinds = poses, kinds
        packing.renew(packing.whole)
        if self.placed:
            self._publish(self.packing.poses, self.packing.kinds)

    def _state(self) -> NDArray[np.uint64]:
        return self.random.integers(0, 2**63, 1, np.uint64)

    def _raise_caps(self, state: NDArray[np.uint64]) -> None:
        """Raise the caps of kinds that fit, if only few kinds do."""
        packing, first = self.packing, self.placed
        poses, kinds = packing.poses, packing.kinds
        for _ in place_more(packing, self.objective._replace(capped=False), state, MAX_MOTIFS):
            pass
        raised = self.objective.with_needed(first, packing.kinds)
        if raised is self.objective:
            packing.poses, packing.kinds = poses, kinds
        self.objective = raised

    def improve(self, schedule: Schedule, *, long: bool) -> Iterator[Progress[Filling]]:
        """Try changes for as long as the schedule says."""
        annealer = Annealer(self.packing, self.objective, self._state())
        best, due, soonest = annealer.best, 0.0, PUBLISH_INTERVAL * self.placed
        fills_empty = False
        while (share := schedule(self.steps)) < 1:
            if share >= due and self.steps >= soonest and annealer.best > best:
                self._publish(annealer.poses, annealer.kinds)
                best, due = annealer.best, share + 1 / MAX_PUBLISHED
                soonest = self.steps + PUBLISH_INTERVAL * self.placed
            yield Progress(int(1000 * share), 1000, "improving", self.filling)
            if long and not fills_empty and share > FILL_EMPTY:
                fills_empty = True
                annealer.fill_empty()
                best = annealer.best
            annealer.change(REPORT_INTERVAL, 1 - share)
            self.steps += REPORT_INTERVAL
        self.packing.poses, self.packing.kinds = annealer.poses, annealer.kinds

    def finish(self, *, long: bool, end: float = math.inf) -> Iterator[Progress[Filling]]:
        """Bring all motifs to exact contact, or nearly if the clock reaches `end` before."""
        packing, clock = self.packing, self.problem.clock
        poses, kinds = packing.poses, packing.kinds
        end -= self.publishing_time
        rounds = rounds_of(_finish_steps(len(kinds), long=long), packing.unit)
        due = in_time(rounds, FINE_STEPS, clock, end)
        pool, container = self.problem.pool, self.container
        for tighter in compact(poses, kinds, pool, container, self._limits(poses), due):
            poses = tighter
            yield Progress(1000, 1000, "finishing", self.filling)
            if clock() >= end:
                break
        self._publish(poses, kinds, FINE_TOLERANCE)

    def _limits(self, poses: Floats) -> PoseLimits:
        kinds = self.packing.kinds
        traits = self.packing.tables.traits[kinds]
        return PoseLimits(
            traits[:, SMALLEST], traits[:, LARGEST], self.packing.upright(poses, kinds),
            traits[:, TURN_LIMIT],
        )  # fmt: skip

    def _publish(self, poses: Floats, kinds: Ints, tolerance: float = ROUGH_TOLERANCE) -> None:
        """Make a valid filling of these and keep it if it covers more than the one so far."""
        start = self.problem.clock()
        repaired = shrink_to_valid(poses, kinds, self.problem.pool, self.container, tolerance)
        if not len(repaired[1]):
            # Thin shapes that overlap may all shrink too far: `Problem` keeps those that hold.
            repaired = poses, kinds
        filling = self.problem.evaluate(*repaired, self.steps)
        self.publishing_time = self.problem.clock() - start
        fewer = self._lacking(filling) - self._lacking(self.filling)
        if fewer < 0 or (fewer == 0 and filling.coverage > self.filling.coverage):
            self.filling = filling

    def _lacking(self, filling: Filling) -> int:
        """Number of requested motifs and kinds that are missing."""
        return len(filling.missing) + max(0, self.problem.rules.least_kinds - filling.kinds)


def _finish_steps(count: int, *, long: bool) -> Sequence[float]:
    if count > MANY_MOTIFS:
        return HASTY_STEPS
    return LONG_STEPS if long else QUICK_STEPS


def _objective(problem: Problem, smallest: float, largest: float) -> Objective:
    rules = problem.rules
    smallest_of = np.array([item.sizes.smallest for item in problem.pool])
    weights = np.array([max(0.0, item.weight) for item in problem.pool])
    least = np.array([item.least for item in problem.pool])
    few = np.where(smallest_of < smallest * (largest / smallest) ** (1 / 3), FEW_SMALL, FEW)
    classes = smallest * (largest / smallest) ** np.array([1 / 3, 2 / 3, 1])
    return Objective(
        field_area=problem.field.area.area,
        gap=rules.gap,
        shares=weights / weights.sum(),
        fixed=problem.counts(),
        least_kinds=rules.least_kinds,
        least=least,
        most=np.array([MAX_MOTIFS if item.most is None else item.most for item in problem.pool]),
        few=few,
        capped=rules.spread is not Spread.FREE,
        lifts=np.array([item.lifts for item in problem.pool]),
        lifting_share=-1.0 if rules.lifting_share is None else rules.lifting_share,
        avoid_neighbours=rules.avoid_neighbours,
        varied=rules.spread is Spread.VARIED and largest > 1.5 * smallest,
        classes=classes * (1, 1, FOCAL),
    )
