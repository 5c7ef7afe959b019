"""Compiled improvement of a packing by simulated annealing.

A change takes up to three motifs out, puts others in so that they overlap a little, and lets all
around relax. It stands if the filling is better, or by chance where it is a bit worse.
"""

from __future__ import annotations

import math

import numpy as np
from numba import types
from numpy.typing import NDArray

from hingeleaf.fill.annealing_state import (
    ANNEALING,
    AREA_SCORE,
    BEST_SCORE,
    COUNTS_EMPTY,
    PAIRS_COST,
    WHOLE_SCORE,
    Annealing,
    clear_window,
    copy_motifs,
    copy_window,
    cost_of_pairs,
    cost_of_pairs_after,
    emptiness,
    motifs_of,
    normal,
    renew,
    score_with,
    size_of,
    sort_nearest,
    widen,
    widen_about,
    work_for,
)
from hingeleaf.fill.compiled import compiled
from hingeleaf.fill.objective import Objective, all_pairs_cost, score, weigh
from hingeleaf.fill.packing import Packing
from hingeleaf.fill.placement_search import SearchContext, best_place, chance, upright
from hingeleaf.fill.rasterize import stamp
from hingeleaf.fill.relax import Scene, area, relax, relax_buffers
from hingeleaf.fill.table_columns import (
    AREA,
    AX,
    AY,
    KIND,
    LARGEST,
    POSE,
    REACH,
    Floats,
    X,
    Y,
    copy_pose,
)

Ints = NDArray[np.int64]

# Values found by trial, speed against coverage; built into compiled code.
REMOVAL_PROBABILITIES = (0.1, 0.5, 0.85)
"""From what chance on one, two and three motifs are taken out, and not none."""
AT_RANDOM = 0.3
"""How often they are drawn from twice as many of the nearest."""
TRIES, TRIES_PER_KIND, MORE_TRIES = 400, 15, 0.5
"""Random poses tested for the first motif put in, at least and for each kind; what share of them
for every other motif."""
TEMPERATURE = 35.0
"""Score loss accepted at first, in square units."""
PRUNE_SCORE, PRUNE_SCORE_HOT = 10.0, 30.0
"""Score loss beyond what relaxation makes up for, in square units: at the end, added at first."""
PRUNE_AREA = 75.0
"""Shortfall of area at which growing is given up at first, in square units."""
EXTRA = 150.0
"""Area that small motifs next to a new one may add, in square units."""
SPOT_DRAWS, SPOT_CANDIDATES = 64, 10
"""Of how many random free places the one with most room is where a change begins, and how often
one is drawn for that at most."""
MIN_ROOM, MIN_SPOT = 1.2, 0.2
"""What clearance the origin of a new motif has at least, in units, beside those taken out and in a
free place."""
OVERLAP = 0.6
"""Mean initial overlap of a new motif with others, before relaxation, in units."""
AROUND, ALONG = 40.0, 16
"""Distance within which neighbours relax along, in units, and their greatest number."""
NEAR = 3.0
"""Distance up to which contacts are watched, in units."""
SHAKE_DEVIATION, SHAKE_PROBABILITY = 1.5, 0.7
"""Random displacement before relaxation, in units, and its probability if no motif is out."""
GROWTH, ROUNDS = 0.012, 12
"""Growth per round, and number of rounds of a relaxation."""
ENOUGH, TOO_MUCH = 0.015, 0.06
"""Violation at which relaxing ends, and above which it has failed, in units."""
VARIETY = 0.2
"""Standard deviation of the random factor in choosing a kind."""
NEIGHBOURS, NEIGHBOUR_FACTOR = 5, 0.5
"""Number of motifs around a spot whose kinds are disfavoured, and the factor on their weight."""
NEARER = 0.3
"""How much of a motif's size counts as being nearer."""


