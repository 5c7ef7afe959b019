"""Heart: two half ellipses over two arcs that meet in a point."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import Points
from hingeleaf.params import SHARE, parameter, validate
from hingeleaf.shapes.curves import STEPS, inset, joined, lobe, moved, reach, taper, turned, without
from hingeleaf.shapes.uncut_shape import ShapeDrawing

CLOSED = 0.2
"""How far from its foot the fan is paper."""


@dataclass(frozen=True, slots=True)
class Heart:
    """A heart two units wide.

    Above its shoulders are half ellipses, below them the half width is 1 - (depth / height)^belly:
    an area of π/2 · cleft + 2 · height · belly / (belly + 1).
    """

    height: float = parameter(
        1.25,
        "From its shoulders to its point, of half its width.",
        SHARE,
        low=0.5,
        high=3,
        step=0.05,
    )
    cleft: float = parameter(
        0.46, "How deep the cleft is, of half its width.", SHARE, low=0.1, high=1.2, step=0.05
    )
    belly: float = parameter(1.8, "How full it is: 1.2 slender, 3 full.", low=1.2, high=4, step=0.1)
    drops: int = parameter(5, "How many drops fan out in it.", low=0, high=15, step=1)

    def __post_init__(self) -> None:
        validate(self)

    def draw(self, web: float) -> ShapeDrawing:
        """Cut out, lines between the drops divide it; where it stays, the drops are cut."""
        half = self._half()
        outline = joined([Polygon([*half, *(half * (-1, 1))[::-1]])])
        angles = np.linspace(-1, 1, self.drops) * min(25 * (self.drops - 1), 68)
        lines = (angles[1:] + angles[:-1]) / 2
        webs = [self._on_ray(taper(3, web, web), angle) for angle in lines]
        return ShapeDrawing(
            outline, without(outline, *webs), joined(self._fan(inset(outline, 0.16), angles))
        )

    def _fan(self, room: MultiPolygon, angles: Points) -> Iterator[BaseGeometry]:
        """Drops that end before the edge, the larger the more room they have."""
        for angle in angles:
            length = reach(room, angle, (0.0, self._foot)) - CLOSED
            if length > 0.2:
                wide = min(0.3, 0.42 * length + 0.04, 2.6 / (len(angles) + 4))
                drop = lobe(length, wide, 1.2, 0.5)
                yield self._on_ray(moved(drop, 0, -CLOSED), angle)

    @property
    def _foot(self) -> float:
        """How far below its shoulders the fan has its foot."""
        return 0.55 * self.height

    def _on_ray(self, part: BaseGeometry, degrees: float) -> BaseGeometry:
        return moved(turned(part, degrees), 0, self._foot)

    def _half(self) -> Points:
        """Its right side, (n, 2)."""
        turn, depth = np.linspace(np.pi, 0, STEPS), np.linspace(0, 1, STEPS)
        top = np.column_stack([0.5 + np.cos(turn) / 2, -self.cleft * np.sin(turn)])
        side = np.column_stack([1 - depth**self.belly, depth * self.height])
        return np.concatenate([top, side[1:]])
