"""A filling, and the figures of its quality."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, STRtree

from hingeleaf.model import Placement


@dataclass(frozen=True, slots=True)
class Filling:
    """Placements that keep all distances, pinned ones first, and their figures."""

    placements: tuple[Placement, ...]
    coverage: float
    """Footprint area over field area."""
    least_gap: float | None
    """The smallest distance between two footprints, mm; None with fewer than two."""
    balance: float
    """Entropy of the kinds' counts over that of an even mix: 1 is even, 0 is one kind only."""
    largest_gap: float
    """Diameter of the largest empty circle, mm."""
    lifting_share: float
    steps: int
    seconds: float

    @property
    def count(self) -> int:
        """Number of placements."""
        return len(self.placements)


def least_gap(
    footprints: Sequence[Polygon] | NDArray[np.object_], about: float = 1.0
) -> float | None:
    """The smallest distance between any two footprints, mm; None with fewer than two.

    The nearer it is to `about` mm (which is best a bit more), the sooner it is found.
    """
    shapes = np.asarray(footprints, dtype=object)
    if len(shapes) < 2:
        return None
    tree = STRtree(shapes)
    within = about
    while True:
        first, second = tree.query(shapes, predicate="dwithin", distance=within)
        apart = first < second
        if apart.any():
            return float(shapely.distance(shapes[first[apart]], shapes[second[apart]]).min())
        within *= 4


def balance(kinds: Iterable[object], kinds_in_pool: int) -> float:
    """Shannon entropy of the counts over the logarithm of the number of kinds: 0 to 1."""
    counts = np.array(list(Counter(kinds).values()), dtype=float)
    if kinds_in_pool < 2:
        return 1.0
    if len(counts) == 0:
        return 0.0
    shares = counts / counts.sum()
    return float(-(shares * np.log(shares)).sum() / math.log(kinds_in_pool)) + 0.0


def largest_gap(area: MultiPolygon, footprints: Sequence[Polygon]) -> float:
    """Diameter in mm of the largest circle in the field that touches no footprint.

    By GEOS's maximum inscribed circle, to a hundredth of a millimetre or better.
    """
    free = shapely.difference(area, shapely.union_all(footprints)) if len(footprints) else area
    radii = [
        shapely.maximum_inscribed_circle(part, tolerance=0.01).length
        for part in shapely.get_parts(free)
        if part.area > 0
    ]
    return 2 * max(radii, default=0.0)
