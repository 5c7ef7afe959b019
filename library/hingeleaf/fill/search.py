"""Compiled search for the best free place in a clearance grid.

A clearance grid holds, for every point, the distance to the nearest thing in the way, less what
must be kept from it: a motif may lie where the value is ≥ 0 all over its footprint.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.columns import (
    AREA,
    AX,
    AY,
    CIRCLE_COUNT,
    CORE,
    INERTIA,
    KIND,
    LARGEST,
    MIRROR,
    MIRRORS,
    PROBE_COUNT,
    SCORE,
    SMALLEST,
    TURN_LIMIT,
    X,
    Y,
)
from hingeleaf.fill.compiled import compiled
from hingeleaf.fill.grids import Floats, Grid, nearest_value, slope_at, value_at

Ints = NDArray[np.int64]
State = NDArray[np.uint64]

LOOKS = 64
"""Probes looked at when a place is tried."""
TIGHTENINGS = 3
"""How often a good place is improved at most."""
YIELDING = 0.35
"""How readily a growing motif shrinks again rather than moves."""
FULL_TURN = 2 * math.pi

_GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_MIX_1 = np.uint64(0xBF58476D1CE4E5B9)
_MIX_2 = np.uint64(0x94D049BB133111EB)
_S30, _S27, _S31, _S11 = np.uint64(30), np.uint64(27), np.uint64(31), np.uint64(11)


@compiled("f8(u8[::1])", inline=True)
def _chance(state: State) -> float:
    """The next number from 0 to 1 (splitmix64: Steele, Lea and Flood, 2014)."""
    state[0] += _GOLDEN
    mixed = state[0]
    mixed = (mixed ^ (mixed >> _S30)) * _MIX_1
    mixed = (mixed ^ (mixed >> _S27)) * _MIX_2
    mixed ^= mixed >> _S31
    return float(mixed >> _S11) * 2.0**-53


@compiled("f8(f4[:,::1], f8[::1], f8[:,::1], i8, f8[::1], f8, f8, f8, f8, f8)", inline=True)
def _largest_size(
    clearance: Grid,
    frame: Floats,
    probes: Floats,
    count: int,
    pose: Floats,
    cos: float,
    sin: float,
    smallest: float,
    largest: float,
    overlap: float,
) -> float:
    """The largest size that fits at a place, or 0: sphere tracing towards the origin."""
    size = largest
    passed = 0
    k = 0
    per_step = 1.0 / frame[2]
    while passed < count:
        along = probes[k, 0] * pose[MIRROR]
        right = cos * along - sin * probes[k, 1]
        down = sin * along + cos * probes[k, 1]
        lack = (
            probes[k, 2] * size
            - overlap
            - value_at(
                clearance,
                (pose[X] + size * right - frame[0]) * per_step,
                (pose[Y] + size * down - frame[1]) * per_step,
            )
        )
        if lack > 0:
            pace = math.sqrt(right**2 + down**2) + probes[k, 2] + 1e-3
            size -= max(lack / pace, 0.0015 * size)
            if size < smallest:
                return 0.0
            passed = 0
        else:
            passed += 1
            k += 1
            if k == count:
                k = 0
    return size


@compiled("f8(f4[:,::1], f8[::1], f8[:,::1], i8, i8, f8[::1], f8)", inline=True)
def _openness(
    clearance: Grid,
    frame: Floats,
    probes: Floats,
    first: int,
    count: int,
    pose: Floats,
    nearby: float,
) -> float:
    """How far an outline is from its surroundings on average, as a share of `nearby` mm."""
    total = 0.0
    per_step = 1.0 / frame[2]
    for k in range(first, count):
        along = probes[k, 0] * pose[MIRROR]
        x = pose[X] + pose[AX] * along - pose[AY] * probes[k, 1]
        y = pose[Y] + pose[AY] * along + pose[AX] * probes[k, 1]
        value = value_at(clearance, (x - frame[0]) * per_step, (y - frame[1]) * per_step)
        total += min(max(value, 0.0), nearby)
    return total / ((count - first) * nearby)


@compiled(
    "b1(f4[:,::1], f4[:,::1], f8[::1], f8[::1], f8[:,::1], f8, f8[::1], f8, f8, f8, f8, f8, f8)",
    inline=True,
)
def _fit(
    clearance: Grid,
    facing: Grid,
    frame: Floats,
    trait: Floats,
    probes: Floats,
    weight: float,
    pose: Floats,
    turn: float,
    smallest: float,
    largest: float,
    contact: float,
    nearby: float,
    overlap: float,
) -> bool:
    """Grow a motif at pose's place; keep it in `pose` if it scores more than pose does now."""
    lean = turn - nearest_value(facing, frame, pose[X], pose[Y])
    lean -= FULL_TURN * math.floor(lean / FULL_TURN + 0.5)
    if abs(lean) > trait[TURN_LIMIT] + 1e-9:
        return False
    worth = trait[AREA] * weight
    smallest = max(smallest, math.sqrt(max(0.0, pose[SCORE]) / worth))
    if smallest > largest:
        return False
    cos = math.cos(turn)
    sin = math.sin(turn)
    count = min(int(trait[PROBE_COUNT]), LOOKS)
    size = _largest_size(
        clearance, frame, probes, count, pose, cos, sin, smallest, largest, overlap
    )
    if size <= 0:
        return False
    pose[AX] = size * cos
    pose[AY] = size * sin
    first = int(trait[CIRCLE_COUNT])
    score = worth * size**2
    score *= 1 - contact * _openness(clearance, frame, probes, first, count, pose, nearby)
    if score <= pose[SCORE]:
        return False
    pose[SCORE] = score
    return True


