"""From proposed poses to footprints that hold exactly, by GEOS, as a caller will place them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.pool import PoolItem
from hingeleaf.fill.room import Room, Shapes, too_near
from hingeleaf.model import Pose

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

SWEEPS = 80
"""Rounds of shrinking before what still breaks a rule is dropped."""
AT_ONCE = 0.1
"""Share of the motifs that cannot shrink any more that is dropped in one round."""


def pose_of(row: Floats, item: PoolItem) -> Pose:
    """The pose of a row (x, y, ax, ay, mirror), its size rounded into the item's range."""
    x, y, ax, ay, mirror = (float(number) for number in row[:5])
    size = min(max(math.hypot(ax, ay), item.sizes.smallest), item.sizes.largest)
    turn = item.unrounded(math.degrees(math.atan2(ay, ax)))
    return Pose(x, y, turn, size, mirror < 0)


def footprints_of(numbers: Floats, kinds: Ints, pool: Sequence[PoolItem]) -> Shapes:
    """Footprints of rows (n, 5), exactly as a caller will place them."""
    shapes = np.empty(len(kinds), dtype=object)
    for index, (row, kind) in enumerate(zip(numbers, kinds, strict=True)):
        item = pool[int(kind)]
        shapes[index] = pose_of(row, item).place(item.footprint, item.drawn_size)
    return shapes


def mend(numbers: Floats, kinds: Ints, pool: Sequence[PoolItem], room: Room) -> tuple[Floats, Ints]:
    """Shrink what is too near until all holds exactly; drop what would get smaller than allowed."""
    numbers, kinds = numbers.copy(), kinds.copy()
    smallest = np.array([item.sizes.smallest for item in pool])
    shapes = footprints_of(numbers, kinds, pool)
    suspect = np.ones(len(kinds), bool)
    for sweep in range(SWEEPS + 1):
        factor = _shrinking(shapes, suspect, numbers, room, sweep)
        if (factor == 1).all():
            break
        suspect = factor < 1
        sizes = np.hypot(numbers[:, 2], numbers[:, 3])
        stays = sizes * factor >= smallest[kinds]
        if sweep == SWEEPS:
            stays, factor = holding(shapes, room), np.ones(len(kinds))
        elif not stays.all():
            # Only the worst go at once: that may be room enough for the others.
            going = np.flatnonzero(~stays)
            worst = going[np.argsort(factor[going], kind="stable")]
            stays[worst[math.ceil(len(going) * AT_ONCE) :]] = True
            factor = np.maximum(factor, smallest[kinds] / sizes)
        numbers[:, 2:4] *= factor[:, None]
        numbers, kinds, shapes, suspect = (
            numbers[stays],
            kinds[stays],
            shapes[stays],
            suspect[stays],
        )
        shapes[suspect] = footprints_of(numbers[suspect], kinds[suspect], pool)
    return numbers, kinds


def _shrinking(
    shapes: Shapes, suspect: NDArray[np.bool_], numbers: Floats, room: Room, sweep: int
) -> Floats:
    """The factor by which each motif must shrink for now; firmer from sweep to sweep.

    Only what was too near in the sweep before is looked at again, and what lies beside it.
    """
    some = np.flatnonzero(suspect)
    radii = np.hypot(numbers[:, 2], numbers[:, 3]) / 2
    lack = np.minimum(room.lack(shapes[some]), radii[some])
    share = (1.1 + 0.15 * sweep) * lack / radii[some]
    factor = np.ones(len(numbers))
    factor[some] = np.where(lack > 0, 1 - np.minimum(0.2, share), 1.0)
    for first, second, overlap in too_near(shapes, room.gap, some):
        for index in (first, second):
            push = (0.6 + 0.1 * sweep) * overlap / radii[index]
            factor[index] = min(factor[index], 1 - min(0.2, push))
    return factor


def holding(shapes: Shapes, room: Room) -> NDArray[np.bool_]:
    """Which footprints keep all distances; of two too near each other the first."""
    holds = room.lack(shapes) <= 0
    for first, second, _ in too_near(shapes, room.gap):
        if holds[first]:
            holds[second] = False
    return holds
