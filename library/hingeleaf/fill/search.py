"""Compiled search for the best free place in a clearance grid.

A pose is (x, y, ax, ay, mirror): the origin in mm, and the complex number a = size · e^(i·turn),
so that a probe q of the motif (x negated first where mirror is -1) lies at origin + a·q. Turning
and growing are one linear thing in it and no angle is ever computed in the inner loops.

A clearance grid holds, for every point, the distance to the nearest thing in the way, less what
must be kept from it: a motif may lie where the value is ≥ 0 all over its footprint.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.compiled import compiled
from hingeleaf.fill.samples import (
    AREA,
    CIRCLE_COUNT,
    EXTENT,
    LARGEST,
    MIRRORS,
    PROBE_COUNT,
    REACH,
    SMALLEST,
    TURN_LIMIT,
)

Grid = NDArray[np.float32]
Floats = NDArray[np.float64]

LOOKS = 64
"""Probes looked at when a place is tried."""
OUTSIDE = -8.0
"""The value of any point off the grid, mm."""
X, Y, AX, AY, MIRROR, KIND, SCORE = 0, 1, 2, 3, 4, 5, 6
FULL_TURN = 2 * math.pi

_GOLDEN = np.uint64(0x9E3779B97F4A7C15)
_MIX_1 = np.uint64(0xBF58476D1CE4E5B9)
_MIX_2 = np.uint64(0x94D049BB133111EB)
_S30, _S27, _S31, _S11 = np.uint64(30), np.uint64(27), np.uint64(31), np.uint64(11)


@compiled("f8(u8[::1])", inline=True)
def chance(state: NDArray[np.uint64]) -> float:
    """The next number from 0 to 1 (splitmix64: Steele, Lea and Flood, 2014)."""
    state[0] += _GOLDEN
    mixed = state[0]
    mixed = (mixed ^ (mixed >> _S30)) * _MIX_1
    mixed = (mixed ^ (mixed >> _S27)) * _MIX_2
    mixed ^= mixed >> _S31
    return float(mixed >> _S11) * 2.0**-53


@compiled("f8(f4[:,::1], f8, f8)", inline=True)
def value_at(grid: Grid, column: float, row: float) -> float:
    """Bilinear value between grid points."""
    i = int(column)
    j = int(row)
    if column < 0 or row < 0 or i >= grid.shape[1] - 1 or j >= grid.shape[0] - 1:
        return OUTSIDE
    right = column - i
    down = row - j
    upper = grid[j, i] + right * (grid[j, i + 1] - grid[j, i])
    lower = grid[j + 1, i] + right * (grid[j + 1, i + 1] - grid[j + 1, i])
    return upper + down * (lower - upper)


@compiled("void(f4[:,::1], f8[::1], f4[:,:,::1], f8[:,::1], f8[:,::1], i8[::1], f8, f8, i8[::1])")
def stamp(
    clearance: Grid,
    frame: Floats,
    fields: NDArray[np.float32],
    traits: Floats,
    poses: Floats,
    kinds: NDArray[np.int64],
    gap: float,
    halo: float,
    window: NDArray[np.int64],
) -> None:
    """Lower the clearance around motifs, as far as `halo` mm from each, within a window.

    `window` is (first row, end row, first column, end column).
    """
    step = frame[2]
    points = fields.shape[1]
    for n in range(poses.shape[0]):
        kind = kinds[n]
        extent = traits[kind, EXTENT]
        size = math.sqrt(poses[n, AX] ** 2 + poses[n, AY] ** 2)
        reach = size * traits[kind, REACH] + halo
        cos = poses[n, AX] / size**2
        sin = poses[n, AY] / size**2
        scale = (points - 1) / (2 * extent)
        for row in range(
            max(window[0], math.ceil((poses[n, Y] - reach - frame[1]) / step)),
            min(window[1], math.floor((poses[n, Y] + reach - frame[1]) / step) + 1),
        ):
            y = frame[1] + row * step - poses[n, Y]
            half = math.sqrt(max(0.0, reach**2 - y**2))
            for column in range(
                max(window[2], math.ceil((poses[n, X] - half - frame[0]) / step)),
                min(window[3], math.floor((poses[n, X] + half - frame[0]) / step) + 1),
            ):
                x = frame[0] + column * step - poses[n, X]
                u = (cos * x + sin * y) * poses[n, MIRROR]
                v = cos * y - sin * x
                near_u = min(extent * 0.9999, max(-extent, u))
                near_v = min(extent * 0.9999, max(-extent, v))
                distance = value_at(
                    fields[kind], (near_u + extent) * scale, (near_v + extent) * scale
                )
                distance += 0.9 * math.sqrt((u - near_u) ** 2 + (v - near_v) ** 2)
                distance = distance * size - gap
                if distance < clearance[row, column]:
                    clearance[row, column] = distance


@compiled("f8(f4[:,::1], f8[::1], f8[:,::1], i8, f8, f8, f8, f8, f8, f8, f8, f8)", inline=True)
def largest_size(
    clearance: Grid,
    frame: Floats,
    probes: Floats,
    count: int,
    x: float,
    y: float,
    cos: float,
    sin: float,
    mirror: float,
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
        along = probes[k, 0] * mirror
        right = cos * along - sin * probes[k, 1]
        down = sin * along + cos * probes[k, 1]
        lack = probes[k, 2] * size - overlap - value_at(
            clearance,
            (x + size * right - frame[0]) * per_step,
            (y + size * down - frame[1]) * per_step,
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
def openness(
    clearance: Grid,
    frame: Floats,
    probes: Floats,
    first: int,
    count: int,
    pose: Floats,
    limit: float,
) -> float:
    """How far an outline is from its surroundings on average, as a share of `limit` mm."""
    total = 0.0
    per_step = 1.0 / frame[2]
    for k in range(first, count):
        along = probes[k, 0] * pose[MIRROR]
        x = pose[X] + pose[AX] * along - pose[AY] * probes[k, 1]
        y = pose[Y] + pose[AY] * along + pose[AX] * probes[k, 1]
        value = value_at(clearance, (x - frame[0]) * per_step, (y - frame[1]) * per_step)
        total += min(max(value, 0.0), limit)
    return total / ((count - first) * limit)


@compiled("f8(f4[:,::1], f8[::1], f8, f8)", inline=True)
def facing_at(facing: Grid, frame: Floats, x: float, y: float) -> float:
    """The turn, radians, that counts as upright at a place: the nearest grid point's."""
    row = min(facing.shape[0] - 1, max(0, int((y - frame[1]) / frame[2] + 0.5)))
    column = min(facing.shape[1] - 1, max(0, int((x - frame[0]) / frame[2] + 0.5)))
    return facing[row, column]


