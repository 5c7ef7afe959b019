"""A part as something to fold: where a straight hinge can run, and how much it lifts."""

from __future__ import annotations

import math

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hingeleaf.paper.ray_casting import Bools, Floats

AREA_SAMPLES = 120
"""Points that stand for the area of a part."""

MOST_GRID = 4_000

HINGE_TOL = 0.1
"""mm that a hinge may run outside the part: an edge is never quite straight."""


class FoldablePart:
    """A part of paper and the points that stand for its area."""

    def __init__(self, polygon: Polygon) -> None:
        self.polygon = polygon
        self.size = math.sqrt(polygon.area)
        self.samples = _area_samples(polygon)
        self._roomy = shapely.buffer(polygon, HINGE_TOL, quad_segs=2)
        shapely.prepare(self._roomy)

    def holds(self, starts: Floats, ends: Floats) -> Bools:
        """Whether the straight lines (n, 2) to (n, 2) run inside the part, across no window."""
        lines: NDArray[np.object_] = shapely.linestrings(np.stack([starts, ends], axis=1))
        inside: Bools = shapely.covers(self._roomy, lines)
        return inside

    def share(self, starts: Floats, ends: Floats) -> Floats:
        """(n,): the share of the part's area to the left of each line, by sight."""
        step = ends - starts
        over = self.samples[None] - starts[:, None]
        left = step[:, :1] * over[..., 1] - step[:, 1:] * over[..., 0] < 0
        share: Floats = left.mean(axis=1)
        return share


def _area_samples(polygon: Polygon) -> Floats:
    west, north, east, south = polygon.bounds
    pitch = math.sqrt(polygon.area / AREA_SAMPLES)
    pitch = max(pitch, math.sqrt((east - west) * (south - north) / MOST_GRID), 1e-9)
    x, y = np.meshgrid(
        np.arange(west + pitch / 2, east, pitch), np.arange(north + pitch / 2, south, pitch)
    )
    inside = shapely.contains_xy(polygon, x, y)
    if not inside.any():
        point: Floats = shapely.get_coordinates(polygon.representative_point())
        return point
    return np.stack([x[inside], y[inside]], axis=1)
