"""Compiled relaxation of the motifs around a move of annealing."""

from __future__ import annotations

import math

from hingeleaf.fill.annealing_state import NEARER, Annealing, sort_nearest
from hingeleaf.fill.compiled import Floats, inlined
from hingeleaf.fill.placement_search import upright
from hingeleaf.fill.random_numbers import chance, normal
from hingeleaf.fill.relax import Scene, area, relax
from hingeleaf.fill.table_columns import AX, AY, REACH, X, Y, copy_pose, size_of

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
PRUNE_AREA = 75.0
"""Shortfall of area at which growing is given up at first, in square units."""
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


@inlined
def _choose_relaxing(a: Annealing, removed_count: int) -> int:
    """List the motifs about the change in `work.involved`, and which are free; how many.

    Those that were put in are free, and the nearest others.
    """
    work, now, traits = a.work, a.now, a.search.traits
    count = now.number[0]
    old = a.before.number[0] - removed_count
    for n in range(count):
        away = (now.poses[n, X] - work.spot[0]) ** 2 + (now.poses[n, Y] - work.spot[1]) ** 2
        for k in range(removed_count):
            pose = a.before.poses[work.removed[k]]
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
    involved = 0
    for n in range(count):
        reach = traits[now.kinds[n], REACH] * size_of(now.poses, n)
        if work.away[n] - reach < farthest + a.gap:
            work.involved[involved] = n
            work.free[involved] = work.free[n]
            involved += 1
    return involved


@inlined
def _shake(a: Annealing, pose: Floats) -> None:
    pose[X] += SHAKE_DEVIATION * a.unit * normal(a.state)
    pose[Y] += SHAKE_DEVIATION * a.unit * normal(a.state)
    turn = 0.1 * SHAKE_DEVIATION * normal(a.state)
    cos, sin, ax = math.cos(turn), math.sin(turn), pose[AX]
    pose[AX] = cos * ax - sin * pose[AY]
    pose[AY] = sin * ax + cos * pose[AY]


@inlined
def relax_about(a: Annealing, removed_count: int, needed: float) -> int:
    """Let the motifs about the change relax in `work.poses`: how many; -1 if they cannot.

    Nor if they do not gain the area that is needed, mm², before they give way.
    """
    work, now = a.work, a.now
    involved = _choose_relaxing(a, removed_count)
    shake = removed_count == 0 and chance(a.state) < SHAKE_PROBABILITY
    for k in range(involved):
        n = work.involved[k]
        copy_pose(now.poses, n, work.poses, k)
        work.kinds[k] = now.kinds[n]
        if shake and work.free[k]:
            _shake(a, work.poses[k])
        work.upright[k] = upright(a.search, work.kinds[k], work.poses[k])
    scene = Scene(
        a.container, a.search.frame, a.fields, a.search.traits, a.search.probes,
        work.poses[:involved], work.kinds[:involved], work.upright[:involved],
        work.free[:involved], a.gap,
    )  # fmt: skip
    target = area(scene) + needed
    near, enough = NEAR * a.unit, ENOUGH * a.unit
    relax(scene, a.relax_buffers, near, ROUNDS, GROWTH, 0.0, target, PRUNE_AREA * a.unit**2)
    if area(scene) < target:
        return -1
    if relax(scene, a.relax_buffers, near, 2 * ROUNDS, 0.0, enough, 0.0, 0.0) > TOO_MUCH * a.unit:
        return -1
    return involved
