"""Wings: two pairs on a body, with spots and antennae."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import NO_WINDOWS
from hingeleaf.params import ANGLE, SHARE, parameter, validate
from hingeleaf.shapes.curves import (
    bent,
    disc,
    joined,
    lobe,
    mirrored,
    moved,
    taper,
    turned,
    without,
)
from hingeleaf.shapes.uncut_shape import ShapeDrawing


@dataclass(frozen=True, slots=True)
class Wings:
    """A butterfly or a moth, its upper wings one unit long."""

    upper: float = parameter(
        0.74, "How wide the upper wings are, of their length.", SHARE, low=0.2, high=1.2, step=0.02
    )
    rise: float = parameter(
        52.0, "How far the upper wings lean from upright.", ANGLE, low=15, high=85, step=5
    )
    lower: float = parameter(
        0.72, "How long the lower wings are beside the upper.", SHARE, low=0, high=1.2, step=0.02
    )
    fall: float = parameter(
        140.0, "How far the lower wings lean from upright.", ANGLE, low=95, high=170, step=5
    )
    tip: float = parameter(
        0.5, "How drawn out wing tips are: 0.5 round, 1 pointed.", low=0.5, high=1.5, step=0.1
    )
    flare: float = parameter(
        1.0, "How narrow wings begin: 0.5 full, 2 slender.", low=0.5, high=2, step=0.1
    )
    sweep: float = parameter(24.0, "How far wings curve forwards.", ANGLE, low=-60, high=60, step=5)
    spots: int = parameter(2, "How many spots each wing has.", low=0, high=4, step=1)
    veins: int = parameter(
        2, "How many veins divide a wing that is cut out.", low=0, high=6, step=1
    )
    feelers: float = parameter(0.42, "How long its feelers are.", SHARE, low=0, high=1, step=0.05)

    def __post_init__(self) -> None:
        validate(self)

    def draw(self, web: float) -> ShapeDrawing:
        """The right side with its mirror image; cut out, a body of paper stays between them."""
        wings = [*self._wings()]
        outline = joined([*map(_both, (wing.blade for wing in wings)), self._torso()])
        panes, front = [], NO_WINDOWS
        for wing in wings:
            panes.append(without(wing.blade, front, *wing.veins(self.veins, web)))
            front = joined([front, wing.blade.buffer(web)])
        spine = moved(taper(4, 2.2 * web, 2.2 * web), 0, 2)
        spots = joined(spot for wing in wings for spot in wing.spots(self.spots))
        feelers = (
            without(_both(self._feeler()), outline.buffer(web)) if self.feelers else NO_WINDOWS
        )
        return ShapeDrawing(outline, without(_both(joined(panes)), spine), _both(spots), feelers)

    def _wings(self) -> Iterator[_Wing]:
        yield _Wing(1.0, self.upper, self.flare, self.tip, self.rise, -self.sweep)
        if self.lower:
            wide = 1.1 * self.upper * self.lower
            yield _Wing(self.lower, wide, 0.8 * self.flare, self.tip, self.fall, self.sweep)

    def _torso(self) -> BaseGeometry:
        return moved(lobe(0.74, 0.14, 0.7, 0.5), 0, 0.46)

    def _feeler(self) -> BaseGeometry:
        horn = joined([taper(self.feelers, 0.035, 0.05), disc(0.045, (0, -self.feelers))])
        return moved(turned(bent(horn, self.feelers, 55), 8), 0.05, -0.22)


@dataclass(frozen=True, slots=True)
class _Wing:
    """A wing on the right: a lobe that leans out from the origin and curves by `sweep` degrees."""

    length: float
    width: float
    foot: float
    tip: float
    lean: float
    sweep: float

    @property
    def blade(self) -> BaseGeometry:
        return self._placed(lobe(self.length, self.width, self.foot, self.tip))

    def spots(self, count: int) -> Iterator[BaseGeometry]:
        """Drops along the middle of the wing, the outermost the largest."""
        place = 0.84
        for number in range(count):
            size = 0.2 * 0.72**number
            drop = lobe(size * self.length, 1.5 * size * self.width, 0.9, 0.5)
            yield self._placed(moved(drop, 0, (size - place) * self.length))
            place -= size + 0.1

    def veins(self, count: int, web: float) -> Iterator[BaseGeometry]:
        """Lines that fan out from the foot of the wing."""
        for angle in np.linspace(-1, 1, count + 2)[1:-1] * 26:
            yield self._placed(turned(taper(2 * self.length, web, web), angle))

    def _placed(self, part: BaseGeometry) -> BaseGeometry:
        return turned(bent(part, self.length, self.sweep), self.lean)


def _both(right: BaseGeometry) -> MultiPolygon:
    return joined([right, mirrored(right)])