@compiled(types.void(ANNEALING), inline=True)
def _find_spot(a: Annealing) -> None:
    """A random free place with much room, or a random motif's place where there is hardly any."""
    clearance, frame, spot = a.search.clearance, a.search.frame, a.work.spot
    most = MIN_SPOT * a.unit
    found = 0
    for _ in range(SPOT_DRAWS):
        row = int(chance(a.state) * clearance.shape[0])
        column = int(chance(a.state) * clearance.shape[1])
        if clearance[row, column] > MIN_SPOT * a.unit:
            found += 1
            if clearance[row, column] > most:
                most = clearance[row, column]
                spot[0] = frame[0] + column * frame[2]
                spot[1] = frame[1] + row * frame[2]
            if found == SPOT_CANDIDATES:
                break
    if found == 0:
        motif = int(chance(a.state) * a.now.number[0])
        spot[0] = a.now.poses[motif, X]
        spot[1] = a.now.poses[motif, Y]


@compiled(types.void(ANNEALING, types.i8), inline=True)
def _sort_about_spot(a: Annealing, wanted: int) -> None:
    """Put the `wanted` motifs nearest to the spot first in the order."""
    work, poses = a.work, a.now.poses
    count = a.now.number[0]
    for n in range(count):
        away = math.sqrt((poses[n, X] - work.spot[0]) ** 2 + (poses[n, Y] - work.spot[1]) ** 2)
        work.away[n] = away - NEARER * size_of(poses, n)
    sort_nearest(work.away, work.order, count, wanted)


@compiled(types.i8(ANNEALING), inline=True)
def _choose_out(a: Annealing) -> int:
    """Which motifs go out: those nearest to the spot, or some of the nearest; how many."""
    drawn = chance(a.state)
    wanted = 0
    for bound in REMOVAL_PROBABILITIES:
        wanted += drawn >= bound
    wanted = min(wanted, int(a.now.number[0]))
    among = wanted
    if chance(a.state) < AT_RANDOM:
        among = min(2 * wanted, int(a.now.number[0]))
    _sort_about_spot(a, among)
    order = a.work.order
    for k in range(wanted):
        other = k + int(chance(a.state) * (among - k)) if among > wanted else k
        order[k], order[other] = order[other], order[k]
        a.work.out[k] = order[k]
    return wanted


@compiled(types.void(ANNEALING, types.i8), inline=True)
def _take_out(a: Annealing, out_count: int) -> None:
    """Keep all as it is, with the clearance in the window of the change; then take motifs out."""
    now, work, traits = a.now, a.work, a.search.traits
    copy_motifs(now, a.before)
    reach = farthest = 0.0
    for kind in range(traits.shape[0]):
        farthest = max(farthest, traits[kind, REACH] * traits[kind, LARGEST])
    gone = work.inner
    clear_window(a, gone)
    for k in range(out_count):
        motif = work.out[k]
        reach = max(reach, traits[now.kinds[motif], REACH] * size_of(now.poses, motif))
        widen_about(a, gone, now.poses[motif], now.kinds[motif])
    reach += farthest + a.halo
    clear_window(a, work.window)
    widen(a, work.window, work.spot[0], work.spot[1], reach)
    for k in range(out_count):
        motif = work.out[k]
        widen(a, work.window, now.poses[motif, X], now.poses[motif, Y], reach)
    copy_window(a.search.clearance, a.saved, work.window)
    stays = 0
    for n in range(now.number[0]):
        is_out = False
        for k in range(out_count):
            is_out = is_out or work.out[k] == n
        if not is_out:
            copy_pose(now.poses, n, now.poses, stays)
            now.kinds[stays] = now.kinds[n]
            stays += 1
    now.number[0] = stays
    renew(a, gone)


@compiled(types.void(ANNEALING), inline=True)
def _go_back(a: Annealing) -> None:
    copy_motifs(a.before, a.now)
    copy_window(a.saved, a.search.clearance, a.work.window)


@compiled(types.void(ANNEALING), inline=True)
def _weigh_kinds(a: Annealing) -> None:
    """What each kind's area counts for the next motif put in, with a say of chance."""
    work, now = a.work, a.now
    for kind in range(work.counts.shape[0]):
        work.counts[kind] = a.objective.fixed[kind]
    for n in range(now.number[0]):
        work.counts[now.kinds[n]] += 1
    weigh(a.objective, work.counts, work.weights)
    for kind in range(work.weights.shape[0]):
        work.weights[kind] *= math.exp(VARIETY * normal(a.state))
    if a.objective.avoid_neighbours:
        _sort_about_spot(a, NEIGHBOURS)
        for k in range(min(NEIGHBOURS, now.number[0])):
            kind = now.kinds[work.order[k]]
            known = False
            for j in range(k):
                known = known or now.kinds[work.order[j]] == kind
            if not known:
                work.weights[kind] *= NEIGHBOUR_FACTOR


