"""Exact distances of footprints to the container and to each other, by GEOS."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, STRtree
from shapely.geometry.base import BaseGeometry

Shapes = NDArray[np.object_]

EPS_DIST = 2e-7
"""mm added to required distances, since GEOS rounds in the 16th digit."""


@dataclass(frozen=True, slots=True)
class Container:
    """A field minus its margin and minus taken footprints, within the region to be filled."""

    area: MultiPolygon
    margin: float
    gap: float
    taken: tuple[Polygon, ...] = ()
    """Footprints that are fixed."""
    region: BaseGeometry | None = None

    @property
    def open(self) -> BaseGeometry:
        """The area within the region."""
        return self.area if self.region is None else shapely.intersection(self.area, self.region)

    def violation(self, footprints: Shapes) -> NDArray[np.float64]:
        """For every footprint, the mm by which it is too near the field's edge or taken footprints.

        0 or less means valid; infinite means that it leaves the field or the region.
        """
        wanted = self.margin + EPS_DIST
        boundary = self.area.boundary
        shapely.prepare([self.area, boundary])
        violation = np.zeros(len(footprints))
        near = shapely.dwithin(boundary, footprints, wanted)
        violation[near] = wanted - shapely.distance(boundary, footprints[near])
        violation[~shapely.covers(self.area, footprints)] = np.inf
        if self.region is not None:
            shapely.prepare(self.region)
            violation[~shapely.covers(self.region, footprints)] = np.inf
        if self.taken:
            tree = STRtree(self.taken)
            index, other = tree.query(footprints, predicate="dwithin", distance=self.gap + EPS_DIST)
            distance = shapely.distance(footprints[index], tree.geometries[other])
            np.maximum.at(violation, index, self.gap + EPS_DIST - distance)
        return violation


def close_pairs(
    footprints: Sequence[Polygon] | Shapes, gap: float, some: NDArray[np.int64] | None = None
) -> list[tuple[int, int, float]]:
    """Pairs of footprints less than `gap` mm (plus a tolerance) apart, and by how much, in order.

    With `some`, only pairs that include one of these footprints.
    """
    shapes = np.asarray(footprints, dtype=object)
    some = np.arange(len(shapes)) if some is None else some
    asked, other = STRtree(shapes).query(shapes[some], predicate="dwithin", distance=gap + EPS_DIST)
    asked = some[asked]
    pairs = np.unique(np.sort(np.column_stack([asked, other])[asked != other], axis=1), axis=0)
    first, second = pairs.reshape(-1, 2).T
    violation = gap + EPS_DIST - shapely.distance(shapes[first], shapes[second])
    return [(int(i), int(j), float(d)) for i, j, d in zip(first, second, violation, strict=True)]
