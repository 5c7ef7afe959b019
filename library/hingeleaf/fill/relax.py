"""Compiled relaxation: overlapping motifs push each other apart while they grow.

Poses as in `layout`, probes and fields as in `motif_tables`. Each *contact* is a probe of one motif
tested against another motif's distance field, or against the container's clearance. Violated
contacts are resolved one after the other, each by the smallest movement of the two motifs that does
so (Gauss-Seidel on positions, as in position-based dynamics: Müller and others, 2007). A probe's
position is linear in the pose's (x, y, ax, ay), so that movement has a closed form.
"""

import math
from typing import NamedTuple

import numpy as np

from hingeleaf.fill.compiled import (
    Flags,
    Floats,
    Grid,
    Grids,
    Ints,
    IntTable,
    Table,
    Tables,
    compiled,
    inlined,
)
from hingeleaf.fill.table_columns import (
    AREA,
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
    size_of,
    value_and_slope,
)

MOVER, PROBE, PARTNER = 0, 1, 2
"""Columns of a contact."""
CONTAINER = -1
"""The partner of a contact with the container instead of another motif."""
# Values found by trial; tests/benchmarks/fit_filler.py compares others.
MAX_CONTACTS = 20_000
SIZE_COMPLIANCE = 0.35
"""Weight of changing size relative to changing position."""
FULL_TURN = 2 * math.pi


class Lever(NamedTuple):
    """Effect of a unit push on a motif."""

    give: float
    """How far the pushed point gives way."""
    shift: float
    turn: float
    """In radians."""
    growth: float
    """As a share of its size."""


FIXED = Lever(0.0, 0.0, 0.0, 0.0)
"""The lever of anything fixed."""


class Scene(NamedTuple):
    """Motifs to relax, their kinds (as in `motif_tables`), and the container around them."""

    container: Grid
    """Clearances in mm; `frame` is (x, y) of the first grid point and the step, mm."""
    frame: Floats
    fields: Grids
    traits: Table
    probes: Tables
    poses: Table
    """(motifs, pose columns); the arrays below also have one entry per motif."""
    kinds: Ints
    upright: Floats
    """The turn, radians, from which each motif's turn limit counts."""
    free: Flags
    """Whether a motif may move."""
    gap: float
    """Distance between any two motifs, mm."""


class RelaxBuffers(NamedTuple):
    """Arrays that relaxing overwrites. (Making arrays takes long to compile.)"""

    before: Table
    """Room for the poses of all motifs."""
    contacts: IntTable
    due: Floats
    seen: Floats


def relax_buffers(motifs: int) -> RelaxBuffers:
    """Buffers for so many motifs."""
    contacts = np.zeros((MAX_CONTACTS, 3), np.int64)
    return RelaxBuffers(np.zeros((motifs, 5)), contacts, np.zeros(MAX_CONTACTS), np.zeros(5))


@inlined
def _violation(scene: Scene, mover: int, probe: int, partner: int, seen: Floats) -> float:
    """The mm by which a probe is too near its partner.

    `seen` receives the unit vector that resolves it (0, 1), the probe's position (2, 3) and its
    distance to the partner (4).
    """
    kind = scene.kinds[mover]
    ax, ay = scene.poses[mover, AX], scene.poses[mover, AY]
    along = scene.probes[kind, probe, 0] * scene.poses[mover, MIRROR]
    x = scene.poses[mover, X] + ax * along - ay * scene.probes[kind, probe, 1]
    y = scene.poses[mover, Y] + ay * along + ax * scene.probes[kind, probe, 1]
    wanted = scene.probes[kind, probe, 2] * size_of(scene.poses, mover)
    if partner == CONTAINER:
        frame = scene.frame
        distance = value_and_slope(
            scene.container, (x - frame[0]) / frame[2], (y - frame[1]) / frame[2], seen
        )
        slope_x = seen[0]
        slope_y = seen[1]
    else:
        kind = scene.kinds[partner]
        extent = scene.traits[kind, EXTENT]
        ax, ay, mirror = (
            scene.poses[partner, AX],
            scene.poses[partner, AY],
            scene.poses[partner, MIRROR],
        )
        from_x, from_y = x - scene.poses[partner, X], y - scene.poses[partner, Y]
        square = ax**2 + ay**2
        u = (ax * from_x + ay * from_y) / square * mirror
        v = (ax * from_y - ay * from_x) / square
        scale = (scene.fields.shape[1] - 1) / (2 * extent)
        column, row = (u + extent) * scale, (v + extent) * scale
        distance = value_and_slope(scene.fields[kind], column, row, seen)
        if max(abs(u), abs(v)) > extent:
            beyond_u = max(0.0, abs(u) - extent)
            beyond_v = max(0.0, abs(v) - extent)
            distance += 0.9 * math.sqrt(beyond_u**2 + beyond_v**2)
        distance *= math.sqrt(square)
        slope_u = seen[0] * mirror
        slope_x = ax * slope_u - ay * seen[1]
        slope_y = ay * slope_u + ax * seen[1]
        wanted += scene.gap
    length = math.sqrt(slope_x**2 + slope_y**2) + 1e-12
    seen[0] = slope_x / length
    seen[1] = slope_y / length
    seen[2] = x
    seen[3] = y
    seen[4] = distance
    violation: float = wanted - distance
    return violation