@compiled(types.void(ANNEALING, types.i8, types.f8), inline=True)
def _put_in(a: Annealing, out_count: int, slack: float) -> None:
    """Put motifs in where others were taken out, until nothing more fits."""
    work, now, traits, search = a.work, a.now, a.search.traits, a.search
    window = work.inner
    clear_window(a, window)
    widen(a, window, work.spot[0], work.spot[1], 8 * a.unit)
    floor = 0.0
    for k in range(out_count):
        motif = work.out[k]
        kind = a.before.kinds[motif]
        pose = a.before.poses[motif]
        size = size_of(a.before.poses, motif)
        widen(a, window, pose[X], pose[Y], traits[kind, REACH] * size)
        floor = max(floor, 0.5 * traits[kind, AREA] * size**2)
    if out_count == 1:
        floor = max(0.0, 2 * floor - slack - EXTRA * a.unit**2)
    wished = 0
    for kind in range(traits.shape[0]):
        wished += a.objective.shares[kind] > 0
    tries = max(TRIES, TRIES_PER_KIND * wished)
    overlap = -OVERLAP * a.unit * math.log(max(1e-9, chance(a.state)))
    least = (MIN_ROOM if out_count else MIN_SPOT) * a.unit
    for _ in range(2 * out_count + 2):
        _weigh_kinds(a)
        context = SearchContext(
            search.clearance, search.facing, search.frame, traits, search.probes, work.weights,
            search.contact, search.nearby, overlap,
        )  # fmt: skip
        place = best_place(context, window, least, tries, floor, a.state, a.search_buffers)
        if place < 0 or now.number[0] >= now.kinds.shape[0]:
            break
        n = now.number[0]
        copy_pose(a.search_buffers.found, place, now.poses, n)
        now.kinds[n] = int(a.search_buffers.found[place, KIND])
        now.number[0] = n + 1
        stamp(
            search.clearance, search.frame, a.fields, traits, now.poses[n : n + 1],
            now.kinds[n : n + 1], a.gap, a.halo, work.window,
        )  # fmt: skip
        floor = 0.0
        tries = int(MORE_TRIES * max(TRIES, TRIES_PER_KIND * wished))


@compiled(types.i8(ANNEALING, types.i8), inline=True)
def _choose_relaxing(a: Annealing, out_count: int) -> int:
    """List the motifs about the change in `some`, and which of them are free; how many.

    Those that were put in are free, and the nearest others.
    """
    work, now, traits = a.work, a.now, a.search.traits
    count = now.number[0]
    old = a.before.number[0] - out_count
    for n in range(count):
        away = (now.poses[n, X] - work.spot[0]) ** 2 + (now.poses[n, Y] - work.spot[1]) ** 2
        for k in range(out_count):
            pose = a.before.poses[work.out[k]]
            away = min(away, (now.poses[n, X] - pose[X]) ** 2 + (now.poses[n, Y] - pose[Y]) ** 2)
        work.away[n] = math.sqrt(away) - NEARER * size_of(now.poses, n)
        work.free[n] = n >= old
    sort_nearest(work.away, work.order, count, ALONG)
    for k in range(min(ALONG, count)):
        n = work.order[k]
        work.free[n] = work.free[n] or work.away[n] < AROUND * a.unit
    farthest = 0.0
    for n in range(count):
        size = size_of(now.poses, n)
        work.away[n] += NEARER * size
        if work.free[n]:
            farthest = max(farthest, work.away[n] + traits[now.kinds[n], REACH] * size)
    some = 0
    for n in range(count):
        reach = traits[now.kinds[n], REACH] * size_of(now.poses, n)
        if work.away[n] - reach < farthest + a.gap:
            work.some[some] = n
            work.free[some] = work.free[n]
            some += 1
    return some


@compiled(types.void(ANNEALING, types.f8[::1]), inline=True)
def _shake(a: Annealing, pose: Floats) -> None:
    pose[X] += SHAKE_DEVIATION * a.unit * normal(a.state)
    pose[Y] += SHAKE_DEVIATION * a.unit * normal(a.state)
    turn = 0.1 * SHAKE_DEVIATION * normal(a.state)
    cos, sin, ax = math.cos(turn), math.sin(turn), pose[AX]
    pose[AX] = cos * ax - sin * pose[AY]
    pose[AY] = sin * ax + cos * pose[AY]


