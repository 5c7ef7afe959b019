"""Compiled simulated annealing, which improves a packing change by change.

A change takes up to three motifs out, puts others in so that they overlap a little, and lets all
around relax. It stands if the filling is better, or by chance where it is a bit worse.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.annealing_moves import choose_removed, find_spot, insert, remove
from hingeleaf.fill.annealing_relaxation import relax_about
from hingeleaf.fill.annealing_state import (
    AREA_SCORE,
    BEST_SCORE,
    COUNTS_EMPTY,
    PAIRS_COST,
    WHOLE_SCORE,
    Annealing,
    copy_motifs,
    current_pairs_cost,
    motifs_of,
    pairs_cost_after_move,
    score_given_pairs,
    work_for,
)
from hingeleaf.fill.clearance_window import copy_window, emptiness, renew, widen_about
from hingeleaf.fill.compiled import Floats, Ints, compiled, inlined
from hingeleaf.fill.objective import Objective, all_pairs_cost, score
from hingeleaf.fill.packing import Packing
from hingeleaf.fill.random_numbers import chance
from hingeleaf.fill.relax import relax_buffers
from hingeleaf.fill.table_columns import POSE_COLUMNS

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
TEMPERATURE = 35.0
"""Score loss accepted at first, in square units."""
PRUNE_SCORE, PRUNE_SCORE_HOT = 10.0, 30.0
"""Score loss beyond what relaxation makes up for, in square units: at the end, added at first."""


@inlined
def _revert(a: Annealing) -> None:
    copy_motifs(a.before, a.now)
    copy_window(a.saved, a.search.clearance, a.work.window)


@inlined
def _accept(a: Annealing, involved: int, bar: float) -> None:
    """Let a change stand, unless it is not good enough or leaves too large a place empty."""
    now, work, scores = a.now, a.work, a.scores
    for k in range(involved):
        n = work.involved[k]
        for column in range(POSE_COLUMNS):
            relaxed = work.poses[k, column]
            work.poses[k, column] = now.poses[n, column]
            now.poses[n, column] = relaxed
    pairs = current_pairs_cost(a)
    area_score = score_given_pairs(a, pairs)
    if area_score < bar:
        _revert(a)
        return
    copy_window(a.saved, a.search.clearance, work.window)
    for k in range(involved):
        n = work.involved[k]
        if work.free[k]:
            widen_about(a, work.window, now.poses[n], now.kinds[n])
            widen_about(a, work.window, work.poses[k], now.kinds[n])
    copy_window(a.search.clearance, a.saved, work.window)
    gain = area_score - scores[AREA_SCORE] + emptiness(a, work.window)
    renew(a, work.window)
    gain -= emptiness(a, work.window)
    if scores[WHOLE_SCORE] + gain < bar:
        _revert(a)
        return
    scores[WHOLE_SCORE] += gain
    scores[AREA_SCORE] = area_score
    scores[PAIRS_COST] = pairs
    if scores[WHOLE_SCORE] > scores[BEST_SCORE]:
        scores[BEST_SCORE] = scores[WHOLE_SCORE]
        copy_motifs(now, a.best)


@compiled
def _change(a: Annealing, times: int, temperature: float) -> None:
    """Try so many changes, see `Annealer.change`."""
    unit = a.unit**2
    lenience = (PRUNE_SCORE + PRUNE_SCORE_HOT * temperature) * unit
    for _ in range(times):
        may_cost = -temperature * TEMPERATURE * unit * math.log(max(1e-9, chance(a.state)))
        find_spot(a)
        removed_count = choose_removed(a)
        remove(a, removed_count)
        insert(a, removed_count, may_cost + lenience)
        bar = a.scores[WHOLE_SCORE] - may_cost
        needed = bar - score_given_pairs(a, pairs_cost_after_move(a, removed_count))
        involved = -1
        if a.now.number[0] and (removed_count == 0 or needed <= lenience):
            involved = relax_about(a, removed_count, needed)
        if involved < 0:
            _revert(a)
        else:
            _accept(a, involved, bar)


@compiled
def _count_empty(a: Annealing, whole: Ints) -> None:
    """See `Annealer.fill_empty`; `whole` is the window of the whole grid."""
    a.scores[COUNTS_EMPTY] = 1
    a.scores[WHOLE_SCORE] = a.scores[AREA_SCORE] - emptiness(a, whole)
    a.scores[BEST_SCORE] = a.scores[WHOLE_SCORE]
    copy_motifs(a.now, a.best)


class Annealer:
    """Tries one change after another and keeps those that are better, or by chance a bit worse.

    The same random numbers make the same changes.
    """

    def __init__(self, packing: Packing, objective: Objective, state: NDArray[np.uint64]) -> None:
        kinds = len(packing.tables.traits)
        now, before, best = (motifs_of(packing.poses, packing.kinds) for _ in range(3))
        room = len(now.kinds)
        self._whole = packing.whole
        self._all = Annealing(
            search=packing.search(np.zeros(kinds)),
            objective=objective,
            fields=packing.tables.fields,
            container=packing.container,
            gap=packing.gap,
            halo=packing.halo,
            unit=packing.unit,
            now=now,
            before=before,
            best=best,
            saved=packing.clearance.copy(),
            scores=np.zeros(5),
            state=state,
            work=work_for(room, kinds),
            search_buffers=packing.buffers,
            relax_buffers=relax_buffers(room),
        )
        motifs = objective, packing.tables.traits, packing.poses, packing.kinds
        self._all.scores[:3] = score(*motifs, self._all.work.counts)
        self._all.scores[PAIRS_COST] = all_pairs_cost(*motifs)

    def change(self, times: int, temperature: float) -> None:
        """So many changes; `temperature` goes from 1 (bold) to 0 (only better ones are kept)."""
        _change(self._all, times, temperature)

    def fill_empty(self) -> None:
        """From now on, count large empty places too; what was best before counts no more."""
        _count_empty(self._all, self._whole)

    @property
    def score(self) -> float:
        """The score of the filling as it is."""
        return float(self._all.scores[WHOLE_SCORE])

    @property
    def best(self) -> float:
        """The best score so far."""
        return float(self._all.scores[BEST_SCORE])

    @property
    def poses(self) -> Floats:
        """The poses of the best filling so far."""
        return self._all.best.poses[: self._all.best.number[0]].copy()

    @property
    def kinds(self) -> Ints:
        """The kinds of the best filling so far."""
        return self._all.best.kinds[: self._all.best.number[0]].copy()
