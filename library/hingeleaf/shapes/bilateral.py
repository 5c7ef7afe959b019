"""Shapes with a left and a right side: leaf, heart, wings."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon, Polygon, affinity
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import NO_WINDOWS, Points
from hingeleaf.params import ANGLE, SHARE, Validated, parameter
from hingeleaf.shapes.curves import (
    STEPS,
    ShapeDrawing,
    bent,
    disc,
    inset,
    joined,
    lobe,
    mirrored,
    moved,
    reach,
    taper,
    turned,
    within,
    without,
)


@dataclass(frozen=True, slots=True)
class Leaf(Validated):
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

    def draw(self, web: float) -> ShapeDrawing:
        """If cut out, the fields between the veins are windows; if it stays, the veins are."""
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
        """The vein at each position along the rib, on both sides."""
        for place in np.linspace(0.1, 0.76, self.veins):
            right = moved(turned(bent(vein, 0.9, -self.slope / 2), self.slope), 0, -place)
            yield from (right, mirrored(right))

    def _stalk(self, web: float) -> BaseGeometry:
        stalk = lobe(self.stalk, 0.05, 0.5, 0.5) if self.stalk else Polygon()
        return moved(stalk, 0, self.stalk + 1.5 * web)

    def _curved(self, part: BaseGeometry) -> BaseGeometry:
        return bent(part, 1.0, self.bend)


CLOSED = 0.2
"""Distance from the fan's foot within which there is only paper (our own choice)."""


@dataclass(frozen=True, slots=True)
class Heart(Validated):
    """A heart two units wide.

    Half ellipses above the shoulders; below them the half width is 1 - (depth / height)^belly. Its
    area is π/2 · cleft + 2 · height · belly / (belly + 1).
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

    def draw(self, web: float) -> ShapeDrawing:
        """If cut out, webs between the drops divide it; if it stays, the drops are cut."""
        half = self._half()
        outline = joined([Polygon([*half, *(half * (-1, 1))[::-1]])])
        angles = np.linspace(-1, 1, self.drops) * min(25 * (self.drops - 1), 68)
        lines = (angles[1:] + angles[:-1]) / 2
        webs = [self._on_ray(taper(3, web, web), angle) for angle in lines]
        return ShapeDrawing(
            outline, without(outline, *webs), joined(self._fan(inset(outline, 0.16), angles))
        )

    def _fan(self, room: MultiPolygon, angles: Points) -> Iterator[BaseGeometry]:
        """Drops that end before the edge, larger where there is more room."""
        for angle in angles:
            length = reach(room, angle, (0.0, self._foot)) - CLOSED
            if length > 0.2:
                wide = min(0.3, 0.42 * length + 0.04, 2.6 / (len(angles) + 4))
                drop = lobe(length, wide, 1.2, 0.5)
                yield self._on_ray(moved(drop, 0, -CLOSED), angle)

    @property
    def _foot(self) -> float:
        """Depth of the fan's foot below the shoulders."""
        return 0.55 * self.height

    def _on_ray(self, part: BaseGeometry, degrees: float) -> BaseGeometry:
        return moved(turned(part, degrees), 0, self._foot)

    def _half(self) -> Points:
        """The outline of its right half, (n, 2)."""
        turn, depth = np.linspace(np.pi, 0, STEPS), np.linspace(0, 1, STEPS)
        top = np.column_stack([0.5 + np.cos(turn) / 2, -self.cleft * np.sin(turn)])
        side = np.column_stack([1 - depth**self.belly, depth * self.height])
        return np.concatenate([top, side[1:]])


@dataclass(frozen=True, slots=True)
class Wings(Validated):
    """A butterfly or moth, its upper wings one unit long."""

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

    def draw(self, web: float) -> ShapeDrawing:
        """The right side and its mirror image; if cut out, a body of paper stays between them."""
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

    def _wings(self) -> Iterator["_Wing"]:
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
    """A wing on the right: a lobe tilted at the origin and curved by `sweep` degrees."""

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
        """Drops along the middle of the wing, largest at the outer end."""
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
