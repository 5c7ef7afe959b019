"""Compiled random search for the best free place in a clearance grid.

A clearance grid holds, for every point, the distance to the nearest obstacle minus the distance to
be kept from it: a motif fits where the value is ≥ 0 all over its footprint.
"""

import math
from typing import NamedTuple

import numpy as np
from numba import types
from numpy.typing import NDArray

from hingeleaf.fill.compiled import compiled, tuple_type
from hingeleaf.fill.table_columns import (
    AREA,
    AX,
    AY,
    CIRCLE_COUNT,
    CORE,
    FOLLOWS,
    INERTIA,
    KIND,
    LARGEST,
    LEAN,
    MIRROR,
    MIRRORS,
    PROBE_COUNT,
    SCORE,
    SMALLEST,
    TURN_LIMIT,
    Floats,
    Grid,
    X,
    Y,
    nearest_value,
    slope_at,
    value_at,
)

Ints = NDArray[np.int64]
State = NDArray[np.uint64]

# Found by trial, speed against coverage; built into compiled code.
MAX_PROBES = 64
"""Probes tested for each candidate place."""
SIZE_COMPLIANCE = 0.35
"""Weight of shrinking relative to moving for a growing motif."""
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


class SearchContext(NamedTuple):
    """Inputs of a search: grid, kinds (as in `tables`) and weights."""

    clearance: Grid
    facing: Grid
    """The turn that counts as upright, radians; a single cell if it is the same everywhere."""
    frame: Floats
    """(x, y) of the first grid point and the step, mm."""
    traits: Floats
    probes: Floats
    weights: Floats
    """Weight of each kind's area; kinds of weight 0 are never used."""
    contact: float
    """Share of the area that a place loses if it is open all around."""
    nearby: float
    """Distance from which the surroundings count as open, mm."""
    overlap: float
    """Allowed violation of the distance to be kept, mm."""


_CONTEXT = tuple_type(
    SearchContext,
    [
        types.f4[:, ::1],
        types.f4[:, ::1],
        types.f8[::1],
        types.f8[:, ::1],
        types.f8[:, :, ::1],
        types.f8[::1],
        types.f8,
        types.f8,
        types.f8,
    ],
)


@compiled(
    types.f8(_CONTEXT, types.i8, types.f8[::1], types.f8, types.f8, types.f8, types.f8),
    inline=True,
)
def _largest_size(
    context: SearchContext,
    kind: int,
    pose: Floats,
    cos: float,
    sin: float,
    smallest: float,
    largest: float,
) -> float:
    """The largest size that fits at a place, or 0, by sphere tracing towards the origin."""
    frame, probes = context.frame, context.probes
    count = min(int(context.traits[kind, PROBE_COUNT]), MAX_PROBES)
    size = largest
    passed = 0
    k = 0
    per_step = 1.0 / frame[2]
    while passed < count:
        along = probes[kind, k, 0] * pose[MIRROR]
        right = cos * along - sin * probes[kind, k, 1]
        down = sin * along + cos * probes[kind, k, 1]
        violation = (
            probes[kind, k, 2] * size
            - context.overlap
            - value_at(
                context.clearance,
                (pose[X] + size * right - frame[0]) * per_step,
                (pose[Y] + size * down - frame[1]) * per_step,
            )
        )
        if violation > 0:
            rate = math.sqrt(right**2 + down**2) + probes[kind, k, 2] + 1e-3
            size -= max(violation / rate, 0.0015 * size)
            if size < smallest:
                return 0.0
            passed = 0
        else:
            passed += 1
            k += 1
            if k == count:
                k = 0
    return size


@compiled(types.f8(_CONTEXT, types.i8, types.f8[::1]), inline=True)
def _openness(context: SearchContext, kind: int, pose: Floats) -> float:
    """Mean distance of an outline from its surroundings, as a share of `nearby`."""
    frame, probes = context.frame, context.probes
    first = int(context.traits[kind, CIRCLE_COUNT])
    count = min(int(context.traits[kind, PROBE_COUNT]), MAX_PROBES)
    total = 0.0
    per_step = 1.0 / frame[2]
    for k in range(first, count):
        along = probes[kind, k, 0] * pose[MIRROR]
        x = pose[X] + pose[AX] * along - pose[AY] * probes[kind, k, 1]
        y = pose[Y] + pose[AY] * along + pose[AX] * probes[kind, k, 1]
        value = value_at(context.clearance, (x - frame[0]) * per_step, (y - frame[1]) * per_step)
        total += min(max(value, 0.0), context.nearby)
    return total / ((count - first) * context.nearby)


