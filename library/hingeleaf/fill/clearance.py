"""Sample the clearance of a container on a grid; exact geometry checks places later."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.fill.container import Container
from hingeleaf.fill.distance import signed_distance
from hingeleaf.fill.options import Feet

# Values found by trial: tests/benchmarks/fit_filler.py shows what others do.
STEP = 1.2
"""Grid step, in units of the pool's scale."""
MOST_CELLS = 1600
"""Grid points along the field's longer side, at most."""
STROKE = 5.0
"""Over how many units the direction of a stroke is averaged."""
TURNING = 8.0
"""Within how many units the direction across a border turns at a corner."""


@dataclass(frozen=True, slots=True)
class Grids:
    """A container on a grid. `frame` is (x, y) of the first grid point and the step, mm."""

    frame: NDArray[np.float64]
    clearance: NDArray[np.float32]
    """The distance to whatever is in the way, less what must be kept from it, mm."""
    facing: NDArray[np.float32]
    """The turn that counts as upright, radians; a single cell where it is the same all over."""


def lay_grid(
    container: Container, unit: float, feet: Feet | None = None, *, along: bool = False
) -> Grids:
    """The grid of a container for a pool whose scale is `unit` mm.

    It faces across a border by `feet`, `along` its strokes, or upright everywhere.
    """
    left, top, right, bottom = container.open.bounds
    step = max(unit * STEP, max(right - left, bottom - top) / MOST_CELLS)
    frame = np.array([left - 2 * step, top - 2 * step, step])
    shape = int((bottom - top) / step) + 5, int((right - left) / step) + 5
    clearance = _distance(container.area, frame, shape) - np.float32(container.margin)
    if container.region is not None:
        clearance = np.minimum(clearance, _distance(container.region, frame, shape))
    if container.taken:
        taken = shapely.union_all(container.taken)
        clearance = np.minimum(
            clearance, -_distance(taken, frame, shape) - np.float32(container.gap)
        )
    facing = np.zeros((1, 1), np.float32)
    if feet is not None:
        facing = _across(container.area, frame, shape, TURNING * unit / step)
        if feet is Feet.INWARDS:
            facing += np.float32(np.pi)
    elif along:
        facing = _along(container.area, frame, shape, STROKE * unit / step)
    return Grids(frame, np.ascontiguousarray(clearance), facing)


def lines_of(shape: BaseGeometry) -> NDArray[np.float64]:
    """All rings of a polygon or multipolygon as lines (x1, y1, x2, y2)."""
    pieces = [np.empty((0, 4))]
    for ring in shapely.get_rings(shapely.get_parts(shape)):
        points = shapely.get_coordinates(ring)
        pieces.append(np.hstack([points[:-1], points[1:]]))
    return np.ascontiguousarray(np.vstack(pieces))


def _distance(
    shape: BaseGeometry, frame: NDArray[np.float64], size: tuple[int, int]
) -> NDArray[np.float32]:
    grid: NDArray[np.float32] = signed_distance(lines_of(shape), frame, *size)
    return grid


def _across(
    area: MultiPolygon, frame: NDArray[np.float64], size: tuple[int, int], blur: float
) -> NDArray[np.float32]:
    """The turn that points a motif's feet at the nearest outer edge, all over the grid."""
    outer = shapely.union_all([Polygon(part.exterior) for part in area.geoms])
    inwards_y, inwards_x = np.gradient(_distance(outer, frame, size))
    inwards = scipy.ndimage.gaussian_filter(inwards_x + 1j * inwards_y, blur)
    turn: NDArray[np.float32] = np.arctan2(inwards.real, -inwards.imag).astype(np.float32)
    return turn


def _along(
    area: MultiPolygon, frame: NDArray[np.float64], size: tuple[int, int], blur: float
) -> NDArray[np.float32]:
    """The direction of the stroke all over the grid: that of the edges around, on average.

    A stroke runs either way, so directions are averaged as twice their angle.
    """
    down, right = np.gradient(_distance(area, frame, size))
    across = right + 1j * down
    twice = across**2
    mean = scipy.ndimage.gaussian_filter(twice, blur)
    turn: NDArray[np.float32] = ((np.angle(mean) + np.pi) / 2).astype(np.float32)
    return turn
