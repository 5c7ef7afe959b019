"""Shrink proposed motifs until all distances hold exactly, by GEOS."""

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from hingeleaf.fill.container import Container, Shapes, close_pairs
from hingeleaf.fill.pool import PoolItem, outline_vertices, place_outlines

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
MAX_SWEEPS = 80
"""Rounds of shrinking before motifs that still break a rule are dropped."""
DROP_SHARE = 0.1
"""Share of the motifs that cannot shrink further that is dropped in one round."""


def shrink_to_valid(
    numbers: Floats, kinds: Ints, pool: Sequence[PoolItem], container: Container, tolerance: float
) -> tuple[Floats, Ints]:
    """Shrink motifs that are too near until distances are exact; drop those that get too small.

    Outlines are simplified outwards by `tolerance`, in sizes.
    """
    numbers, kinds = numbers.copy(), kinds.copy()
    smallest = np.array([item.sizes.smallest for item in pool])
    outlines = [outline_vertices(item, tolerance, covers=True) for item in pool]
    shapes = _shapes(numbers, kinds, outlines)
    suspect = np.ones(len(kinds), bool)
    for sweep in range(MAX_SWEEPS + 1):
        factor = _shrinking(shapes, suspect, numbers, container, sweep)
        if (factor == 1).all():
            break
        suspect = factor < 1
        sizes = np.hypot(numbers[:, 2], numbers[:, 3])
        stays = sizes * factor >= smallest[kinds]
        if sweep == MAX_SWEEPS:
            stays, factor = valid_subset(shapes, container), np.ones(len(kinds))
        elif not stays.all():
            # Only the worst go at once, since that may make enough room for the others.
            going = np.flatnonzero(~stays)
            worst = going[np.argsort(factor[going], kind="stable")]
            stays[worst[math.ceil(len(going) * DROP_SHARE) :]] = True
            factor = np.maximum(factor, smallest[kinds] / sizes)
        numbers[:, 2:4] *= factor[:, None]
        numbers, kinds, shapes, suspect = (
            numbers[stays],
            kinds[stays],
            shapes[stays],
            suspect[stays],
        )
        if suspect.any():
            shapes[suspect] = _shapes(numbers[suspect], kinds[suspect], outlines)
    return numbers, kinds


def _shapes(numbers: Floats, kinds: Ints, outlines: Sequence[NDArray[np.complex128]]) -> Shapes:
    vertices, owner = place_outlines(numbers, kinds, outlines)
    shapes: Shapes = shapely.polygons(shapely.linearrings(vertices, indices=owner))
    return shapes


def _shrinking(
    shapes: Shapes, suspect: NDArray[np.bool_], numbers: Floats, container: Container, sweep: int
) -> Floats:
    """The factor by which each motif must shrink for now; firmer from sweep to sweep.

    Only motifs that were too near in the previous sweep, and their neighbours, are checked again.
    """
    some = np.flatnonzero(suspect)
    radii = np.hypot(numbers[:, 2], numbers[:, 3]) / 2
    violation = np.minimum(container.violation(shapes[some]), radii[some])
    share = (1.1 + 0.15 * sweep) * violation / radii[some]
    factor = np.ones(len(numbers))
    factor[some] = np.where(violation > 0, 1 - np.minimum(0.2, share), 1.0)
    for first, second, overlap in close_pairs(shapes, container.gap, some):
        for index in (first, second):
            push = (0.6 + 0.1 * sweep) * overlap / radii[index]
            factor[index] = min(factor[index], 1 - min(0.2, push))
    return factor


def valid_subset(shapes: Shapes, container: Container) -> NDArray[np.bool_]:
    """Mask of the footprints that keep all distances; of two too near each other, the first."""
    holds = container.violation(shapes) <= 0
    for first, second, _ in close_pairs(shapes, container.gap):
        if holds[first]:
            holds[second] = False
    return holds
