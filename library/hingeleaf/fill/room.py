"""Where motifs may lie, exactly, by GEOS."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, STRtree
from shapely.geometry.base import BaseGeometry

Shapes = NDArray[np.object_]

SLACK = 2e-7
"""What exact distances are kept above what was asked, mm: GEOS rounds in the 16th digit."""


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
    def open(self) -> BaseGeometry:
        """The area within the region."""
        return self.area if self.region is None else shapely.intersection(self.area, self.region)

    def lack(self, footprints: Shapes) -> NDArray[np.float64]:
        """For every footprint, the mm by which it is too near the field's edge or what is taken.

        0 or less is well placed; infinite is a footprint that leaves the field or the region.
        """
        wanted = self.margin + SLACK
        boundary = self.area.boundary
        shapely.prepare([self.area, boundary])
        lack = np.zeros(len(footprints))
        near = shapely.dwithin(boundary, footprints, wanted)
        lack[near] = wanted - shapely.distance(boundary, footprints[near])
        lack[~shapely.covers(self.area, footprints)] = np.inf
        if self.region is not None:
            shapely.prepare(self.region)
            lack[~shapely.covers(self.region, footprints)] = np.inf
        if self.taken:
            tree = STRtree(self.taken)
            index, other = tree.query(footprints, predicate="dwithin", distance=self.gap + SLACK)
            distance = shapely.distance(footprints[index], tree.geometries[other])
            np.maximum.at(lack, index, self.gap + SLACK - distance)
        return lack


def too_near(
    footprints: Sequence[Polygon] | Shapes, gap: float, some: NDArray[np.int64] | None = None
) -> list[tuple[int, int, float]]:
    """Pairs of footprints less than `gap` mm (and the slack) apart, and by how much, in order.

    With `some` only pairs that one of these footprints is in.
    """
    shapes = np.asarray(footprints, dtype=object)
    some = np.arange(len(shapes)) if some is None else some
    asked, other = STRtree(shapes).query(shapes[some], predicate="dwithin", distance=gap + SLACK)
    asked = some[asked]
    pairs = np.unique(np.sort(np.column_stack([asked, other])[asked != other], axis=1), axis=0)
    first, second = pairs.reshape(-1, 2).T
    lack = gap + SLACK - shapely.distance(shapes[first], shapes[second])
    return [(int(i), int(j), float(d)) for i, j, d in zip(first, second, lack, strict=True)]
