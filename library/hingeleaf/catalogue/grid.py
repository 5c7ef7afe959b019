"""What is kept lies on a grid of 1/512 mm: a tenth of the flattening tolerance of 0.02 mm.

Drawings come as dense outlines with every bit of a double in use, most of it noise. On the grid
they take a sixth of the room, and whatever has been kept once is kept to the last bit from then on.
"""

from __future__ import annotations

from dataclasses import replace
from typing import Any, TypeVar

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import Bridge, Motif

STEPS_PER_MM = 512
BRIDGE_DECIMALS = 4
"""Bridges are kept to 0.0001 mm and 0.0001°."""

Shape = TypeVar("Shape", bound=BaseGeometry)


def settle(motif: Motif) -> Motif:
    """A motif as it is kept: settling it again changes nothing."""
    return replace(
        motif,
        windows=on_grid(motif.windows),
        slits=on_grid(motif.slits),
        footprint=on_grid(motif.footprint),
        bridges=tuple(map(_settle_bridge, motif.bridges)),
    )


def on_grid(shape: Shape) -> Shape:
    """The shape with its points on the grid; as it is where that would break it."""

    def nearest(points: Any) -> Any:
        return np.rint(points * STEPS_PER_MM) / STEPS_PER_MM + 0.0  # and never minus nought

    snapped: Shape = shapely.transform(shape, nearest)
    return snapped if shapely.is_valid(snapped) or not shapely.is_valid(shape) else shape


def _settle_bridge(bridge: Bridge) -> Bridge:
    def near(value: float) -> float:
        return round(float(value), BRIDGE_DECIMALS) + 0.0

    x, y = bridge.at
    return Bridge(
        (near(x), near(y)),
        near(bridge.direction),
        near(bridge.reach),
        near(bridge.width),
        bridge.pinned,
    )
