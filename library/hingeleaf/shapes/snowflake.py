"""Snowflake: arms with pairs of branches about a small star."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely.geometry.base import BaseGeometry

from hingeleaf.params import ANGLE, SHARE, parameter, validate
from hingeleaf.shapes.curves import (
    around,
    joined,
    lobe,
    mirrored,
    moved,
    scaled,
    taper,
    turned,
    without,
)
from hingeleaf.shapes.star import Star
from hingeleaf.shapes.uncut_shape import ShapeDrawing


@dataclass(frozen=True, slots=True)
class Snowflake:
    """Arms one unit long, branched like ferns."""

    arms: int = parameter(6, "How many arms it has.", low=3, high=16, step=1)
    branches: int = parameter(3, "How many pairs of branches an arm has.", low=0, high=8, step=1)
    slope: float = parameter(
        60.0, "How far branches lean from the arm.", ANGLE, low=20, high=90, step=5
    )
    length: float = parameter(
        0.36, "How long the longest branch is, of an arm.", SHARE, low=0.1, high=0.7, step=0.02
    )
    longest: float = parameter(
        0.35, "Where on the arm the longest branch is.", SHARE, low=0, high=1, step=0.05
    )
    width: float = parameter(0.085, "How wide an arm is.", SHARE, low=0.03, high=0.3, step=0.005)
    centre: float = parameter(
        0.16, "How far the small star in the middle reaches.", SHARE, low=0, high=0.5, step=0.02
    )

    def __post_init__(self) -> None:
        validate(self)

    def draw(self, web: float) -> ShapeDrawing:
        """Arms that end before they meet those beside them."""
        gap = self.centre + web + self.width / 2 / np.sin(np.pi / self.arms)
        arm = joined([moved(lobe(1 - gap, self.width, 0.3, 0.5), 0, -gap), *self._branches(gap)])
        between = around(taper(2, web, web), self.arms, 180 / self.arms)
        whole = max(without(arm, between).geoms, key=lambda part: part.area)
        star = Star(self.arms, 0.5, eye=0, rays=0).draw(web).outline
        centre = scaled(star, self.centre) if self.centre else joined([])
        panes = joined([around(whole, self.arms), turned(centre, 180 / self.arms)])
        return ShapeDrawing(panes, panes)

    def _branches(self, gap: float) -> Iterator[BaseGeometry]:
        for place in np.linspace(0.2, 0.84, self.branches):
            away = (place - self.longest) / max(self.longest, 1 - self.longest)
            reach = self.length * (1 - 0.72 * away**2)
            right = turned(lobe(reach, 0.9 * self.width, 0.5, 0.6), self.slope)
            right = moved(right, 0, -(gap + place * (1 - gap)))
            yield from (right, mirrored(right))
