"""The filling problem, and conversion of solution arrays to a verified filling."""

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hingeleaf.errors import UsageError
from hingeleaf.fill.container import Container, Shapes
from hingeleaf.fill.filling import Filling, measure_filling
from hingeleaf.fill.mirroring import Axis
from hingeleaf.fill.options import FillOptions
from hingeleaf.fill.pool import PoolItem, place_items
from hingeleaf.fill.repair import valid_subset
from hingeleaf.model import Field, Placement, Pose

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Problem:
    """The inputs of a filling: field, pool, fixed placements and options."""

    field: Field
    pool: Sequence[PoolItem]
    fixed: tuple[Placement, ...]
    """Fixed placements: pinned ones, and those on the axis."""
    axis: Axis | None
    rules: FillOptions
    clock: Callable[[], float]
    started: float

    def item(self, placement: Placement) -> PoolItem:
        """The pool's item of a placement. Raises UsageError if it has none."""
        for item in self.pool:
            if (item.name, item.revision) == (placement.motif, placement.revision):
                return item
        raise UsageError(
            f"The pinned motif {placement.motif} (revision {placement.revision}) is not among the "
            "motifs to fill with.",
            "Add it to the pool, or take the pin away.",
        )

    def footprints(self, placements: Sequence[Placement]) -> Shapes:
        """Footprints as placed."""
        return place_items(list(map(self.item, placements)), [each.pose for each in placements])

    def counts(self) -> Ints:
        """Number of fixed placements of each kind."""
        kinds = [self.pool.index(self.item(placement)) for placement in self.fixed]
        return np.bincount(kinds, minlength=len(self.pool)).astype(np.int64)

    def evaluate(self, numbers: Floats, kinds: Ints, steps: int) -> Filling:
        """The fixed placements and rows (n, 5), mirrored if there is an axis, as a filling.

        Checked as a whole: placements that break a rule are left out.
        """
        items = [self.pool[int(kind)] for kind in kinds]
        poses = [pose_of(row, item) for row, item in zip(numbers, items, strict=True)]
        return self.evaluate_poses(items, poses, steps)

    def evaluate_poses(
        self, items: Sequence[PoolItem], poses: Sequence[Pose], steps: int
    ) -> Filling:
        """The fixed placements and items at poses, as `evaluate` does."""
        items, poses = list(items), list(poses)
        if self.axis is not None:
            images = map(self.axis.image_of_pose, poses)
            turned = [(i, item.unrounded(i.turn)) for i, item in zip(images, items, strict=True)]
            poses += [replace(image, turn=turn) for image, turn in turned]
            items += items
        new = [
            Placement(item.name, item.revision, pose)
            for item, pose in zip(items, poses, strict=True)
        ]
        fixed_shapes, shapes = self.footprints(self.fixed), place_items(items, poses)
        rules = self.rules
        container = Container(
            self.field.area, rules.margin, rules.gap, tuple(fixed_shapes), rules.region
        )
        holds = valid_subset(shapes, container)
        new = [placement for placement, fine in zip(new, holds, strict=True) if fine]
        placements = (*self.fixed, *new)
        filling = measure_filling(
            self.field.area,
            placements,
            [*fixed_shapes, *shapes[holds]],
            [self.item(placement).lifts for placement in placements],
            rules.gap,
        )
        counts = Counter(placement.motif for placement in placements)
        missing = tuple(item.name for item in self.pool if counts[item.name] < item.least)
        seconds = self.clock() - self.started
        return replace(filling, missing=missing, steps=steps, seconds=seconds)


def pose_of(row: Floats, item: PoolItem) -> Pose:
    """The pose of a row (x, y, ax, ay, mirror), its size rounded into the item's range."""
    x, y, ax, ay, mirror = (float(number) for number in row[:5])
    size = min(max(math.hypot(ax, ay), item.sizes.smallest), item.sizes.largest)
    turn = item.unrounded(math.degrees(math.atan2(ay, ax)))
    return Pose(x, y, turn, size, mirror < 0)