@compiled(types.f8(_CONTEXT, types.i8, types.f8[::1]), inline=True)
def _upright(context: SearchContext, kind: int, pose: Floats) -> float:
    """The turn that counts as upright for a kind at the pose's place."""
    facing = nearest_value(context.facing, context.frame, pose[X], pose[Y])
    lean = context.traits[kind, LEAN] * pose[MIRROR]
    turn: float = facing * context.traits[kind, FOLLOWS] + lean
    return turn


@compiled(
    types.b1(_CONTEXT, types.i8, types.f8[::1], types.f8, types.f8, types.f8),
    inline=True,
)
def _fit(
    context: SearchContext, kind: int, pose: Floats, turn: float, smallest: float, largest: float
) -> bool:
    """Grow a motif at the pose's place; store it in `pose` if it scores more than that."""
    limit = context.traits[kind, TURN_LIMIT]
    lean = turn - _upright(context, kind, pose)
    lean -= FULL_TURN * math.floor(lean / FULL_TURN + 0.5)
    if abs(lean) > limit + 1e-9:
        return False
    value = context.traits[kind, AREA] * context.weights[kind]
    smallest = max(smallest, math.sqrt(max(0.0, pose[SCORE]) / value))
    if smallest > largest:
        return False
    cos = math.cos(turn)
    sin = math.sin(turn)
    size = _largest_size(context, kind, pose, cos, sin, smallest, largest)
    if size <= 0:
        return False
    pose[AX] = size * cos
    pose[AY] = size * sin
    score = value * size**2
    score *= 1 - context.contact * _openness(context, kind, pose)
    if score <= pose[SCORE]:
        return False
    pose[SCORE] = score
    return True


@compiled(
    types.void(_CONTEXT, types.i8, types.f8[::1], types.i8, types.f8, types.f8[::1]),
    inline=True,
)
def _inflate(
    context: SearchContext, kind: int, pose: Floats, rounds: int, growth: float, slope: Floats
) -> None:
    """Let one motif grow and relax against the grid."""
    frame, probes, traits = context.frame, context.probes, context.traits
    inertia = traits[kind, INERTIA]
    for round_ in range(rounds):
        size = math.sqrt(pose[AX] ** 2 + pose[AY] ** 2)
        factor = min(1 + growth * (1 - round_ / rounds), traits[kind, LARGEST] / size)
        pose[AX] *= factor
        pose[AY] *= factor
        for k in range(min(int(traits[kind, PROBE_COUNT]), MAX_PROBES)):
            size = math.sqrt(pose[AX] ** 2 + pose[AY] ** 2)
            along = probes[kind, k, 0] * pose[MIRROR]
            right = pose[AX] * along - pose[AY] * probes[kind, k, 1]
            down = pose[AY] * along + pose[AX] * probes[kind, k, 1]
            violation = (
                probes[kind, k, 2] * size
                - context.overlap
                - slope_at(
                    context.clearance,
                    (pose[X] + right - frame[0]) / frame[2],
                    (pose[Y] + down - frame[1]) / frame[2],
                    slope,
                )
            )
            if violation <= 0:
                continue
            length = math.sqrt(slope[0] ** 2 + slope[1] ** 2) + 1e-12
            x = slope[0] / length
            y = slope[1] / length
            tangential = (right * y - down * x) / size
            radial = (right * x + down * y) / size - probes[kind, k, 2]
            push = violation / (1 + (tangential**2 + SIZE_COMPLIANCE * radial**2) / inertia)
            pose[X] += push * x
            pose[Y] += push * y
            turned = push * tangential / inertia / size
            grown = push * SIZE_COMPLIANCE * radial / inertia / size
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


