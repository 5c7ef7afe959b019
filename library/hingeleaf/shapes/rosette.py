"""Rosette: rings of petals, each ring offset from the next outer ring."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import NO_WINDOWS
from hingeleaf.params import ANGLE, SHARE, parameter, validate
from hingeleaf.shapes.curves import (
    around,
    bent,
    disc,
    joined,
    lobe,
    moved,
    reach,
    scaled,
    solid,
    spokes,
    taper,
    turned,
    without,
)
from hingeleaf.shapes.uncut_shape import ShapeDrawing

FOOT = 0.12
"""How far from the middle petals begin."""


@dataclass(frozen=True, slots=True)
class Rosette:
    """Petals about an eye, the inner rings in front."""

    petals: int = parameter(8, "How many petals a ring has.", low=3, high=36, step=1)
    layers: int = parameter(2, "How many rings of petals.", low=1, high=5, step=1)
    inner: float = parameter(
        0.66, "Each ring's size beside the one around it.", SHARE, low=0.3, high=0.9, step=0.05
    )
    twist: float | None = parameter(
        None,
        "How far each ring is turned against the one around it.",
        ANGLE,
        low=-180,
        high=180,
        none="half a petal",
        step=5,
    )
    width: float = parameter(
        1.0, "How wide a petal is, of the room it has.", SHARE, low=0.2, high=1.6, step=0.05
    )
    foot: float = parameter(
        1.0, "How drawn out its foot is: 0.5 round, 1 pointed.", low=0.5, high=2, step=0.1
    )
    tip: float = parameter(
        0.5, "How drawn out its tip is: 0.5 round, 1 pointed.", low=0.5, high=2, step=0.1
    )
    notch: float = parameter(
        0.0, "How deep the tip of a petal is notched.", SHARE, low=0, high=0.4, step=0.02
    )
    bend: float = parameter(0.0, "How far petals lean round.", ANGLE, low=-90, high=90, step=5)
    eye: float = parameter(
        0.1, "Radius of the hole in the middle.", SHARE, low=0, high=0.5, step=0.02
    )

    def __post_init__(self) -> None:
        validate(self)

    def draw(self, web: float) -> ShapeDrawing:
        """Cut out, each petal is a window; where it stays, the inner rings are."""
        eye = joined([disc(self.eye)]) if self.eye else NO_WINDOWS
        outline = solid(joined([self._ring(), disc(FOOT + web)]))
        half = 180 / self.petals
        valley = reach(outline, half)
        vein = self._placed(moved(lobe(0.3, 0.2 * self._wide, 1.0, 0.6), 0, -0.52))
        inside = min(self.inner, 0.7 * valley * np.cos(np.radians(half)))
        pupil = scaled(eye, 1 / inside)
        rings = self._rings_behind_each_other(1, pupil, web / inside)
        return ShapeDrawing(
            outline,
            joined([eye, *self._rings_behind_each_other(0, eye, web)]),
            joined([eye, *(scaled(ring, inside) for ring in rings), around(vein, self.petals)]),
            joins=spokes(self.petals, 0.8 * valley, 1.2 * valley, half),
        )

    def _rings_behind_each_other(
        self, first: int, eye: MultiPolygon, web: float
    ) -> Iterator[BaseGeometry]:
        """The petals of every ring from `first` on, without what those in front of them hide."""
        apart, front = taper(1.2, web, web), eye
        for layer in reversed(range(first, self.layers)):
            turn = layer * (180 / self.petals if self.twist is None else self.twist)
            ring = turned(scaled(self._ring(), self.inner ** (layer - first)), turn)
            webs = around(apart, self.petals, turn + 180 / self.petals)
            yield without(ring, webs, front.buffer(web))
            front = joined([front, ring])

    @property
    def _wide(self) -> float:
        """The width of a petal of the outermost ring."""
        widest = FOOT + (1 - FOOT) * self.foot / (self.foot + self.tip)
        return self.width * 2 * widest * float(np.tan(np.pi / self.petals))

    def _ring(self) -> MultiPolygon:
        petal: BaseGeometry = lobe(1 - FOOT, self._wide, self.foot, self.tip)
        if self.notch:
            bite = lobe(2 * self.notch, 0.8 * self.notch, 1.0, 1.0)
            petal = without(petal, moved(bite, 0, self.notch + FOOT - 1))
        return around(self._placed(petal), self.petals)

    def _placed(self, part: BaseGeometry) -> BaseGeometry:
        """A part of an upright petal where the petal is."""
        return moved(bent(part, 1 - FOOT, self.bend), 0, -FOOT)