@inlined
def _watch(scene: Scene, near: float, contacts: IntTable, slack: Floats, seen: Floats) -> int:
    """List the contacts with less than `near` mm of slack, and each slack in mm."""
    count = 0
    poses, kinds, free, gap = scene.poses, scene.kinds, scene.free, scene.gap
    traits, probes = scene.traits, scene.probes
    motifs = poses.shape[0]
    for mover in range(motifs):
        kind = kinds[mover]
        size = size_of(poses, mover)
        reach = traits[kind, REACH] * size + near + gap
        for partner in range(CONTAINER, motifs):
            if partner == mover or not (free[mover] or (partner != CONTAINER and free[partner])):
                continue
            away_x = away_y = limit = 0.0
            if partner != CONTAINER:
                away_x = poses[mover, X] - poses[partner, X]
                away_y = poses[mover, Y] - poses[partner, Y]
                limit = traits[kinds[partner], REACH] * size_of(poses, partner)
                if away_x**2 + away_y**2 > (reach + limit) ** 2:
                    continue
                limit += near + gap
            for probe in range(int(traits[kind, PROBE_COUNT])):
                if partner != CONTAINER:
                    along = probes[kind, probe, 0] * poses[mover, MIRROR]
                    down = probes[kind, probe, 1]
                    x = away_x + poses[mover, AX] * along - poses[mover, AY] * down
                    y = away_y + poses[mover, AY] * along + poses[mover, AX] * down
                    if x**2 + y**2 > (limit + probes[kind, probe, 2] * size) ** 2:
                        continue
                violation = _violation(scene, mover, probe, partner, seen)
                if violation > -near and count < contacts.shape[0]:
                    contacts[count, MOVER] = mover
                    contacts[count, PROBE] = probe
                    contacts[count, PARTNER] = partner
                    slack[count] = -violation
                    count += 1
    return count


@inlined
def _lever(scene: Scene, n: int, x: float, y: float, away_x: float, away_y: float) -> Lever:
    """Response of (x, y) on a motif to a push along (away_x, away_y), less for large motifs."""
    inertia = scene.traits[scene.kinds[n], INERTIA]
    size = size_of(scene.poses, n)
    from_x = (x - scene.poses[n, X]) / size
    from_y = (y - scene.poses[n, Y]) / size
    tangential = from_x * away_y - from_y * away_x
    radial = from_x * away_x + from_y * away_y
    ease = 1 / size
    give = ease * (1 + (tangential**2 + SIZE_COMPLIANCE * radial**2) / inertia)
    return Lever(
        give,
        ease,
        ease * tangential / inertia / size,
        ease * SIZE_COMPLIANCE * radial / inertia / size,
    )


@inlined
def _push(scene: Scene, n: int, lever: Lever, push: float, away_x: float, away_y: float) -> None:
    """Let a motif give way: shift, turn and resize, but not below its smallest size."""
    smallest = scene.traits[scene.kinds[n], SMALLEST]
    scene.poses[n, X] += push * lever.shift * away_x
    scene.poses[n, Y] += push * lever.shift * away_y
    turned = push * lever.turn
    grown = max(push * lever.growth, smallest / size_of(scene.poses, n) - 1)
    ax, ay = scene.poses[n, AX], scene.poses[n, AY]
    scene.poses[n, AX] += grown * ax - turned * ay
    scene.poses[n, AY] += grown * ay + turned * ax


