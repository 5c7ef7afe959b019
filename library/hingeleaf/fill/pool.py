"""Kinds of motif to fill with, and simpler versions of their footprints."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hingeleaf.model import XY, Pose, SizeRange, place_all

CACHED_OUTLINES = 2048
"""Number of simplified outlines cached between fillings."""


@dataclass(frozen=True, slots=True)
class StiffParts:
    """Parts of a motif that bending must preserve, at size 1."""

    folds: tuple[tuple[XY, XY], ...] = ()
    """Lines that stay straight, from end to end."""
    rounds: tuple[tuple[float, float, float], ...] = ()
    """Circles that stay round: centre and radius."""


@dataclass(frozen=True, slots=True)
class PoolItem:
    """One kind of motif that a filling may use, reduced to what matters for placing it.

    `footprint` is drawn about the origin at `drawn_size` mm, as in `model.Motif`. `weight` is the
    requested share of placements relative to the other kinds; 0 means that it is never placed anew,
    only known for pinned placements.
    """

    name: str
    revision: int
    footprint: Polygon
    drawn_size: float
    sizes: SizeRange
    turn_limit: float = 180.0
    """Degrees it may be turned either way: 180 is free, 0 stays upright."""
    may_mirror: bool = True
    lifts: bool = False
    weight: float = 1.0
    least: int = 0
    """Least number of placements."""
    most: int | None = None
    """Greatest number of placements."""
    stiff: StiffParts | None = None
    """Parts that stay straight or round when it is bent; None means that it is never bent."""

    def unrounded(self, turn: float) -> float:
        """A turn without an excess over the limit due to rounding."""
        beyond = abs(turn) - self.turn_limit
        return math.copysign(self.turn_limit, turn) if 0 < beyond < 1e-9 else turn


def place_items(items: Sequence[PoolItem], poses: Sequence[Pose]) -> NDArray[np.object_]:
    """The footprints of items at the corresponding poses."""
    footprints = np.array([item.footprint for item in items], dtype=object)
    return place_all(footprints, np.array([item.drawn_size for item in items]), poses)


def outline_vertices(item: PoolItem, tolerance: float, *, covers: bool) -> NDArray[np.complex128]:
    """Vertices of a simpler footprint of size 1 as complex numbers, the first again at the end.

    It is within `tolerance` of the footprint or, with `covers`, nowhere inside it and hardly
    farther from it: distances kept by it are then kept by the footprint itself.
    """
    shape = (_outer if covers else _near)(item.footprint, item.drawn_size, tolerance)
    points = shapely.get_coordinates(shape.exterior)
    vertices: NDArray[np.complex128] = points[:, 0] + 1j * points[:, 1]
    return vertices


def place_outlines(
    poses: NDArray[np.float64], kinds: NDArray[np.int64], outlines: Sequence[NDArray[np.complex128]]
) -> tuple[NDArray[np.float64], NDArray[np.int64]]:
    """Vertices (n, 2) of the kinds' outlines at poses (x, y, ax, ay, mirror), and their owners."""
    chosen = [outlines[kind] for kind in kinds.tolist()]
    owner = np.repeat(np.arange(len(kinds)), list(map(len, chosen)))
    points = np.concatenate(chosen)
    points = np.where(poses[owner, 4] < 0, -points.conj(), points)
    places = (poses[:, 0] + 1j * poses[:, 1])[owner]
    places += (poses[:, 2] + 1j * poses[:, 3])[owner] * points
    return np.column_stack([places.real, places.imag]), owner


@lru_cache(maxsize=CACHED_OUTLINES)
def _near(footprint: Polygon, drawn_size: float, tolerance: float) -> Polygon:
    unit = shapely.transform(footprint, lambda points: points / drawn_size)
    return Polygon(shapely.simplify(unit, tolerance).exterior)


@lru_cache(maxsize=CACHED_OUTLINES)
def _outer(footprint: Polygon, drawn_size: float, tolerance: float) -> Polygon:
    unit = shapely.transform(footprint, lambda points: points / drawn_size)
    wide = shapely.buffer(unit, tolerance, quad_segs=2, join_style="mitre")
    simple = shapely.simplify(wide, tolerance)
    return Polygon((simple if simple.covers(unit) else wide).exterior)
