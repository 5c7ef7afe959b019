"""A filling, and measures of its quality."""

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, STRtree

from hingeleaf.fill.evenness import Evenness, free_area
from hingeleaf.model import Placement


@dataclass(frozen=True, slots=True)
class Filling:
    """Placements that keep all distances, pinned ones first, and their quality measures."""

    placements: tuple[Placement, ...]
    coverage: float
    """Footprint area over field area."""
    least_gap: float | None
    """The smallest distance between two footprints, mm; None with fewer than two."""
    balance: float
    """How evenly the kinds present share the placements; see `balance`."""
    largest_gap: float
    """Diameter of the largest empty circle, mm."""
    lifting_share: float
    evenness: Evenness | None = None
    """Distances of the free points; None if not measured, or if nothing is free."""
    missing: tuple[str, ...] = ()
    """Motifs with fewer placements than requested."""
    straight: tuple[str, ...] = ()
    """Bendable motifs of which some stay straight because they would not hold when bent."""
    steps: int = 0
    seconds: float = 0.0

    @property
    def count(self) -> int:
        """Number of placements."""
        return len(self.placements)

    @property
    def kinds(self) -> int:
        """Number of different motifs."""
        return len({placement.motif for placement in self.placements})


def measure_filling(
    area: MultiPolygon,
    placements: Sequence[Placement],
    footprints: Sequence[Polygon],
    lifts: Sequence[bool],
    gap: float,
) -> Filling:
    """All measures of placements except `evenness`, which takes longest.

    `footprints` are as placed; `lifts` says for each whether it folds up.
    """
    count = len(placements)
    return Filling(
        placements=tuple(placements),
        coverage=float(shapely.area(footprints).sum() / area.area) if count and area.area else 0.0,
        least_gap=least_gap(footprints, about=gap + 0.05),
        balance=balance(placement.motif for placement in placements),
        largest_gap=largest_gap(area, footprints),
        lifting_share=sum(lifts) / count if count else 0.0,
    )


def least_gap(
    footprints: Sequence[Polygon] | NDArray[np.object_], about: float = 1.0
) -> float | None:
    """The smallest distance between any two footprints, mm; None with fewer than two.

    Fastest if it is a little below `about` mm.
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


def balance(kinds: Iterable[object]) -> float:
    """Evenness of the counts of the kinds present: Shannon entropy over its maximum, 0 to 1.

    This is Pielou's index (1966). A single kind gives 1.
    """
    counts = np.array(list(Counter(kinds).values()), dtype=float)
    if len(counts) < 2:
        return 1.0
    shares = counts / counts.sum()
    return float(-(shares * np.log(shares)).sum() / math.log(len(counts)))


def largest_gap(area: MultiPolygon, footprints: Sequence[Polygon]) -> float:
    """Diameter in mm of the largest circle in the field that touches no footprint.

    By GEOS's maximum inscribed circle, to a hundredth of a millimetre or better.
    """
    radii = [
        shapely.maximum_inscribed_circle(part, tolerance=0.01).length
        for part in shapely.get_parts(free_area(area, footprints))
        if part.area > 0
    ]
    return 2 * max(radii, default=0.0)
