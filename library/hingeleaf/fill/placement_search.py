"""Compiled random search for the best free place in a clearance grid.

A clearance grid holds, for every point, the distance to the nearest obstacle minus the distance to
be kept from it: a motif fits where the value is ≥ 0 all over its footprint.
"""

import math
from typing import NamedTuple

import numpy as np

from hingeleaf.fill.compiled import (
    Cells,
    Floats,
    Grid,
    Ints,
    State,
    Table,
    Tables,
    compiled,
    inlined,
)
from hingeleaf.fill.random_numbers import chance, drawn
from hingeleaf.fill.table_columns import (
    AREA,
    AX,
    AY,
    CIRCLE_COUNT,
    FACING_SHARE,
    INERTIA,
    INNER_RADIUS,
    KIND,
    LARGEST,
    LEAN,
    MIRROR,
    MIRRORS,
    PLACE_COLUMNS,
    PROBE_COUNT,
    SCORE,
    SMALLEST,
    TURN_LIMIT,
    X,
    Y,
    nearest_value,
    value_and_slope,
    value_at,
)

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
KEPT_PLACES = 6
"""Places that are improved after a search."""
MAX_PROBES = 64
"""Probes tested for each candidate place."""
SIZE_COMPLIANCE = 0.35
"""How readily a growing motif shrinks again rather than moves."""
ROUNDS, GROWTH = 10, 0.08
"""How a motif is fitted to its place: rounds of growing, and the first one's growth."""
FULL_TURN = 2 * math.pi


class SearchBuffers(NamedTuple):
    """Arrays that a search overwrites. (Making arrays takes long to compile.)"""

    found: Table
    """(places, columns of a found place): how many rows it has, so many places are kept."""
    trial: Floats
    slope: Floats
    cells: Cells
    """Room for all cells of the grid."""
    cumulative: Floats
    """Room for all kinds."""


def search_buffers(cells: int, kinds: int) -> SearchBuffers:
    """Buffers for a grid of so many cells and so many kinds."""
    return SearchBuffers(
        np.zeros((KEPT_PLACES, PLACE_COLUMNS)), np.zeros(PLACE_COLUMNS), np.zeros(2),
        np.zeros(cells, np.int32), np.zeros(kinds),
    )  # fmt: skip


class SearchContext(NamedTuple):
    """Inputs of a search: grid, kinds (as in `tables`) and weights."""

    clearance: Grid
    facing: Grid
    """The turn that counts as upright, radians; a single cell if it is the same everywhere."""
    frame: Floats
    """(x, y) of the first grid point and the step, mm."""
    traits: Table
    probes: Tables
    weights: Floats
    """Weight of each kind's area; kinds of weight 0 are never used."""
    contact: float
    """Share of the area that a place loses if it is open all around."""
    nearby: float
    """Distance from which the surroundings count as open, mm."""
    overlap: float
    """Allowed violation of the distance to be kept, mm."""


@inlined
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
    if size < smallest:
        return 0.0
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


@inlined
def _openness(context: SearchContext, kind: int, pose: Floats) -> float:
    """Mean distance of an outline from its surroundings, as a share of `nearby`; 0 without size."""
    if pose[AX] == 0 and pose[AY] == 0:
        return 0.0
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


@compiled
def upright(context: SearchContext, kind: int, pose: Floats) -> float:
    """The turn that counts as upright for a kind at pose's place."""
    facing = nearest_value(context.facing, context.frame, pose[X], pose[Y])
    lean = context.traits[kind, LEAN] * pose[MIRROR]
    turn: float = facing * context.traits[kind, FACING_SHARE] + lean
    return turn


@inlined
def _fit(
    context: SearchContext, kind: int, pose: Floats, turn: float, smallest: float, largest: float
) -> bool:
    """Grow a motif at the pose's place: whether that scores more than the pose said before.

    Without branches, since these make numba count references to all arrays at every call.
    """
    lean = turn - upright(context, kind, pose)
    lean -= FULL_TURN * math.floor(lean / FULL_TURN + 0.5)
    if abs(lean) > context.traits[kind, TURN_LIMIT] + 1e-9:
        largest = 0.0
    value = context.traits[kind, AREA] * context.weights[kind]
    smallest = max(smallest, math.sqrt(max(0.0, pose[SCORE]) / value))
    cos = math.cos(turn)
    sin = math.sin(turn)
    size = _largest_size(context, kind, pose, cos, sin, smallest, largest)
    pose[AX] = size * cos
    pose[AY] = size * sin
    score = value * size**2 * (1 - context.contact * _openness(context, kind, pose))
    is_better: bool = score > pose[SCORE]
    pose[SCORE] = max(score, pose[SCORE])
    return is_better


