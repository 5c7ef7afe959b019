"""Sample the clearance of a container on a grid; exact geometry checks places later."""

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

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
STEP = 1.2
"""Grid step, in units of the pool's scale."""
MAX_CELLS = 1600
"""Greatest number of grid points along the field's longer side."""
STROKE = 5.0
"""Distance over which the direction of a stroke is averaged, in units."""
TURNING = 8.0
"""Distance within which the direction across a border turns at a corner, in units."""


@dataclass(frozen=True, slots=True)
class Grids:
    """Grids of a container. `frame` is (x, y) of the first grid point and the step, mm."""

    frame: NDArray[np.float64]
    clearance: NDArray[np.float32]
    """Distance to the nearest obstacle minus the distance to be kept from it, mm."""
    facing: NDArray[np.float32]
    """The turn that counts as upright, radians; a single cell if it is the same everywhere."""


def lay_grid(
    container: Container, unit: float, feet: Feet | None = None, *, along: bool = False
) -> Grids:
    """The grids of a container for a pool whose scale is `unit` mm.

    The facing is across a border with `feet`, along strokes with `along`, or else upright
    everywhere.
    """
    left, top, right, bottom = container.open.bounds
    step = max(unit * STEP, max(right - left, bottom - top) / MAX_CELLS)
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
    return signed_distance(lines_of(shape), frame, *size)


def _across(
    area: MultiPolygon, frame: NDArray[np.float64], size: tuple[int, int], blur: float
) -> NDArray[np.float32]:
    """The turn that points a motif's feet at the nearest outer edge, over the grid."""
    outer = shapely.union_all([Polygon(part.exterior) for part in area.geoms])
    inwards_y, inwards_x = np.gradient(_distance(outer, frame, size))
    inwards = scipy.ndimage.gaussian_filter(inwards_x + 1j * inwards_y, blur)
    turn: NDArray[np.float32] = np.arctan2(inwards.real, -inwards.imag).astype(np.float32)
    return turn


def _along(
    area: MultiPolygon, frame: NDArray[np.float64], size: tuple[int, int], blur: float
) -> NDArray[np.float32]:
    """The direction of the stroke over the grid: the mean direction of the edges around.

    A stroke has no sense of direction, so directions are averaged by their doubled angles.
    """
    down, right = np.gradient(_distance(area, frame, size))
    across = right + 1j * down
    twice = across**2
    mean = scipy.ndimage.gaussian_filter(twice, blur)
    turn: NDArray[np.float32] = ((np.angle(mean) + np.pi) / 2).astype(np.float32)
    return turn
