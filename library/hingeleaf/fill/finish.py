"""From proposed poses to placements that hold exactly: GEOS decides, on the footprints as placed."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from hingeleaf.fill.pool import PoolItem
from hingeleaf.fill.room import SLACK, Room, too_near
from hingeleaf.model import Pose

SWEEPS = 80
"""Rounds of shrinking before what still breaks a rule is dropped."""


def pose_of(row: NDArray[np.float64], item: PoolItem) -> Pose:
    """The pose of a row (x, y, ax, ay, mirror), its size rounded into the item's range."""
    x, y, ax, ay, mirror = (float(number) for number in row[:5])
    size = min(max(math.hypot(ax, ay), item.sizes.smallest), item.sizes.largest)
    return Pose(x, y, math.degrees(math.atan2(ay, ax)), size, mirror < 0)


def footprints_of(
    numbers: NDArray[np.float64], kinds: NDArray[np.int64], pool: Sequence[PoolItem]
) -> NDArray[np.object_]:
    """Footprints exactly as a caller will place them."""
    shapes = np.empty(len(kinds), dtype=object)
    for index, (row, kind) in enumerate(zip(numbers, kinds, strict=True)):
        item = pool[kind]
        shapes[index] = pose_of(row, item).place(item.footprint, item.drawn_size)
    return shapes


def mend(
    numbers: NDArray[np.float64],
    kinds: NDArray[np.int64],
    pool: Sequence[PoolItem],
    room: Room,
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Shrink what is too near until all holds exactly; drop what would get smaller than allowed."""
    numbers, kinds = numbers.copy(), kinds.copy()
    smallest = np.array([item.sizes.smallest for item in pool])
    for sweep in range(SWEEPS + 1):
        shapes = footprints_of(numbers, kinds, pool)
        factor = _shrinking(shapes, numbers, room, sweep)
        if (factor == 1).all():
            break
        numbers[:, 2:4] *= factor[:, None]
        if sweep == SWEEPS:
            stays = factor == 1
        else:
            stays = np.hypot(numbers[:, 2], numbers[:, 3]) >= smallest[kinds]
        numbers, kinds = numbers[stays], kinds[stays]
    return numbers, kinds


def _shrinking(
    shapes: NDArray[np.object_], numbers: NDArray[np.float64], room: Room, sweep: int
) -> NDArray[np.float64]:
    """The factor by which each motif must shrink for now; firmer from sweep to sweep."""
    sizes = np.hypot(numbers[:, 2], numbers[:, 3])
    factor = np.ones(len(shapes))
    lack = room.lack(shapes)
    for index in np.flatnonzero(lack > 0):
        share = (1.1 + 0.15 * sweep) * min(lack[index], room.margin + 0.5) / (0.5 * sizes[index])
        factor[index] = 1 - min(0.2, share)
    for first, second, overlap in too_near(shapes, room.gap):
        for index in (first, second):
            share = (0.6 + 0.1 * sweep) * overlap / (0.5 * sizes[index])
            factor[index] = min(factor[index], 1 - min(0.2, share))
    return factor


def grow(
    numbers: NDArray[np.float64],
    kinds: NDArray[np.int64],
    pool: Sequence[PoolItem],
    room: Room,
) -> NDArray[np.float64]:
    """Grow every motif in turn, the largest first, to exact contact."""
    numbers = numbers.copy()
    shapes = footprints_of(numbers, kinds, pool)
    sizes = np.hypot(numbers[:, 2], numbers[:, 3])
    pairs = too_near(shapes, room.gap + 1.5)
    near: list[list[int]] = [[] for _ in kinds]
    for first, second, _ in pairs:
        near[first].append(second)
        near[second].append(first)
    for index in np.argsort(-sizes, kind="stable"):
        item = pool[kinds[index]]
        low, high = 1.0, min(item.sizes.largest / sizes[index], 1.02)
        others = shapes[near[index]]
        for _ in range(9):
            factor = (low + high) / 2
            if _fits(numbers[index], factor, item, room, others):
                low = factor
            else:
                high = factor
        if low > 1 and _fits(numbers[index], low, item, room, others):
            numbers[index, 2:4] *= low
            shapes[index] = footprints_of(numbers[[index]], kinds[[index]], pool)[0]
    return numbers


def _fits(
    row: NDArray[np.float64],
    factor: float,
    item: PoolItem,
    room: Room,
    others: NDArray[np.object_],
) -> bool:
    trial = row.copy()
    trial[2:4] *= factor
    shapes = footprints_of(trial[None], np.zeros(1, np.int64), [item])
    if room.lack(shapes)[0] > 0:
        return False
    return not shapely.dwithin(shapes[0], others, room.gap + SLACK).any()
