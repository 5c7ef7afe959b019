"""Compiled settling: motifs push each other apart, and grow into the room that is left.

Poses, probes and fields as in `search` and `samples`. Each *contact* is a probe of one motif held
against another motif's distance field, or against the room's clearance. Contacts that are too
near are mended one after the other, each by the smallest move of the two motifs that mends it
(Gauss-Seidel on positions, as in position-based dynamics: Müller and others, 2007). A pose's
(x, y, ax, ay) is linear in every probe's place, so the smallest move has a closed form.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.compiled import compiled
from hingeleaf.fill.samples import (
    EXTENT,
    INERTIA,
    LARGEST,
    PROBE_COUNT,
    REACH,
    SMALLEST,
    TURN_LIMIT,
)
from hingeleaf.fill.search import AX, AY, FULL_TURN, MIRROR, X, Y, facing_at, value_at

Grid = NDArray[np.float32]
Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

NEAR = 3.0
"""Contacts are watched from this far beyond the gap, mm."""
ROOM = -1
"""The partner of a contact with the room instead of another motif."""
MOST_CONTACTS = 20_000


@compiled("f8(f4[:,::1], f8, f8, f8[::1])", inline=True)
def _slope_at(grid: Grid, column: float, row: float, slope: Floats) -> float:
    """Bilinear value, clamped to the grid; its gradient per grid step goes to `slope`."""
    column = min(max(column, 0.0), grid.shape[1] - 1.001)
    row = min(max(row, 0.0), grid.shape[0] - 1.001)
    i = int(column)
    j = int(row)
    right = column - i
    down = row - j
    upper = grid[j, i + 1] - grid[j, i]
    lower = grid[j + 1, i + 1] - grid[j + 1, i]
    first = grid[j, i] + right * upper
    second = grid[j + 1, i] + right * lower
    slope[0] = upper + down * (lower - upper)
    slope[1] = second - first
    return first + down * (second - first)


@compiled(
    "f8(f4[:,::1], f8[::1], f4[:,:,::1], f8[:,::1], f8[:,:,::1], f8[:,::1], i8[::1], i8, i8, i8, "
    "f8, f8[::1])",
    inline=True,
)
def _lack_of(
    room: Grid,
    frame: Floats,
    fields: NDArray[np.float32],
    traits: Floats,
    probes: Floats,
    poses: Floats,
    kinds: Ints,
    mover: int,
    probe: int,
    partner: int,
    gap: float,
    away: Floats,
) -> float:
    """The mm that a probe is too near its partner; `away` gets the unit vector that mends it.

    Also kept in `away`: the probe's place (2, 3) and its distance to the partner (4).
    """
    pose = poses[mover]
    point = probes[kinds[mover], probe]
    along = point[0] * pose[MIRROR]
    x = pose[X] + pose[AX] * along - pose[AY] * point[1]
    y = pose[Y] + pose[AY] * along + pose[AX] * point[1]
    away[2] = x
    away[3] = y
    wanted = point[2] * math.sqrt(pose[AX] ** 2 + pose[AY] ** 2) if point[2] > 0 else 0.0
    if partner == ROOM:
        distance = _slope_at(room, (x - frame[0]) / frame[2], (y - frame[1]) / frame[2], away)
        slope_x = away[0]
        slope_y = away[1]
    else:
        other = poses[partner]
        kind = kinds[partner]
        extent = traits[kind, EXTENT]
        square = other[AX] ** 2 + other[AY] ** 2
        from_x = x - other[X]
        from_y = y - other[Y]
        u = (other[AX] * from_x + other[AY] * from_y) / square * other[MIRROR]
        v = (other[AX] * from_y - other[AY] * from_x) / square
        scale = (fields.shape[1] - 1) / (2 * extent)
        size = math.sqrt(square)
        distance = size * _slope_at(
            fields[kind], (u + extent) * scale, (v + extent) * scale, away
        )
        slope_u = away[0] * other[MIRROR]
        slope_x = other[AX] * slope_u - other[AY] * away[1]
        slope_y = other[AY] * slope_u + other[AX] * away[1]
        wanted += gap
    length = math.sqrt(slope_x**2 + slope_y**2) + 1e-12
    away[0] = slope_x / length
    away[1] = slope_y / length
    away[4] = distance
    return wanted - distance


@compiled(
    "i8(f4[:,::1], f8[::1], f4[:,:,::1], f8[:,::1], f8[:,:,::1], f8[:,::1], i8[::1], b1[::1], f8, "
    "i8[:,::1], f8[::1])",
    inline=True,
)
def _watch(
    room: Grid,
    frame: Floats,
    fields: NDArray[np.float32],
    traits: Floats,
    probes: Floats,
    poses: Floats,
    kinds: Ints,
    free: NDArray[np.bool_],
    gap: float,
    contacts: Ints,
    rest: Floats,
) -> int:
    """List the contacts (mover, probe, partner) that are near enough to matter soon."""
    count = 0
    motifs = poses.shape[0]
    points = fields.shape[1]
    for mover in range(motifs):
        kind = kinds[mover]
        ax = poses[mover, AX]
        ay = poses[mover, AY]
        x0 = poses[mover, X]
        y0 = poses[mover, Y]
        mirror = poses[mover, MIRROR]
        size = math.sqrt(ax**2 + ay**2)
        reach = traits[kind, REACH] * size
        probe_count = int(traits[kind, PROBE_COUNT])
        if free[mover]:
            for probe in range(probe_count):
                along = probes[kind, probe, 0] * mirror
                x = x0 + ax * along - ay * probes[kind, probe, 1]
                y = y0 + ay * along + ax * probes[kind, probe, 1]
                slack = value_at(room, (x - frame[0]) / frame[2], (y - frame[1]) / frame[2])
                slack -= probes[kind, probe, 2] * size
                if slack < NEAR and count < contacts.shape[0]:
                    contacts[count, 0] = mover
                    contacts[count, 1] = probe
                    contacts[count, 2] = ROOM
                    rest[count] = slack
                    count += 1
        for partner in range(motifs):
            if partner == mover or not (free[mover] or free[partner]):
                continue
            other = kinds[partner]
            bx = poses[partner, AX]
            by = poses[partner, AY]
            square = bx**2 + by**2
            other_size = math.sqrt(square)
            limit = gap + NEAR + traits[other, REACH] * other_size
            away_x = x0 - poses[partner, X]
            away_y = y0 - poses[partner, Y]
            if away_x**2 + away_y**2 > (reach + limit) ** 2:
                continue
            extent = traits[other, EXTENT]
            scale = (points - 1) / (2 * extent)
            turn = poses[partner, MIRROR]
            for probe in range(probe_count):
                along = probes[kind, probe, 0] * mirror
                x = away_x + ax * along - ay * probes[kind, probe, 1]
                y = away_y + ay * along + ax * probes[kind, probe, 1]
                radius = probes[kind, probe, 2] * size
                if x**2 + y**2 > (limit + radius) ** 2:
                    continue
                u = (bx * x + by * y) / square * turn
                v = (bx * y - by * x) / square
                if abs(u) >= extent or abs(v) >= extent:
                    continue
                slack = other_size * value_at(fields[other], (u + extent) * scale, (v + extent) * scale)
                slack -= gap + radius
                if slack < NEAR and count < contacts.shape[0]:
                    contacts[count, 0] = mover
                    contacts[count, 1] = probe
                    contacts[count, 2] = partner
                    rest[count] = slack
                    count += 1
    return count


@compiled("f8(f8[::1], f8[:,::1], i8, f8, f8, f8, f8, f8, f8, f8[::1])", inline=True)
def _lever(
    pose: Floats,
    traits: Floats,
    kind: int,
    x: float,
    y: float,
    away_x: float,
    away_y: float,
    shrink: float,
    stiffness: float,
    lever: Floats,
) -> float:
    """How readily a motif gives way at (x, y) along (away_x, away_y), per unit of push.

    `lever` gets its answer to a push: (tangential, radial) change of a. `stiffness` makes large
    motifs stand firmer; `shrink` is how readily a motif changes its size rather than its place.
    """
    size = math.sqrt(pose[AX] ** 2 + pose[AY] ** 2)
    from_x = (x - pose[X]) / size
    from_y = (y - pose[Y]) / size
    lever[0] = from_x * away_y - from_y * away_x
    lever[1] = from_x * away_x + from_y * away_y
    ease = stiffness / size
    inertia = traits[kind, INERTIA]
    lever[2] = ease / inertia
    return ease * (1.0 + (lever[0] ** 2 + shrink * lever[1] ** 2) / inertia)


@compiled("void(f8[::1], f8[::1], f8, f8, f8, f8, f8, f8)", inline=True)
def _push(
    pose: Floats,
    lever: Floats,
    ease: float,
    shrink: float,
    push: float,
    away_x: float,
    away_y: float,
    smallest: float,
) -> None:
    """Let a motif give way: shift, turn and resize."""
    size = math.sqrt(pose[AX] ** 2 + pose[AY] ** 2)
    pose[X] += push * ease * away_x
    pose[Y] += push * ease * away_y
    turned = push * lever[2] * lever[0] / size
    grown = max(push * lever[2] * lever[1] * shrink, smallest - size) / size
    old = pose[AX]
    pose[AX] += grown * old - turned * pose[AY]
    pose[AY] += grown * pose[AY] + turned * old


@compiled("void(f4[:,::1], f8[::1], f8[:,::1], f8[:,::1], i8[::1])", inline=True)
def _keep_limits(
    facing: Grid, frame: Floats, traits: Floats, poses: Floats, kinds: Ints
) -> None:
    """Bring sizes and turns back into their ranges."""
    for n in range(poses.shape[0]):
        row = traits[kinds[n]]
        size = math.sqrt(poses[n, AX] ** 2 + poses[n, AY] ** 2)
        factor = min(max(size, row[SMALLEST]), row[LARGEST]) / size
        poses[n, AX] *= factor
        poses[n, AY] *= factor
        if row[TURN_LIMIT] < 3.14159:
            upright = facing_at(facing, frame, poses[n, X], poses[n, Y])
            lean = math.atan2(poses[n, AY], poses[n, AX]) - upright
            lean -= FULL_TURN * math.floor(lean / FULL_TURN + 0.5)
            turn = upright + min(max(lean, -row[TURN_LIMIT]), row[TURN_LIMIT])
            size *= factor
            poses[n, AX] = size * math.cos(turn)
            poses[n, AY] = size * math.sin(turn)


@compiled(
    "f8(f4[:,::1], f4[:,::1], f8[::1], f4[:,:,::1], f8[:,::1], f8[:,:,::1], f8[:,::1], i8[::1], "
    "b1[::1], f8, i8, f8, f8, f8)"
)
def settle(
    room: Grid,
    facing: Grid,
    frame: Floats,
    fields: NDArray[np.float32],
    traits: Floats,
    probes: Floats,
    poses: Floats,
    kinds: Ints,
    free: NDArray[np.bool_],
    gap: float,
    rounds: int,
    growth: float,
    shrink: float,
    enough: float,
) -> float:
    """Move the free motifs in `poses` until all are the gap apart; the largest lack left, mm.

    Each round they also grow by the share `growth`, less and less towards the last round.
    Without growth it ends as soon as no lack is larger than `enough`.
    """
    contacts = np.empty((MOST_CONTACTS, 3), np.int64)
    away = np.empty(5)
    lever = np.empty(3)
    counter = np.empty(3)
    rest = np.empty(MOST_CONTACTS)
    seen = np.zeros(MOST_CONTACTS)
    before = poses.copy()
    travel = 0.0
    count = -1
    worst = 0.0
    for round_ in range(rounds):
        if growth > 0:
            factor = 1 + growth * (1 - round_ / rounds)
            for n in range(poses.shape[0]):
                if free[n]:
                    poses[n, AX] *= factor
                    poses[n, AY] *= factor
        if count < 0 or travel > NEAR:
            count = _watch(
                room, frame, fields, traits, probes, poses, kinds, free, gap, contacts, rest
            )
            travel = 0.0
            seen[:count] = 0.0
        worst = 0.0
        for c in range(count):
            if rest[c] > travel - seen[c]:
                continue
            mover = contacts[c, 0]
            partner = contacts[c, 2]
            lack = _lack_of(
                room, frame, fields, traits, probes, poses, kinds, mover, contacts[c, 1],
                partner, gap, away,
            )  # fmt: skip
            rest[c] = -lack
            seen[c] = travel
            if lack <= 0:
                continue
            worst = max(worst, lack)
            give = 0.0
            ease = 0.0
            other_ease = 0.0
            if free[mover]:
                give += _lever(
                    poses[mover], traits, kinds[mover], away[2], away[3], away[0], away[1],
                    shrink, 30.0, lever,
                )  # fmt: skip
                ease = 30.0 / math.sqrt(poses[mover, AX] ** 2 + poses[mover, AY] ** 2)
            if partner >= 0 and free[partner]:
                give += _lever(
                    poses[partner], traits, kinds[partner],
                    away[2] - away[0] * away[4], away[3] - away[1] * away[4],
                    -away[0], -away[1], shrink, 30.0, counter,
                )  # fmt: skip
                other_ease = 30.0 / math.sqrt(poses[partner, AX] ** 2 + poses[partner, AY] ** 2)
            if give <= 0:
                continue
            push = lack / give
            if ease > 0:
                _push(
                    poses[mover], lever, ease, shrink, push, away[0], away[1],
                    traits[kinds[mover], SMALLEST],
                )  # fmt: skip
            if other_ease > 0:
                _push(
                    poses[partner], counter, other_ease, shrink, push, -away[0], -away[1],
                    traits[kinds[partner], SMALLEST],
                )  # fmt: skip
        _keep_limits(facing, frame, traits, poses, kinds)
        moved = 0.0
        for n in range(poses.shape[0]):
            shift = math.sqrt((poses[n, X] - before[n, X]) ** 2 + (poses[n, Y] - before[n, Y]) ** 2)
            swing = math.sqrt(
                (poses[n, AX] - before[n, AX]) ** 2 + (poses[n, AY] - before[n, AY]) ** 2
            )
            moved = max(moved, shift + swing * traits[kinds[n], REACH])
        travel += 2 * moved
        before[:] = poses
        if growth <= 0 and worst <= enough:
            break
    return worst
