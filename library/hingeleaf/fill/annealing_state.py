"""Arrays of annealing as named tuples, and compiled helpers that read them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from hingeleaf.fill.compiled import Flags, Floats, Grid, Grids, Ints, State, Table, inlined
from hingeleaf.fill.objective import (
    Objective,
    all_pairs_cost,
    motif_pairs_cost,
    pair_cost,
    score_without_pairs,
)
from hingeleaf.fill.placement_search import SearchBuffers, SearchContext
from hingeleaf.fill.relax import RelaxBuffers
from hingeleaf.fill.table_columns import copy_pose

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
NEARER = 0.3
"""How much of a motif's size counts as being nearer."""
MAX_REMOVED = 3
"""Motifs that a change takes out at most."""
SPARE = 16
"""Motifs that a change may hold on top of what a filling has."""
AREA_SCORE, WHOLE_SCORE, BEST_SCORE, COUNTS_EMPTY, PAIRS_COST = 0, 1, 2, 3, 4
"""Entries of `scores`: without and with the cost of empty places, the best so far, 1 where empty
places cost anything, and what pairs cost."""


def motifs_of(poses: Floats, kinds: Ints) -> Motifs:
    """These motifs, with room for as many again."""
    count = len(kinds)
    room = np.zeros((count + SPARE, 5)), np.zeros(count + SPARE, np.int64)
    return Motifs(np.vstack([poses, room[0]]), np.append(kinds, room[1]), np.array([count]))


class Motifs(NamedTuple):
    """Poses and kinds with room for more; `number` (1,) says how many are there."""

    poses: Table
    kinds: Ints
    number: Ints


class Work(NamedTuple):
    """Arrays that a change overwrites, most of them by motif."""

    counts: Ints
    weights: Floats
    away: Floats
    order: Ints
    removed: Ints
    spot: Floats
    window: Ints
    inner: Ints
    poses: Table
    kinds: Ints
    upright: Floats
    involved: Ints
    free: Flags


def work_for(motifs: int, kinds: int) -> Work:
    """Room for so many motifs and kinds."""
    return Work(
        counts=np.zeros(kinds, np.int64),
        weights=np.zeros(kinds),
        away=np.zeros(motifs),
        order=np.zeros(motifs, np.int64),
        removed=np.zeros(MAX_REMOVED, np.int64),
        spot=np.zeros(2),
        window=np.zeros(4, np.int64),
        inner=np.zeros(4, np.int64),
        poses=np.zeros((motifs, 5)),
        kinds=np.zeros(motifs, np.int64),
        upright=np.zeros(motifs),
        involved=np.zeros(motifs, np.int64),
        free=np.zeros(motifs, np.bool_),
    )


class Annealing(NamedTuple):
    """All that changes are made with."""

    search: SearchContext
    objective: Objective
    fields: Grids
    container: Grid
    gap: float
    halo: float
    unit: float
    now: Motifs
    """What the clearance grid shows; `before` is what a change may have to go back to."""
    before: Motifs
    best: Motifs
    saved: Grid
    """The clearance before a change, in its window."""
    scores: Floats
    state: State
    work: Work
    search_buffers: SearchBuffers
    relax_buffers: RelaxBuffers


@inlined
def copy_motifs(source: Motifs, target: Motifs) -> None:
    """Copy all motifs that are there."""
    target.number[0] = source.number[0]
    for n in range(source.number[0]):
        copy_pose(source.poses, n, target.poses, n)
        target.kinds[n] = source.kinds[n]


@inlined
def sort_nearest(away: Floats, order: Ints, count: int, wanted: int) -> None:
    """Put the numbers of the `wanted` least of `count` distances first in `order`."""
    for n in range(count):
        order[n] = n
    for k in range(min(wanted, count)):
        least = k
        for n in range(k + 1, count):
            if away[order[n]] < away[order[least]]:
                least = n
        order[k], order[least] = order[least], order[k]


@inlined
def score_given_pairs(a: Annealing, pairs: float) -> float:
    """The score of the filling as it is, if its pairs cost so much, without empty places, mm²."""
    count = a.now.number[0]
    alone: float = score_without_pairs(
        a.objective, a.search.traits, a.now.poses[:count], a.now.kinds[:count], a.work.counts
    )
    return alone - pairs


@inlined
def current_pairs_cost(a: Annealing) -> float:
    """What the pairs of the filling as it is cost, mm²."""
    count = a.now.number[0]
    cost: float = all_pairs_cost(
        a.objective, a.search.traits, a.now.poses[:count], a.now.kinds[:count]
    )
    return cost


@inlined
def pairs_cost_after_move(a: Annealing, removed_count: int) -> float:
    """What pairs cost after a move, from their cost before it and its pairs alone, mm²."""
    traits, now, before = a.search.traits, a.now, a.before
    total: float = a.scores[PAIRS_COST]
    for k in range(removed_count):
        gone = a.work.removed[k]
        total -= motif_pairs_cost(
            a.objective, traits, before.poses, before.kinds, gone, before.number[0]
        )
        for j in range(k):
            other = a.work.removed[j]
            total += pair_cost(a.objective, traits, before.poses, before.kinds, gone, other)
    for n in range(before.number[0] - removed_count, now.number[0]):
        total += motif_pairs_cost(a.objective, traits, now.poses, now.kinds, n, n)
    return total
