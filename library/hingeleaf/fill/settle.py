"""Compiled settling: motifs push each other apart, and grow into the room that is left.

Poses as in `columns`, probes and fields as in `samples`. Each *contact* is a probe of one motif
held against another motif's distance field, or against the room's clearance. Contacts that are too
near are mended one after the other, each by the smallest move of the two motifs that mends it
(Gauss-Seidel on positions, as in position-based dynamics: Müller and others, 2007). A pose's
(x, y, ax, ay) is linear in every probe's place, so the smallest move has a closed form.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.columns import (
    AX,
    AY,
    EXTENT,
    INERTIA,
    LARGEST,
    MIRROR,
    PROBE_COUNT,
    REACH,
    SMALLEST,
    TURN_LIMIT,
    X,
    Y,
)
from hingeleaf.fill.compiled import compiled
from hingeleaf.fill.grids import Floats, Grid, slope_at

Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

MOVER, PROBE, PARTNER = 0, 1, 2
"""Columns of a contact."""
ROOM = -1
"""The partner of a contact with the room instead of another motif."""
MOST_CONTACTS = 20_000
YIELDING = 0.35
"""How readily a motif changes its size rather than its place."""
FULL_TURN = 2 * math.pi


@compiled("f8(f8[::1])", inline=True)
def _size(pose: Floats) -> float:
    return math.sqrt(pose[AX] ** 2 + pose[AY] ** 2)


@compiled(
    "f8(f4[:,::1], f8[::1], f4[:,:,::1], f8[:,::1], f8[:,:,::1], f8[:,::1], i8[::1], i8, i8, i8, "
    "f8, f8[::1])",
    inline=True,
)
def _lack(
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
    seen: Floats,
) -> float:
    """The mm that a probe is too near its partner.

    `seen` gets the unit vector that mends it (0, 1), the probe's place (2, 3) and its distance
    to the partner (4).
    """
    pose = poses[mover]
    point = probes[kinds[mover], probe]
    along = point[0] * pose[MIRROR]
    x = pose[X] + pose[AX] * along - pose[AY] * point[1]
    y = pose[Y] + pose[AY] * along + pose[AX] * point[1]
    wanted = point[2] * _size(pose)
    if partner == ROOM:
        distance = slope_at(room, (x - frame[0]) / frame[2], (y - frame[1]) / frame[2], seen)
        slope_x = seen[0]
        slope_y = seen[1]
    else:
        other = poses[partner]
        kind = kinds[partner]
        extent = traits[kind, EXTENT]
        square = other[AX] ** 2 + other[AY] ** 2
        u = (other[AX] * (x - other[X]) + other[AY] * (y - other[Y])) / square * other[MIRROR]
        v = (other[AX] * (y - other[Y]) - other[AY] * (x - other[X])) / square
        scale = (fields.shape[1] - 1) / (2 * extent)
        distance = slope_at(fields[kind], (u + extent) * scale, (v + extent) * scale, seen)
        if max(abs(u), abs(v)) > extent:
            beyond_u = max(0.0, abs(u) - extent)
            beyond_v = max(0.0, abs(v) - extent)
            distance += 0.9 * math.sqrt(beyond_u**2 + beyond_v**2)
        distance *= math.sqrt(square)
        slope_u = seen[0] * other[MIRROR]
        slope_x = other[AX] * slope_u - other[AY] * seen[1]
        slope_y = other[AY] * slope_u + other[AX] * seen[1]
        wanted += gap
    length = math.sqrt(slope_x**2 + slope_y**2) + 1e-12
    seen[0] = slope_x / length
    seen[1] = slope_y / length
    seen[2] = x
    seen[3] = y
    seen[4] = distance
    lack: float = wanted - distance
    return lack


@compiled(
    "i8(f4[:,::1], f8[::1], f4[:,:,::1], f8[:,::1], f8[:,:,::1], f8[:,::1], i8[::1], b1[::1], f8, "
    "f8, i8[:,::1], f8[::1])",
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
    free: Bools,
    gap: float,
    near: float,
    contacts: Ints,
    slack: Floats,
) -> int:
    """List the contacts with less than `near` mm to spare, and what each has to spare, mm."""
    count = 0
    motifs = poses.shape[0]
    seen = np.empty(5)
    for mover in range(motifs):
        kind = kinds[mover]
        pose = poses[mover]
        size = _size(pose)
        reach = traits[kind, REACH] * size + near + gap
        for partner in range(ROOM, motifs):
            if partner == mover or not (free[mover] or (partner != ROOM and free[partner])):
                continue
            away_x = away_y = limit = 0.0
            if partner != ROOM:
                away_x = pose[X] - poses[partner, X]
                away_y = pose[Y] - poses[partner, Y]
                limit = traits[kinds[partner], REACH] * _size(poses[partner])
                if away_x**2 + away_y**2 > (reach + limit) ** 2:
                    continue
                limit += near + gap
            for probe in range(int(traits[kind, PROBE_COUNT])):
                if partner != ROOM:
                    point = probes[kind, probe]
                    along = point[0] * pose[MIRROR]
                    x = away_x + pose[AX] * along - pose[AY] * point[1]
                    y = away_y + pose[AY] * along + pose[AX] * point[1]
                    if x**2 + y**2 > (limit + point[2] * size) ** 2:
                        continue
                lack = _lack(
                    room, frame, fields, traits, probes, poses, kinds, mover, probe, partner,
                    gap, seen,
                )  # fmt: skip
                if lack > -near and count < contacts.shape[0]:
                    contacts[count, MOVER] = mover
                    contacts[count, PROBE] = probe
                    contacts[count, PARTNER] = partner
                    slack[count] = -lack
                    count += 1
    return count


@compiled("f8(f8[::1], f8, f8, f8, f8, f8, f8[::1])", inline=True)
def _lever(
    pose: Floats, inertia: float, x: float, y: float, away_x: float, away_y: float, lever: Floats
) -> float:
    """How far (x, y) on a motif gives way along (away_x, away_y), per unit of push.

    Large motifs stand firmer. `lever` gets what a unit of push does: the shift (0), the turn in
    radians (1) and the growth as a share of the size (2).
    """
    size = _size(pose)
    from_x = (x - pose[X]) / size
    from_y = (y - pose[Y]) / size
    tangential = from_x * away_y - from_y * away_x
    radial = from_x * away_x + from_y * away_y
    ease = 1 / size
    lever[0] = ease
    lever[1] = ease * tangential / inertia / size
    lever[2] = ease * YIELDING * radial / inertia / size
    give: float = ease * (1 + (tangential**2 + YIELDING * radial**2) / inertia)
    return give


@compiled("void(f8[::1], f8[::1], f8, f8, f8, f8)", inline=True)
def _push(
    pose: Floats, lever: Floats, push: float, away_x: float, away_y: float, smallest: float
) -> None:
    """Let a motif give way: shift, turn and resize, but not below its smallest size."""
    pose[X] += push * lever[0] * away_x
    pose[Y] += push * lever[0] * away_y
    turned = push * lever[1]
    grown = max(push * lever[2], smallest / _size(pose) - 1)
    old = pose[AX]
    pose[AX] += grown * old - turned * pose[AY]
    pose[AY] += grown * pose[AY] + turned * old


@compiled(
    "f8(f4[:,::1], f8[::1], f4[:,:,::1], f8[:,::1], f8[:,:,::1], f8[:,::1], i8[::1], b1[::1], f8, "
    "i8[:,::1], i8, f8[::1], f8)",
    inline=True,
)
def _mend_contacts(
    room: Grid,
    frame: Floats,
    fields: NDArray[np.float32],
    traits: Floats,
    probes: Floats,
    poses: Floats,
    kinds: Ints,
    free: Bools,
    gap: float,
    contacts: Ints,
    count: int,
    due: Floats,
    travel: float,
) -> float:
    """Mend every contact that is too near, once; the largest lack met, mm.

    A contact need not be looked at before the motifs have travelled as far as `due` says.
    """
    worst = 0.0
    seen = np.empty(5)
    lever = np.zeros(3)
    counter = np.zeros(3)
    for c in range(count):
        if due[c] > travel:
            continue
        mover = contacts[c, MOVER]
        partner = contacts[c, PARTNER]
        lack = _lack(
            room, frame, fields, traits, probes, poses, kinds, mover, contacts[c, PROBE], partner,
            gap, seen,
        )  # fmt: skip
        due[c] = travel - lack
        if lack <= 0:
            continue
        worst = max(worst, lack)
        x, y = seen[0], seen[1]
        moves = free[mover]
        answers = partner != ROOM and free[partner]
        give = 0.0
        if moves:
            inertia = traits[kinds[mover], INERTIA]
            give += _lever(poses[mover], inertia, seen[2], seen[3], x, y, lever)
        if answers:
            inertia = traits[kinds[partner], INERTIA]
            there_x, there_y = seen[2] - x * seen[4], seen[3] - y * seen[4]
            give += _lever(poses[partner], inertia, there_x, there_y, -x, -y, counter)
        if moves:
            _push(poses[mover], lever, lack / give, x, y, traits[kinds[mover], SMALLEST])
        if answers:
            _push(poses[partner], counter, lack / give, -x, -y, traits[kinds[partner], SMALLEST])
    return worst


@compiled("f8(f8[:,::1], f8[::1], f8[:,::1], f8[:,::1], i8[::1])", inline=True)
def _keep_limits(
    traits: Floats, upright: Floats, poses: Floats, before: Floats, kinds: Ints
) -> float:
    """Bring sizes and turns back into their ranges; how far any outline has moved, mm."""
    moved = 0.0
    for n in range(poses.shape[0]):
        trait = traits[kinds[n]]
        size = _size(poses[n])
        kept = min(max(size, trait[SMALLEST]), trait[LARGEST])
        poses[n, AX] *= kept / size
        poses[n, AY] *= kept / size
        if trait[TURN_LIMIT] < 3.14159:
            lean = math.atan2(poses[n, AY], poses[n, AX]) - upright[n]
            lean -= FULL_TURN * math.floor(lean / FULL_TURN + 0.5)
            turn = upright[n] + min(max(lean, -trait[TURN_LIMIT]), trait[TURN_LIMIT])
            poses[n, AX] = kept * math.cos(turn)
            poses[n, AY] = kept * math.sin(turn)
        shift = math.sqrt((poses[n, X] - before[n, X]) ** 2 + (poses[n, Y] - before[n, Y]) ** 2)
        swing = math.sqrt((poses[n, AX] - before[n, AX]) ** 2 + (poses[n, AY] - before[n, AY]) ** 2)
        moved = max(moved, shift + swing * trait[REACH])
        for column in range(poses.shape[1]):
            before[n, column] = poses[n, column]
    return moved


@compiled(
    "f8(f4[:,::1], f8[::1], f4[:,:,::1], f8[:,::1], f8[:,:,::1], f8[:,::1], i8[::1], f8[::1], "
    "b1[::1], f8, f8, i8, f8, f8)"
)
def settle(
    room: Grid,
    frame: Floats,
    fields: NDArray[np.float32],
    traits: Floats,
    probes: Floats,
    poses: Floats,
    kinds: Ints,
    upright: Floats,
    free: Bools,
    gap: float,
    near: float,
    rounds: int,
    growth: float,
    enough: float,
) -> float:
    """Move the free motifs in `poses` until all are the gap apart; the largest lack left, mm.

    Each round they also grow by the share `growth`, less and less towards the last round.
    Without growth it ends as soon as no lack is larger than `enough`. `upright` (motifs,) is the
    turn, radians, that each motif's turn limit counts from. Contacts are watched from `near` mm
    beyond the gap.
    """
    contacts = np.empty((MOST_CONTACTS, 3), np.int64)
    due = np.empty(MOST_CONTACTS)
    before = np.zeros((poses.shape[0], poses.shape[1]))
    _keep_limits(traits, upright, poses, before, kinds)
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
        if count < 0 or travel > near:
            count = _watch(
                room, frame, fields, traits, probes, poses, kinds, free, gap, near, contacts, due
            )
            travel = 0.0
        worst = _mend_contacts(
            room, frame, fields, traits, probes, poses, kinds, free, gap, contacts, count, due,
            travel,
        )  # fmt: skip
        travel += 2 * _keep_limits(traits, upright, poses, before, kinds)
        if growth <= 0 and worst <= enough:
            break
    return worst
