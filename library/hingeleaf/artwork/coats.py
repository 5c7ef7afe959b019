"""Combine layers of transparent paint where they overlap enough to be opaque."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon

from hingeleaf.geometry.members import area_of, robust
from hingeleaf.model import NO_WINDOWS

MAX_REGIONS = 200
"""Greatest number of regions of different opacity; further coats are left out."""


def may_add_up(
    boxes: NDArray[np.float64], alphas: NDArray[np.float64], least: float
) -> NDArray[np.bool_]:
    """Mask of the coats that may become opaque together: their boxes meet enough others.

    `boxes` is (n, 4): left, top, right, bottom; `alphas` the opacity of each.
    """
    left, top, right, bottom = boxes.T
    meet = (left[:, None] < right) & (left < right[:, None])
    meet &= (top[:, None] < bottom) & (top < bottom[:, None])
    through = np.where(meet, np.log1p(-np.minimum(alphas, 1 - 1e-9)), 0.0).sum(axis=1)
    able: NDArray[np.bool_] = -np.expm1(through) >= least
    return able


class Coats:
    """Accumulates transparent coats; an area gets the colour of the coat that makes it opaque."""

    def __init__(self, least: float) -> None:
        self._through = 1 - least
        self._areas: list[MultiPolygon] = []
        self._shares: list[float] = []

    def add(self, area: MultiPolygon, alpha: float) -> MultiPolygon:
        """Add a coat; returns the area that it makes opaque."""
        if len(self._areas) > MAX_REGIONS:
            return NO_WINDOWS
        solid, kept, rest = [], [(NO_WINDOWS, 1.0)], area
        for region, share in zip(self._areas, self._shares, strict=True):
            inside = NO_WINDOWS
            if shapely.intersects(region, area):
                inside = area_of(robust(shapely.intersection, region, area))
            if inside.is_empty:
                kept.append((region, share))
                continue
            rest = area_of(robust(shapely.difference, rest, region))
            kept.append((area_of(robust(shapely.difference, region, area)), share))
            if share * (1 - alpha) <= self._through + 1e-9:
                solid.append(inside)
            else:
                kept.append((inside, share * (1 - alpha)))
        kept.append((rest, 1 - alpha))
        kept = [(region, share) for region, share in kept if not region.is_empty]
        self._areas = [region for region, _ in kept]
        self._shares = [share for _, share in kept]
        return area_of(robust(shapely.union_all, solid)) if solid else NO_WINDOWS