@compiled(
    "b1(f4[:,::1], f4[:,::1], f8[::1], f8[:,::1], f8[:,:,::1], f8[::1], f8[::1], i8, f8, f8, f8, f8)",
    inline=True,
)
def _try_pose(
    clearance: Grid,
    facing: Grid,
    frame: Floats,
    traits: Floats,
    probes: Floats,
    weights: Floats,
    pose: Floats,
    kind: int,
    turn: float,
    size_limit: float,
    contact: float,
    overlap: float,
) -> bool:
    """Grow a motif at pose's place; keep it in `pose` if it scores more than pose does now."""
    row = traits[kind]
    lean = turn - facing_at(facing, frame, pose[X], pose[Y])
    lean -= FULL_TURN * math.floor(lean / FULL_TURN + 0.5)
    if abs(lean) > row[TURN_LIMIT] + 1e-9:
        return False
    worth = row[AREA] * weights[kind]
    smallest = row[SMALLEST]
    if pose[SCORE] > 0:
        smallest = max(smallest, math.sqrt(pose[SCORE] / worth))
    largest = min(row[LARGEST], size_limit)
    if smallest > largest:
        return False
    cos = math.cos(turn)
    sin = math.sin(turn)
    count = min(int(row[PROBE_COUNT]), LOOKS)
    size = largest_size(
        clearance, frame, probes[kind], count,
        pose[X], pose[Y], cos, sin, pose[MIRROR], smallest, largest, overlap,
    )  # fmt: skip
    if size <= 0:
        return False
    pose[AX] = size * cos
    pose[AY] = size * sin
    first = int(row[CIRCLE_COUNT])
    open_share = openness(clearance, frame, probes[kind], first, count, pose, 6.0)
    score = worth * size**2 * (1 - contact * open_share)
    if score <= pose[SCORE]:
        return False
    pose[KIND] = kind
    pose[SCORE] = score
    return True


