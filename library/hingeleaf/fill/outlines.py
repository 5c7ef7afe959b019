"""Footprints with fewer vertices, for work that does not need all of them."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hingeleaf.fill.pool import PoolItem

KEPT = 2048
"""Outlines remembered from one filling to the next."""


def outer(item: PoolItem, tolerance: float) -> PoolItem:
    """The item with a simpler footprint that covers its own.

    It reaches out by about `tolerance` times the size at most: what holds for it holds for the
    footprint itself.
    """
    footprint = shapely.transform(
        _outer(item.footprint, item.drawn_size, tolerance),
        lambda points: points * item.drawn_size,
    )
    return replace(item, footprint=footprint)


def outline_vertices(item: PoolItem, tolerance: float, *, covers: bool) -> NDArray[np.complex128]:
    """Vertices of a simpler footprint of size 1 as complex numbers, the first again at the end.

    It lies within `tolerance` of the footprint, or, if it `covers` that, not inside it anywhere.
    """
    shape = (_outer if covers else _near)(item.footprint, item.drawn_size, tolerance)
    points = shapely.get_coordinates(shape.exterior)
    vertices: NDArray[np.complex128] = points[:, 0] + 1j * points[:, 1]
    return vertices


@lru_cache(maxsize=KEPT)
def _near(footprint: Polygon, drawn_size: float, tolerance: float) -> Polygon:
    unit = shapely.transform(footprint, lambda points: points / drawn_size)
    return Polygon(shapely.simplify(unit, tolerance).exterior)


@lru_cache(maxsize=KEPT)
def _outer(footprint: Polygon, drawn_size: float, tolerance: float) -> Polygon:
    unit = shapely.transform(footprint, lambda points: points / drawn_size)
    wide = shapely.buffer(unit, tolerance, quad_segs=2, join_style="mitre")
    simple = shapely.simplify(wide, tolerance)
    return Polygon((simple if simple.covers(unit) else wide).exterior)
