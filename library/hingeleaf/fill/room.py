"""Where motifs may lie, exactly (by GEOS) and as a clearance grid that proposes places."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, STRtree
from shapely.geometry.base import BaseGeometry

from hingeleaf.fill.samples import lines_of

SLACK = 2e-7
"""What exact distances are kept above what was asked, mm: GEOS rounds in the 16th digit."""
FINEST = 1 / 20
"""Grid step, in smallest sizes of the pool."""
MOST_CELLS = 1600
"""Grid points along the field's longer side, at most."""


@dataclass(frozen=True, slots=True)
class Room:
    """A field less its margin, less what is already there, within the region to be filled."""

    area: MultiPolygon
    margin: float
    gap: float
    taken: tuple[Polygon, ...] = ()
    """Footprints that stay where they are."""
    region: BaseGeometry | None = None

    @property
    def bounds(self) -> tuple[float, float, float, float]:
        """Left, top, right and bottom of where motifs may lie; not finite if that is nowhere."""
        reach = self.area if self.region is None else shapely.intersection(self.area, self.region)
        left, top, right, bottom = reach.bounds
        return left, top, right, bottom

    def lack(self, footprints: NDArray[np.object_]) -> NDArray[np.float64]:
        """For every footprint, the mm by which it is too near the field's edge or what is taken.

        0 or less is well placed; infinite is a footprint that leaves the field or the region.
        """
        shapely.prepare(self.area)
        boundary = self.area.boundary
        shapely.prepare(boundary)
        lack = self.margin + SLACK - shapely.distance(boundary, footprints)
        lack[~shapely.covers(self.area, footprints)] = np.inf
        if self.region is not None:
            lack[~shapely.covers(self.region, footprints)] = np.inf
        if self.taken:
            tree = STRtree(self.taken)
            near = tree.query(footprints, predicate="dwithin", distance=self.gap + SLACK)
            for index, other in near.T:
                distance = footprints[index].distance(self.taken[other])
                lack[index] = max(lack[index], self.gap + SLACK - distance)
        return lack


@dataclass(frozen=True, slots=True)
class Grids:
    """A room on a grid. `frame` is (x, y) of the first grid point and the step, mm."""

    frame: NDArray[np.float64]
    clearance: NDArray[np.float32]
    """The distance to whatever is in the way, less what must be kept from it, mm."""
    facing: NDArray[np.float32]
    """The turn that counts as upright, radians; a single cell where it is the same all over."""


def lay_grid(room: Room, smallest: float) -> Grids:
    """The grid of a room for motifs from `smallest` mm up."""
    from hingeleaf.fill.distance import signed_distance

    left, top, right, bottom = room.bounds
    step = max(smallest * FINEST, max(right - left, bottom - top) / MOST_CELLS)
    frame = np.array([left - 2 * step, top - 2 * step, step])
    rows = int((bottom - top) / step) + 5
    columns = int((right - left) / step) + 5

    def distance(shape: BaseGeometry) -> NDArray[np.float32]:
        grid: NDArray[np.float32] = signed_distance(lines_of(shape), frame, rows, columns)
        return grid

    clearance = distance(room.area) - np.float32(room.margin)
    if room.region is not None:
        clearance = np.minimum(clearance, distance(room.region))
    if room.taken:
        taken = shapely.union_all(room.taken)
        clearance = np.minimum(clearance, -distance(taken) - np.float32(room.gap))
    facing = np.zeros((1, 1), np.float32)
    return Grids(frame, np.ascontiguousarray(clearance), facing)


def too_near(
    footprints: Sequence[Polygon] | NDArray[np.object_], gap: float
) -> list[tuple[int, int, float]]:
    """Pairs of footprints less than `gap` mm (and the slack) apart, and by how much, in order."""
    shapes = np.asarray(footprints, dtype=object)
    first, second = STRtree(shapes).query(shapes, predicate="dwithin", distance=gap + SLACK)
    once = first < second
    first, second = first[once], second[once]
    order = np.lexsort((second, first))
    first, second = first[order], second[order]
    lack = gap + SLACK - shapely.distance(shapes[first], shapes[second])
    return [(int(i), int(j), float(d)) for i, j, d in zip(first, second, lack, strict=True)]