@compiled(types.i8(ANNEALING, types.i8, types.f8), inline=True)
def _relax_about(a: Annealing, out_count: int, needed: float) -> int:
    """Let the motifs about the change relax in `work.poses`: how many; -1 if they cannot.

    Nor if they do not gain the area that is needed, mm², before they give way.
    """
    work, now = a.work, a.now
    some = _choose_relaxing(a, out_count)
    shake = out_count == 0 and chance(a.state) < SHAKE_PROBABILITY
    for k in range(some):
        n = work.some[k]
        copy_pose(now.poses, n, work.poses, k)
        work.kinds[k] = now.kinds[n]
        if shake and work.free[k]:
            _shake(a, work.poses[k])
        work.upright[k] = upright(a.search, work.kinds[k], work.poses[k])
    scene = Scene(
        a.container, a.search.frame, a.fields, a.search.traits, a.search.probes,
        work.poses[:some], work.kinds[:some], work.upright[:some], work.free[:some], a.gap,
    )  # fmt: skip
    target = area(scene) + needed
    near, enough = NEAR * a.unit, ENOUGH * a.unit
    relax(scene, a.relax_buffers, near, ROUNDS, GROWTH, 0.0, target, PRUNE_AREA * a.unit**2)
    if area(scene) < target:
        return -1
    if relax(scene, a.relax_buffers, near, 2 * ROUNDS, 0.0, enough, 0.0, 0.0) > TOO_MUCH * a.unit:
        return -1
    return some


@compiled(types.void(ANNEALING, types.i8, types.f8), inline=True)
def _accept(a: Annealing, some: int, bar: float) -> None:
    """Let a change stand, unless it is not good enough or leaves too large a place empty."""
    now, work, scores = a.now, a.work, a.scores
    for k in range(some):
        n = work.some[k]
        for column in range(POSE):
            relaxed = work.poses[k, column]
            work.poses[k, column] = now.poses[n, column]
            now.poses[n, column] = relaxed
    pairs = cost_of_pairs(a)
    area_score = score_with(a, pairs)
    if area_score < bar:
        _go_back(a)
        return
    copy_window(a.saved, a.search.clearance, work.window)
    for k in range(some):
        n = work.some[k]
        if work.free[k]:
            widen_about(a, work.window, now.poses[n], now.kinds[n])
            widen_about(a, work.window, work.poses[k], now.kinds[n])
    copy_window(a.search.clearance, a.saved, work.window)
    gain = area_score - scores[AREA_SCORE] + emptiness(a, work.window)
    renew(a, work.window)
    gain -= emptiness(a, work.window)
    if scores[WHOLE_SCORE] + gain < bar:
        _go_back(a)
        return
    scores[WHOLE_SCORE] += gain
    scores[AREA_SCORE] = area_score
    scores[PAIRS_COST] = pairs
    if scores[WHOLE_SCORE] > scores[BEST_SCORE]:
        scores[BEST_SCORE] = scores[WHOLE_SCORE]
        copy_motifs(now, a.best)


@compiled(types.void(ANNEALING, types.i8, types.f8))
def _change(a: Annealing, times: int, temperature: float) -> None:
    """Try so many changes, see `Annealer.change`."""
    unit = a.unit**2
    lenience = (PRUNE_SCORE + PRUNE_SCORE_HOT * temperature) * unit
    for _ in range(times):
        may_cost = -temperature * TEMPERATURE * unit * math.log(max(1e-9, chance(a.state)))
        _find_spot(a)
        out_count = _choose_out(a)
        _take_out(a, out_count)
        _put_in(a, out_count, may_cost + lenience)
        bar = a.scores[WHOLE_SCORE] - may_cost
        needed = bar - score_with(a, cost_of_pairs_after(a, out_count))
        some = -1
        if a.now.number[0] and (out_count == 0 or needed <= lenience):
            some = _relax_about(a, out_count, needed)
        if some < 0:
            _go_back(a)
        else:
            _accept(a, some, bar)


@compiled(types.void(ANNEALING, types.i8[::1]))
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
