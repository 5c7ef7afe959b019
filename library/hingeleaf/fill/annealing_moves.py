"""Compiled moves of annealing: find a spot, remove motifs there, insert others."""

from __future__ import annotations

import math

from hingeleaf.fill.annealing_state import NEARER, Annealing, copy_motifs, sort_nearest
from hingeleaf.fill.clearance_window import clear_window, copy_window, renew, widen, widen_about
from hingeleaf.fill.compiled import inlined
from hingeleaf.fill.objective import weigh
from hingeleaf.fill.placement_search import SearchContext, best_place
from hingeleaf.fill.random_numbers import chance, normal
from hingeleaf.fill.rasterize import stamp
from hingeleaf.fill.table_columns import AREA, KIND, LARGEST, REACH, X, Y, copy_pose, size_of

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
REMOVAL_PROBABILITIES = (0.1, 0.5, 0.85)
"""From what chance on one, two and three motifs are taken out, and not none."""
AT_RANDOM = 0.3
"""How often they are drawn from twice as many of the nearest."""
TRIES, TRIES_PER_KIND, MORE_TRIES = 400, 15, 0.5
"""Random poses tested for the first motif put in, at least and for each kind; what share of them
for every other motif."""
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
VARIETY = 0.2
"""Standard deviation of the random factor in choosing a kind."""
NEIGHBOURS, NEIGHBOUR_FACTOR = 5, 0.5
"""Number of motifs around a spot whose kinds are disfavoured, and the factor on their weight."""


@inlined
def find_spot(a: Annealing) -> None:
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


@inlined
def _sort_about_spot(a: Annealing, wanted: int) -> None:
    """Put the `wanted` motifs nearest to the spot first in the order."""
    work, poses = a.work, a.now.poses
    count = a.now.number[0]
    for n in range(count):
        away = math.sqrt((poses[n, X] - work.spot[0]) ** 2 + (poses[n, Y] - work.spot[1]) ** 2)
        work.away[n] = away - NEARER * size_of(poses, n)
    sort_nearest(work.away, work.order, count, wanted)


@inlined
def choose_removed(a: Annealing) -> int:
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
        a.work.removed[k] = order[k]
    return wanted


@inlined
def remove(a: Annealing, removed_count: int) -> None:
    """Keep all as it is, with the clearance in the window of the change; then take motifs out."""
    now, work, traits = a.now, a.work, a.search.traits
    copy_motifs(now, a.before)
    reach = farthest = 0.0
    for kind in range(traits.shape[0]):
        farthest = max(farthest, traits[kind, REACH] * traits[kind, LARGEST])
    gone = work.inner
    clear_window(a, gone)
    for k in range(removed_count):
        motif = work.removed[k]
        reach = max(reach, traits[now.kinds[motif], REACH] * size_of(now.poses, motif))
        widen_about(a, gone, now.poses[motif], now.kinds[motif])
    reach += farthest + a.halo
    clear_window(a, work.window)
    widen(a, work.window, work.spot[0], work.spot[1], reach)
    for k in range(removed_count):
        motif = work.removed[k]
        widen(a, work.window, now.poses[motif, X], now.poses[motif, Y], reach)
    copy_window(a.search.clearance, a.saved, work.window)
    stays = 0
    for n in range(now.number[0]):
        is_removed = False
        for k in range(removed_count):
            is_removed = is_removed or work.removed[k] == n
        if not is_removed:
            copy_pose(now.poses, n, now.poses, stays)
            now.kinds[stays] = now.kinds[n]
            stays += 1
    now.number[0] = stays
    renew(a, gone)


@inlined
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


@inlined
def insert(a: Annealing, removed_count: int, slack: float) -> None:
    """Put motifs in where others were taken out, until nothing more fits."""
    work, now, traits, search = a.work, a.now, a.search.traits, a.search
    window = work.inner
    clear_window(a, window)
    widen(a, window, work.spot[0], work.spot[1], 8 * a.unit)
    floor = 0.0
    for k in range(removed_count):
        motif = work.removed[k]
        kind = a.before.kinds[motif]
        pose = a.before.poses[motif]
        size = size_of(a.before.poses, motif)
        widen(a, window, pose[X], pose[Y], traits[kind, REACH] * size)
        floor = max(floor, 0.5 * traits[kind, AREA] * size**2)
    if removed_count == 1:
        floor = max(0.0, 2 * floor - slack - EXTRA * a.unit**2)
    wished = 0
    for kind in range(traits.shape[0]):
        wished += a.objective.shares[kind] > 0
    tries = max(TRIES, TRIES_PER_KIND * wished)
    overlap = -OVERLAP * a.unit * math.log(max(1e-9, chance(a.state)))
    least = (MIN_ROOM if removed_count else MIN_SPOT) * a.unit
    for _ in range(2 * removed_count + 2):
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