@compiled("i8(f8[::1], u8[::1])", inline=True)
def _draw_kind(cumulated: Floats, state: NDArray[np.uint64]) -> int:
    wanted = chance(state) * cumulated[-1]
    kind = 0
    while kind < len(cumulated) - 1 and cumulated[kind] <= wanted:
        kind += 1
    return kind


@compiled(
    "void(f4[:,::1], f4[:,::1], f8[::1], f8[:,::1], f8[:,:,::1], f8[::1], f8[::1], i8, f8, f8, "
    "u8[::1])",
    inline=True,
)
def _climb(
    clearance: Grid,
    facing: Grid,
    frame: Floats,
    traits: Floats,
    probes: Floats,
    weights: Floats,
    best: Floats,
    steps: int,
    contact: float,
    overlap: float,
    state: NDArray[np.uint64],
) -> None:
    """Shift and turn a pose a little at a time while that lets it grow."""
    kind = int(best[KIND])
    shift = 1.5
    turn = 0.25
    trial = best.copy()
    for _ in range(steps):
        trial[:] = best
        size = math.sqrt(best[AX] ** 2 + best[AY] ** 2)
        trial[X] += shift * (chance(state) + chance(state) + chance(state) - 1.5) * 2
        trial[Y] += shift * (chance(state) + chance(state) + chance(state) - 1.5) * 2
        angle = math.atan2(best[AY], best[AX])
        angle += turn * (chance(state) + chance(state) + chance(state) - 1.5) * 2
        if _try_pose(
            clearance, facing, frame, traits, probes, weights,
            trial, kind, angle, size * 1.12, contact, overlap,
        ):  # fmt: skip
            best[:] = trial
            shift = min(2.0, shift * 1.3)
            turn = min(0.4, turn * 1.3)
        else:
            shift = max(0.04, shift * 0.965)
            turn = max(0.008, turn * 0.965)


@compiled(
    "f8[::1](f4[:,::1], f4[:,::1], f8[::1], f8[:,::1], f8[:,:,::1], f8[::1], i8[:,::1], i8, i8, "
    "i8, f8, f8, f8, u8[::1])"
)
def best_place(
    clearance: Grid,
    facing: Grid,
    frame: Floats,
    traits: Floats,
    probes: Floats,
    weights: Floats,
    cells: NDArray[np.int64],
    tries: int,
    keep: int,
    steps: int,
    contact: float,
    overlap: float,
    floor: float,
    state: NDArray[np.uint64],
) -> Floats:
    """The best pose found for any kind: (x, y, ax, ay, mirror, kind, score), score 0 if none.

    `cells` are the grid points (row, column) to start from, `weights` (kinds,) what each kind's
    area counts; a kind of weight 0 is never used. Of `tries` random poses the best `keep` are
    improved for `steps` steps each. `contact` is how much an outline near its surroundings counts.
    """
    cumulated = np.cumsum(weights)
    found = np.zeros((keep, 7))
    found[:, KIND] = -1.0
    found[:, SCORE] = floor
    trial = np.zeros(7)
    worst = 0
    for _ in range(tries):
        cell = int(chance(state) * cells.shape[0])
        kind = _draw_kind(cumulated, state)
        trial[X] = frame[0] + (cells[cell, 1] + 1.5 * (chance(state) - 0.5)) * frame[2]
        trial[Y] = frame[1] + (cells[cell, 0] + 1.5 * (chance(state) - 0.5)) * frame[2]
        trial[MIRROR] = -1.0 if traits[kind, MIRRORS] > 0 and chance(state) < 0.5 else 1.0
        trial[SCORE] = found[worst, SCORE]
        turn = facing_at(facing, frame, trial[X], trial[Y])
        turn += traits[kind, TURN_LIMIT] * (2 * chance(state) - 1)
        if _try_pose(
            clearance, facing, frame, traits, probes, weights, trial, kind, turn, 1e9, contact, overlap
        ):
            found[worst] = trial
            worst = int(np.argmin(found[:, SCORE]))
    best = np.zeros(7)
    for n in range(keep):
        if found[n, KIND] >= 0:
            _climb(
                clearance, facing, frame, traits, probes, weights, found[n], steps, contact, overlap, state
            )
            if found[n, SCORE] > best[SCORE]:
                best[:] = found[n]
    return best
