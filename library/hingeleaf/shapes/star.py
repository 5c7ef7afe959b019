"""Star: points, their depth and the curve of their edges."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon, Polygon

from hingeleaf.model import NO_WINDOWS
from hingeleaf.params import SHARE, parameter, validate
from hingeleaf.shapes.curves import (
    arc,
    around,
    at_angle,
    disc,
    joined,
    lobe,
    moved,
    spokes,
    taper,
    without,
)
from hingeleaf.shapes.uncut_shape import ShapeDrawing


@dataclass(frozen=True, slots=True)
class Star:
    """A star; with straight edges its area is points · (1 - depth) · sin(180° / points)."""

    points: int = parameter(6, "How many points it has.", low=3, high=36, step=1)
    depth: float = parameter(
        0.48,
        "How far the corners between the points reach in.",
        SHARE,
        low=0.05,
        high=0.85,
        step=0.02,
    )
    curve: float = parameter(
        0.0,
        "How far its edges bulge; below 0 they are hollow.",
        SHARE,
        low=-0.4,
        high=0.6,
        step=0.05,
    )
    eye: float = parameter(
        0.11, "Radius of the hole in the middle.", SHARE, low=0, high=0.5, step=0.02
    )
    rays: float = parameter(
        0.34, "Length of the slender window in each point.", SHARE, low=0, high=0.8, step=0.02
    )

    def __post_init__(self) -> None:
        validate(self)

    def draw(self, web: float) -> ShapeDrawing:
        """Cut out it becomes kites about the eye."""
        step, valley = 180 / self.points, 1 - self.depth
        corners = [at_angle(valley if k % 2 else 1.0, k * step) for k in range(2 * self.points)]
        edges = [
            arc(a, b, self.curve) for a, b in zip(corners, corners[1:] + corners[:1], strict=True)
        ]
        outline = joined([Polygon(np.concatenate(edges))])
        eye = joined([disc(self.eye)]) if self.eye else NO_WINDOWS
        webs = around(taper(1.0, web, web), self.points, step)
        panes = joined([without(outline, webs, eye.buffer(web)), eye])
        joins = spokes(self.points, 0.8 * valley, 1.2 * valley, step)
        return ShapeDrawing(outline, panes, joined([eye, self._rays(valley)]), joins=joins)

    def _rays(self, valley: float) -> MultiPolygon:
        if not self.rays:
            return NO_WINDOWS
        wide = min(0.13, 0.5 * valley * np.sin(np.pi / self.points))
        ray = lobe(self.rays, wide, 1.0, 1.0)
        return around(moved(ray, 0, -0.8 * valley), self.points)