@inlined
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
                - value_and_slope(
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


@inlined
def _prepare(context: SearchContext, window: Ints, least: float, buffers: SearchBuffers) -> int:
    """Clear what was found, add up the weights, and list the free cells: how many there are."""
    total = 0.0
    for kind in range(context.weights.shape[0]):
        total += context.weights[kind]
        buffers.cumulative[kind] = total
    for place in range(buffers.found.shape[0]):
        for column in range(buffers.found.shape[1]):
            buffers.found[place, column] = 0.0
    count = 0
    columns = context.clearance.shape[1]
    for row in range(window[0], window[1]):
        for column in range(window[2], window[3]):
            if context.clearance[row, column] > least:
                buffers.cells[count] = row * columns + column
                count += 1
    return count


@inlined
def _worst(found: Table) -> int:
    worst = 0
    for n in range(1, found.shape[0]):
        if found[n, SCORE] < found[worst, SCORE]:
            worst = n
    return worst


@inlined
def _good_places(
    context: SearchContext,
    cells: int,
    tries: int,
    floor: float,
    state: State,
    buffers: SearchBuffers,
) -> None:
    """Keep the best of `tries` random poses with their origins about the free cells."""
    clearance, frame, traits = context.clearance, context.frame, context.traits
    found, trial = buffers.found, buffers.trial
    columns = clearance.shape[1]
    worst = 0
    for _ in range(tries):
        cell = buffers.cells[int(chance(state) * cells)]
        row = cell // columns
        column = cell % columns
        kind = drawn(buffers.cumulative, chance(state))
        value = traits[kind, AREA] * context.weights[kind]
        smallest = max(traits[kind, SMALLEST], math.sqrt(floor / traits[kind, AREA]))
        smallest = max(smallest, math.sqrt(found[worst, SCORE] / value))
        core = traits[kind, INNER_RADIUS]
        room = clearance[row, column] + context.overlap + frame[2]
        if core * smallest > room:
            continue
        largest = traits[kind, LARGEST]
        if core * largest > room:
            largest = room / core
        trial[X] = frame[0] + (column + 1.5 * (chance(state) - 0.5)) * frame[2]
        trial[Y] = frame[1] + (row + 1.5 * (chance(state) - 0.5)) * frame[2]
        trial[MIRROR] = -1.0 if traits[kind, MIRRORS] > 0 and chance(state) < 0.5 else 1.0
        trial[KIND] = kind
        trial[SCORE] = found[worst, SCORE]
        turn = upright(context, kind, trial)
        turn += traits[kind, TURN_LIMIT] * (2 * chance(state) - 1)
        if _fit(context, kind, trial, turn, smallest, largest):
            for column in range(PLACE_COLUMNS):
                found[worst, column] = trial[column]
            worst = _worst(found)


@compiled
def best_place(
    context: SearchContext,
    window: Ints,
    least: float,
    tries: int,
    floor: float,
    state: State,
    buffers: SearchBuffers,
) -> int:
    """Look for a good place for any kind: its row in `found` of the buffers, -1 where none is.

    Random poses with the origin in a `window` of the grid, where the clearance is more than
    `least`, are scored by area · the kind's weight, less what they lose for lying open. Of
    `tries` poses the best grow and give way to what they meet. None under `floor` mm² is taken.
    """
    cells = _prepare(context, window, least, buffers)
    if cells == 0 or buffers.cumulative[-1] <= 0:
        return -1
    _good_places(context, cells, tries, floor, state, buffers)
    traits, found, trial = context.traits, buffers.found, buffers.trial
    best = -1
    for n in range(found.shape[0]):
        if found[n, SCORE] <= 0:
            continue
        kind = int(found[n, KIND])
        for column in range(PLACE_COLUMNS):
            trial[column] = found[n, column]
        _inflate(context, kind, trial, ROUNDS, GROWTH, buffers.slope)
        size = math.sqrt(trial[AX] ** 2 + trial[AY] ** 2)
        turn = math.atan2(trial[AY], trial[AX])
        largest = min(traits[kind, LARGEST], size * 1.1)
        if _fit(context, kind, trial, turn, traits[kind, SMALLEST], largest):
            for column in range(PLACE_COLUMNS):
                found[n, column] = trial[column]
        if best < 0 or found[n, SCORE] > found[best, SCORE]:
            best = n
    return best