@compiled("void(f4[:,::1], f8[::1], f8[::1], f8[:,::1], f8[::1], i8, f8, f8)", inline=True)
def _inflate(
    clearance: Grid,
    frame: Floats,
    trait: Floats,
    probes: Floats,
    pose: Floats,
    rounds: int,
    growth: float,
    overlap: float,
) -> None:
    """Let a motif grow and give way to what it meets: `settle`, for one motif on the grid."""
    slope = np.empty(2)
    inertia = trait[INERTIA]
    for round_ in range(rounds):
        size = math.sqrt(pose[AX] ** 2 + pose[AY] ** 2)
        factor = min(1 + growth * (1 - round_ / rounds), trait[LARGEST] / size)
        pose[AX] *= factor
        pose[AY] *= factor
        for k in range(min(int(trait[PROBE_COUNT]), LOOKS)):
            size = math.sqrt(pose[AX] ** 2 + pose[AY] ** 2)
            along = probes[k, 0] * pose[MIRROR]
            right = pose[AX] * along - pose[AY] * probes[k, 1]
            down = pose[AY] * along + pose[AX] * probes[k, 1]
            lack = (
                probes[k, 2] * size
                - overlap
                - slope_at(
                    clearance,
                    (pose[X] + right - frame[0]) / frame[2],
                    (pose[Y] + down - frame[1]) / frame[2],
                    slope,
                )
            )
            if lack <= 0:
                continue
            length = math.sqrt(slope[0] ** 2 + slope[1] ** 2) + 1e-12
            x = slope[0] / length
            y = slope[1] / length
            tangential = (right * y - down * x) / size
            radial = (right * x + down * y) / size - probes[k, 2]
            push = lack / (1 + (tangential**2 + YIELDING * radial**2) / inertia)
            pose[X] += push * x
            pose[Y] += push * y
            turned = push * tangential / inertia / size
            grown = push * YIELDING * radial / inertia / size
            old = pose[AX]
            pose[AX] += grown * old - turned * pose[AY]
            pose[AY] += grown * pose[AY] + turned * old


@compiled("i8(f8[::1], u8[::1])", inline=True)
def _draw_kind(weights: Floats, state: State) -> int:
    """A random kind, by weight."""
    total = 0.0
    for kind in range(weights.shape[0]):
        total += weights[kind]
    left = _chance(state) * total
    drawn = 0
    for kind in range(weights.shape[0]):
        if weights[kind] > 0:
            drawn = kind
            left -= weights[kind]
            if left < 0:
                break
    return drawn


@compiled("void(f8[:,::1], i8, f8[:,::1], i8)", inline=True)
def _copy(source: Floats, row: int, target: Floats, to_row: int) -> None:
    """Copy a row; numba takes seconds to compile the same as an assignment of arrays."""
    for column in range(source.shape[1]):
        target[to_row, column] = source[row, column]


@compiled("i8(f8[:,::1])", inline=True)
def _worst(found: Floats) -> int:
    worst = 0
    for n in range(1, found.shape[0]):
        if found[n, SCORE] < found[worst, SCORE]:
            worst = n
    return worst


