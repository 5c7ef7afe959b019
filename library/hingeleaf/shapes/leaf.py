"""Leaf: a blade with a rib and pairs of veins."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely import Polygon, affinity
from shapely.geometry.base import BaseGeometry

from hingeleaf.params import ANGLE, SHARE, parameter, validate
from hingeleaf.shapes.curves import (
    bent,
    joined,
    lobe,
    mirrored,
    moved,
    taper,
    turned,
    within,
    without,
)
from hingeleaf.shapes.uncut_shape import ShapeDrawing


@dataclass(frozen=True, slots=True)
class Leaf:
    """A leaf one unit long; its area is that of `curves.lobe`."""

    width: float = parameter(
        0.56, "How wide it is, of its length.", SHARE, low=0.1, high=1.2, step=0.02
    )
    foot: float = parameter(
        0.62, "How drawn out the foot is: 0.5 round, 1 pointed.", low=0.5, high=2, step=0.1
    )
    tip: float = parameter(
        1.1, "How drawn out the tip is: 0.5 round, 1 pointed.", low=0.5, high=2, step=0.1
    )
    veins: int = parameter(5, "How many pairs of veins.", low=0, high=16, step=1)
    slope: float = parameter(
        48.0, "How far veins lean from the rib.", ANGLE, low=15, high=80, step=5
    )
    reach: float = parameter(
        1.0,
        "How far veins reach to the edge; 100% ties them to it.",
        SHARE,
        low=0.3,
        high=1,
        step=0.05,
    )
    bend: float = parameter(0.0, "How far its tip leans over.", ANGLE, low=-120, high=120, step=5)
    stalk: float = parameter(0.16, "How long its stalk is.", SHARE, low=0, high=0.6, step=0.02)

    def __post_init__(self) -> None:
        validate(self)

    def draw(self, web: float) -> ShapeDrawing:
        """Cut out it is the fields between the veins; where it stays, the veins are cut."""
        blade = joined([lobe(1.0, self.width, self.foot, self.tip)])
        rib = taper(1.02 if self.reach == 1 else 0.86, 1.4 * web, 0.8 * web)
        held = moved(taper(0.1, 1.4 * web, 1.4 * web), 0, 0.05)
        reached = affinity.scale(blade, self.reach, 1 - (1 - self.reach) / 4, origin=(0, 0))
        veins = list(self._veins(taper(0.9, 1.1 * web, 0.7 * web)))
        if self.reach < 1:
            veins = [within(vein, reached) for vein in veins]
        slender = lobe(0.5, 1.2 * web, 0.7, 1.0)
        inner = affinity.scale(blade, 0.72, 0.8, origin=(0, -0.45))
        details = [within(vein, inner) for vein in self._veins(moved(slender, 0, -1.5 * web))]
        return ShapeDrawing(
            joined(self._curved(part) for part in blade.geoms),
            joined([self._curved(without(blade, rib, held, *veins))]),
            joined([self._curved(joined(details))]),
            joined([self._curved(self._stalk(web))]),
        )

    def _veins(self, vein: BaseGeometry) -> Iterator[BaseGeometry]:
        """The vein at every place along the rib, on both sides."""
        for place in np.linspace(0.1, 0.76, self.veins):
            right = moved(turned(bent(vein, 0.9, -self.slope / 2), self.slope), 0, -place)
            yield from (right, mirrored(right))

    def _stalk(self, web: float) -> BaseGeometry:
        stalk = lobe(self.stalk, 0.05, 0.5, 0.5) if self.stalk else Polygon()
        return moved(stalk, 0, self.stalk + 1.5 * web)

    def _curved(self, part: BaseGeometry) -> BaseGeometry:
        return bent(part, 1.0, self.bend)