@compiled("i8(f8[:,::1])", inline=True)
def _worst(found: Floats) -> int:
    worst = 0
    for n in range(1, found.shape[0]):
        if found[n, SCORE] < found[worst, SCORE]:
            worst = n
    return worst


@compiled(
    types.void(
        *(_CONTEXT, types.i8[::1], types.f8, types.i8, types.f8),
        *(types.u8[::1], types.f8[:, ::1], types.f8[::1]),
    ),
    inline=True,
)
def _good_places(
    context: SearchContext,
    window: Ints,
    least: float,
    tries: int,
    floor: float,
    state: State,
    found: Floats,
    trial: Floats,
) -> None:
    """Put the best of `tries` random poses into `found` (keep, 7)."""
    clearance, frame, traits = context.clearance, context.frame, context.traits
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
        kind = _draw_kind(context.weights, state)
        value = traits[kind, AREA] * context.weights[kind]
        smallest = max(traits[kind, SMALLEST], math.sqrt(floor / traits[kind, AREA]))
        smallest = max(smallest, math.sqrt(found[worst, SCORE] / value))
        core = traits[kind, CORE]
        room = clearance[row, column] + context.overlap + frame[2]
        if core * smallest > room:
            continue
        largest = traits[kind, LARGEST]
        if core * largest > room:
            largest = room / core
        trial[X] = frame[0] + (column + 1.5 * (_chance(state) - 0.5)) * frame[2]
        trial[Y] = frame[1] + (row + 1.5 * (_chance(state) - 0.5)) * frame[2]
        trial[MIRROR] = -1.0 if traits[kind, MIRRORS] > 0 and _chance(state) < 0.5 else 1.0
        trial[KIND] = kind
        trial[SCORE] = found[worst, SCORE]
        turn = _upright(context, kind, trial)
        turn += traits[kind, TURN_LIMIT] * (2 * _chance(state) - 1)
        if _fit(context, kind, trial, turn, smallest, largest):
            for n in range(trial.shape[0]):
                found[worst, n] = trial[n]
            worst = _worst(found)


@compiled(
    types.void(
        *(_CONTEXT, types.i8[::1], types.f8, types.i8, types.i8, types.f8, types.f8),
        *(types.u8[::1], types.f8[:, ::1], types.f8[::1], types.f8[::1]),
    )
)
def _best_places(
    context: SearchContext,
    window: Ints,
    least: float,
    tries: int,
    rounds: int,
    growth: float,
    floor: float,
    state: State,
    found: Floats,
    trial: Floats,
    slope: Floats,
) -> None:
    """See `best_places`. Arrays are passed in zeroed, since creating them is slow to compile."""
    _good_places(context, window, least, tries, floor, state, found, trial)
    traits = context.traits
    for n in range(found.shape[0]):
        if found[n, SCORE] <= 0:
            continue
        kind = int(found[n, KIND])
        for column in range(trial.shape[0]):
            trial[column] = found[n, column]
        _inflate(context, kind, trial, rounds, growth, slope)
        size = math.sqrt(trial[AX] ** 2 + trial[AY] ** 2)
        turn = math.atan2(trial[AY], trial[AX])
        largest = min(traits[kind, LARGEST], size * 1.1)
        if _fit(context, kind, trial, turn, traits[kind, SMALLEST], largest):
            for column in range(trial.shape[0]):
                found[n, column] = trial[column]


def best_places(
    context: SearchContext,
    *,
    window: Ints,
    least: float,
    tries: int,
    keep: int,
    rounds: int,
    growth: float,
    floor: float,
    state: State,
) -> Floats:
    """Good places for any kind: rows (x, y, ax, ay, mirror, kind, score), `keep` of them.

    Random poses whose origin is in a `window` of the grid, at a clearance above `least`, are scored
    by area times the kind's weight, minus a loss for openness. The best of `tries` poses grow for
    `rounds` rounds, the first by the share `growth`, and move away from contacts. None under
    `floor` mm² is taken. A score of 0 means no place.
    """
    found = np.zeros((keep, 7))
    _best_places(
        context, window, least, tries, rounds, growth, floor, state, found, np.zeros(7), np.zeros(2)
    )
    return found
