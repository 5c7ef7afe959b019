"""Snap geometry to a grid before it is stored, with a pitch that depends on the motif's size.

Drawings come as dense outlines, flattened for use at up to 250 mm, with every bit of a double in
use, most of it noise. On a grid of at most a fifth of that flattening they take an eighth of the
space, and once stored they stay exact to the last bit. Footprints, which are only for spacing, have
a grid of twice the step.
"""

import math
from dataclasses import replace
from typing import Any, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import Bridge, Motif

STEPS_ALONG = 15_000
"""Least number of grid steps along a motif: 0.017 mm each at a size of 250 mm (our own choice)."""
FINEST = 9
"""Largest grid exponent: 2⁹ steps per mm. Geometry on that grid is left as it is: it was drawn so,
or stored by an earlier version."""
BRIDGE_DECIMALS = 4
"""Bridges are stored to 0.0001 mm and 0.0001° (our own choice)."""

Shape = TypeVar("Shape", bound=BaseGeometry)


def quantize(motif: Motif) -> Motif:
    """A motif as stored; quantizing it again changes nothing."""
    exponent = fineness(motif.size)
    return replace(
        motif,
        windows=on_grid(motif.windows, exponent),
        slits=on_grid(motif.slits, exponent),
        footprint=on_grid(motif.footprint, exponent - 1),
        bridges=tuple(map(_quantize_bridge, motif.bridges)),
    )


def fineness(size: float) -> int:
    """The grid exponent n (2ⁿ steps per mm) for the cuts of a motif `size` mm long, from 1 to 9."""
    wanted = math.ceil(math.log2(STEPS_ALONG / size)) if size > 0 else FINEST
    return min(max(wanted, 1), FINEST)


def on_grid(shape: Shape, exponent: int) -> Shape:
    """The shape on the grid of 2ⁿ steps per mm; unchanged if it would be invalid there."""
    steps_per_mm = 2.0**exponent

    def nearest(points: Any) -> Any:
        if lies_on(points, FINEST):
            return points + 0.0  # never -0.0
        return np.rint(points * steps_per_mm) / steps_per_mm + 0.0

    snapped: Shape = shapely.transform(shape, nearest)
    return snapped if shapely.is_valid(snapped) or not shapely.is_valid(shape) else shape


def lies_on(points: NDArray[np.float64], exponent: int) -> bool:
    """Whether points (n, 2) are on the grid of 2ⁿ steps per mm."""
    steps = points * 2.0**exponent
    return bool(np.all(np.rint(steps) == steps))


def _quantize_bridge(bridge: Bridge) -> Bridge:
    def near(value: float) -> float:
        return round(float(value), BRIDGE_DECIMALS) + 0.0

    x, y = bridge.at
    return Bridge(
        (near(x), near(y)),
        near(bridge.direction),
        near(bridge.reach),
        near(bridge.width),
        bridge.pinned,
        bridge.folds,
    )
