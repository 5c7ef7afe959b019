"""Filling a field: the whole way from a pool and rules to placements that hold exactly."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hingeleaf.errors import FieldTooSmallError, UsageError
from hingeleaf.fill.filling import Filling, balance, largest_gap, least_gap
from hingeleaf.fill.finish import footprints_of, grow, mend, pose_of
from hingeleaf.fill.greedy import fill_greedily
from hingeleaf.fill.packing import Packing
from hingeleaf.fill.pool import PoolItem
from hingeleaf.fill.room import Room, lay_grid
from hingeleaf.fill.rules import Rules
from hingeleaf.fill.samples import sample_pool
from hingeleaf.model import Field, Placement
from hingeleaf.tasks import Progress, Task

MOST = 4000
"""Placements in one filling, at most."""


def fill(
    field: Field,
    pool: Sequence[PoolItem],
    rules: Rules,
    *,
    pinned: Sequence[Placement] = (),
    clock: Callable[[], float] = time.perf_counter,
) -> Task[Filling]:
    """Fill a field; every step yields the best complete, valid filling so far.

    Pinned placements stay as they are, even where they break a rule themselves; their kinds must
    be in the pool (weight 0 keeps a kind from being placed anew). `clock` tells seconds.

    Raises UsageError for a pool that cannot be used and FieldTooSmallError where nothing fits.
    """
    started = clock()
    held = _footprints_of_pinned(pinned, pool)
    wishes = np.array([max(0.0, item.weight) for item in pool])
    if not (wishes > 0).any():
        raise UsageError("There is no motif to fill with.", "Choose some motifs first.")

    def filling(numbers: NDArray[np.float64], kinds: NDArray[np.int64], steps: int) -> Filling:
        new = tuple(
            Placement(pool[kind].name, pool[kind].revision, pose_of(row, pool[kind]))
            for row, kind in zip(numbers, kinds, strict=True)
        )
        shapes = [*held, *footprints_of(numbers, kinds, pool)]
        placements = (*pinned, *new)
        by_name = {(item.name, item.revision): item for item in pool}
        lifting = [by_name[p.motif, p.revision].lifts for p in placements]
        return Filling(
            placements=placements,
            coverage=float(shapely.area(shapes).sum() / field.area.area) if shapes else 0.0,
            least_gap=least_gap(shapes),
            balance=balance([p.motif for p in placements], int((wishes > 0).sum())),
            largest_gap=largest_gap(field.area, shapes),
            lifting_share=sum(lifting) / len(lifting) if lifting else 0.0,
            steps=steps,
            seconds=clock() - started,
        )

    room = Room(field.area, rules.margin, rules.gap, held, rules.region)
    yield Progress(0, 2, "getting ready")
    left, top, right, bottom = room.bounds
    samples = sample_pool(pool, max(right - left, bottom - top))
    grids = lay_grid(room, min(item.sizes.smallest for item in pool if item.weight > 0))
    packing = Packing(samples, grids, rules.gap)
    state = np.array([rules.seed], np.uint64)
    for count in fill_greedily(packing, wishes, state, MOST):
        yield Progress(0, 2, f"{count} placed")
    numbers, kinds = mend(packing.poses, packing.kinds, pool, room)
    if len(kinds) == 0 and not pinned:
        raise FieldTooSmallError("No motif of the pool fits.")
    numbers = grow(numbers, kinds, pool, room)
    result = filling(numbers, kinds, len(kinds))
    yield Progress(2, 2, "done", result)
    return result


def _footprints_of_pinned(
    pinned: Sequence[Placement], pool: Sequence[PoolItem]
) -> tuple[Polygon, ...]:
    items = {(item.name, item.revision): item for item in pool}
    held = []
    for placement in pinned:
        item = items.get((placement.motif, placement.revision))
        if item is None:
            raise UsageError(
                f"The pinned motif {placement.motif} (revision {placement.revision}) is not among "
                "the motifs to fill with.",
                "Add it, or take the pin away.",
            )
        held.append(placement.pose.place(item.footprint, item.drawn_size))
    return tuple(held)