@compiled(
    "void(f4[:,::1], f4[:,::1], f8[::1], f8[:,::1], f8[:,:,::1], f8[::1], i8[::1], f8, i8, f8, f8, "
    "f8, f8, u8[::1], f8[:,::1], f8[:,::1])",
    inline=True,
)
def _good_places(
    clearance: Grid,
    facing: Grid,
    frame: Floats,
    traits: Floats,
    probes: Floats,
    weights: Floats,
    window: Ints,
    least: float,
    tries: int,
    contact: float,
    nearby: float,
    overlap: float,
    floor: float,
    state: State,
    found: Floats,
    trials: Floats,
) -> None:
    """Put the best of `tries` random poses into `found` (keep, 7)."""
    trial = trials[0]
    worst = 0
    left = tries
    for _ in range(tries * 30):
        row = window[0] + int(_chance(state) * (window[1] - window[0]))
        column = window[2] + int(_chance(state) * (window[3] - window[2]))
        if clearance[row, column] <= least:
            continue
        left -= 1
        if left < 0:
            break
        kind = _draw_kind(weights, state)
        worth = traits[kind, AREA] * weights[kind]
        smallest = max(traits[kind, SMALLEST], math.sqrt(floor / traits[kind, AREA]))
        smallest = max(smallest, math.sqrt(found[worst, SCORE] / worth))
        if traits[kind, CORE] * smallest > clearance[row, column] + overlap + frame[2]:
            continue
        trial[X] = frame[0] + (column + 1.5 * (_chance(state) - 0.5)) * frame[2]
        trial[Y] = frame[1] + (row + 1.5 * (_chance(state) - 0.5)) * frame[2]
        trial[MIRROR] = -1.0 if traits[kind, MIRRORS] > 0 and _chance(state) < 0.5 else 1.0
        trial[KIND] = kind
        trial[SCORE] = found[worst, SCORE]
        turn = nearest_value(facing, frame, trial[X], trial[Y])
        turn += traits[kind, TURN_LIMIT] * (2 * _chance(state) - 1)
        if _fit(
            clearance, facing, frame, traits[kind], probes[kind], weights[kind], trial, turn,
            smallest, traits[kind, LARGEST], contact, nearby, overlap,
        ):  # fmt: skip
            _copy(trials, 0, found, worst)
            worst = _worst(found)


@compiled(
    "void(f4[:,::1], f4[:,::1], f8[::1], f8[:,::1], f8[:,:,::1], f8[::1], i8[::1], f8, i8, i8, f8, "
    "f8, f8, f8, f8, u8[::1], f8[:,::1])"
)
def best_places(
    clearance: Grid,
    facing: Grid,
    frame: Floats,
    traits: Floats,
    probes: Floats,
    weights: Floats,
    window: Ints,
    least: float,
    tries: int,
    rounds: int,
    growth: float,
    contact: float,
    nearby: float,
    overlap: float,
    floor: float,
    state: State,
    found: Floats,
) -> None:
    """Find good places for any kind: rows (x, y, ax, ay, mirror, kind, score) of `found`.

    Random poses with the origin in a `window` of the grid, where the clearance is more than
    `least`, are scored by area · the kind's weight, less up to the share `contact` for lying
    open (farther than `nearby` mm from everything, all around). Of `tries` poses as many as
    `found` has rows then grow for `rounds` rounds, first by the share `growth`, and give way to
    what they meet. A kind of weight 0 is never used; none under `floor` mm² is taken; and
    `overlap` mm of what must be kept may be missing. `found` comes in zeroed; where the score
    stays 0 there is no place.
    """
    trials = np.zeros((1, 7))
    trial = trials[0]
    _good_places(
        clearance, facing, frame, traits, probes, weights, window, least, tries, contact, nearby,
        overlap, floor, state, found, trials,
    )  # fmt: skip
    for n in range(found.shape[0]):
        if found[n, SCORE] <= 0:
            continue
        kind = int(found[n, KIND])
        trait = traits[kind]
        for _ in range(TIGHTENINGS):
            _copy(found, n, trials, 0)
            _inflate(clearance, frame, trait, probes[kind], trial, rounds, growth, overlap)
            size = math.sqrt(trial[AX] ** 2 + trial[AY] ** 2)
            if not _fit(
                clearance, facing, frame, trait, probes[kind], weights[kind], trial,
                math.atan2(trial[AY], trial[AX]), trait[SMALLEST],
                min(trait[LARGEST], size * 1.1), contact, nearby, overlap,
            ):  # fmt: skip
                break
            _copy(trials, 0, found, n)