@inlined
def _resolve_contacts(
    scene: Scene, contacts: IntTable, count: int, due: Floats, travel: float, seen: Floats
) -> float:
    """Resolve every violated contact once; returns the largest violation met, mm.

    A contact need not be checked until the motifs have travelled the distance `due`.
    """
    worst = 0.0
    for c in range(count):
        if due[c] > travel:
            continue
        mover = contacts[c, MOVER]
        partner = contacts[c, PARTNER]
        violation = _violation(scene, mover, contacts[c, PROBE], partner, seen)
        due[c] = travel - violation
        if violation <= 0:
            continue
        worst = max(worst, violation)
        x, y = seen[0], seen[1]
        moves = scene.free[mover]
        answers = partner != CONTAINER and scene.free[partner]
        lever = counter = FIXED
        if moves:
            lever = _lever(scene, mover, seen[2], seen[3], x, y)
        if answers:
            there_x, there_y = seen[2] - x * seen[4], seen[3] - y * seen[4]
            counter = _lever(scene, partner, there_x, there_y, -x, -y)
        push = violation / (lever.give + counter.give)
        if moves:
            _push(scene, mover, lever, push, x, y)
        if answers:
            _push(scene, partner, counter, push, -x, -y)
    return worst


@inlined
def _keep_limits(scene: Scene, before: Table) -> float:
    """Clamp sizes and turns to their ranges; returns the largest movement of an outline, mm."""
    moved = 0.0
    poses = scene.poses
    for n in range(poses.shape[0]):
        kind = scene.kinds[n]
        size = size_of(poses, n)
        kept = min(max(size, scene.traits[kind, SMALLEST]), scene.traits[kind, LARGEST])
        poses[n, AX] *= kept / size
        poses[n, AY] *= kept / size
        limit = scene.traits[kind, TURN_LIMIT]
        if limit < 3.14159:
            lean = math.atan2(poses[n, AY], poses[n, AX]) - scene.upright[n]
            lean -= FULL_TURN * math.floor(lean / FULL_TURN + 0.5)
            turn = scene.upright[n] + min(max(lean, -limit), limit)
            poses[n, AX] = kept * math.cos(turn)
            poses[n, AY] = kept * math.sin(turn)
        shift = math.sqrt((poses[n, X] - before[n, X]) ** 2 + (poses[n, Y] - before[n, Y]) ** 2)
        swing = math.sqrt((poses[n, AX] - before[n, AX]) ** 2 + (poses[n, AY] - before[n, AY]) ** 2)
        moved = max(moved, shift + swing * scene.traits[kind, REACH])
        for column in range(poses.shape[1]):
            before[n, column] = poses[n, column]
    return moved


@inlined
def area(scene: Scene) -> float:
    """What the motifs cover together, mm²."""
    total = 0.0
    for n in range(scene.poses.shape[0]):
        total += scene.traits[scene.kinds[n], AREA] * size_of(scene.poses, n) ** 2
    return total


@compiled
def relax(
    scene: Scene,
    buffers: RelaxBuffers,
    near: float,
    rounds: int,
    growth: float,
    enough: float,
    target: float,
    prune_area: float,
) -> float:
    """Move the free motifs of a scene until all are the gap apart; the largest violation left, mm.

    Each round they also grow by the share `growth`, less and less towards the last round.
    Without growth it ends as soon as no violation is larger than `enough`. Contacts are watched
    from `near` mm beyond the gap.

    Growing is given up where it will not reach `target` mm² of area: where that is farther off
    than `prune_area` mm² times the fifth power of the share of rounds left. What those
    that reach it still gain falls like that (fitted to 10,000 relaxations).
    """
    poses = scene.poses
    before, contacts, due, seen = buffers
    _keep_limits(scene, before)
    travel = 0.0
    count = -1
    worst = 0.0
    for round_ in range(rounds):
        if growth > 0:
            factor = 1 + growth * (1 - round_ / rounds)
            for n in range(poses.shape[0]):
                if scene.free[n]:
                    poses[n, AX] *= factor
                    poses[n, AY] *= factor
        if count < 0 or travel > near:
            count = _watch(scene, near, contacts, due, seen)
            travel = 0.0
        worst = _resolve_contacts(scene, contacts, count, due, travel, seen)
        travel += 2 * _keep_limits(scene, before)
        if growth > 0:
            if area(scene) + prune_area * (1 - round_ / rounds) ** 5 < target:
                break
        elif worst <= enough:
            break
    return worst
