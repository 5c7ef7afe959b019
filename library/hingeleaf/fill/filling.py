"""A filling, and the figures of its quality."""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon, STRtree

from hingeleaf.fill.evenness import Evenness, evenness
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
    """How evenly the kinds that occur share the places; see `balance`."""
    largest_gap: float
    """Diameter of the largest empty circle, mm."""
    lifting_share: float
    evenness: Evenness | None = None
    """Distances of the free points; None where it was not measured, or nothing is free."""
    missing: tuple[str, ...] = ()
    """Motifs of which fewer stand than were asked for."""
    straight: tuple[str, ...] = ()
    """Motifs that could be bent, of which some stay straight because bent they would not hold."""
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


def measure(
    area: MultiPolygon,
    placements: Sequence[Placement],
    footprints: Sequence[Polygon],
    lifts: Sequence[bool],
    gap: float,
) -> Filling:
    """All figures of placements but `evenness`, which `with_evenness` adds.

    `footprints` are as placed, and `lifts` tells of each whether it folds up.
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


def with_evenness(
    filling: Filling, area: MultiPolygon, footprints: Sequence[Polygon], gap: float
) -> Filling:
    """The filling with the evenness of its footprints, which were to be `gap` mm apart."""
    return replace(filling, evenness=evenness(area, footprints, gap))


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


def balance(kinds: Iterable[object]) -> float:
    """Evenness of the counts of the kinds that occur: Shannon entropy over its most, 0 to 1.

    That is Pielou's index (1966). One kind alone is even: 1.
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
    free = (
        shapely.difference(area, shapely.disjoint_subset_union_all(footprints))
        if len(footprints)
        else area
    )
    radii = [
        shapely.maximum_inscribed_circle(part, tolerance=0.01).length
        for part in shapely.get_parts(free)
        if part.area > 0
    ]
    return 2 * max(radii, default=0.0)
