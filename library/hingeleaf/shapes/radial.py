"""Shapes with equal parts around a centre: star, rosette, rings, snowflake."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.errors import UsageError
from hingeleaf.geometry.members import without_holes
from hingeleaf.model import NO_WINDOWS
from hingeleaf.params import ANGLE, SHARE, Validated, parameter
from hingeleaf.shapes.curves import (
    ShapeDrawing,
    arc,
    around,
    at_angle,
    bent,
    disc,
    joined,
    lobe,
    mirrored,
    moved,
    reach,
    scaled,
    spokes,
    taper,
    turned,
    without,
)


@dataclass(frozen=True, slots=True)
class Star(Validated):
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

    def draw(self, web: float) -> ShapeDrawing:
        """If cut out, the windows are kites around the eye."""
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


FOOT = 0.12
"""Distance from the centre at which petals begin (our own choice)."""


@dataclass(frozen=True, slots=True)
class Rosette(Validated):
    """Petals around an eye, the inner rings in front."""

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

    def draw(self, web: float) -> ShapeDrawing:
        """If cut out, each petal is a window; if it stays, only the inner rings are cut."""
        eye = joined([disc(self.eye)]) if self.eye else NO_WINDOWS
        outline = without_holes(joined([self._ring(), disc(FOOT + web)]))
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
        """The visible petals of every ring from `first` on, hidden parts removed."""
        apart, front = taper(1.2, web, web), eye
        for layer in reversed(range(first, self.layers)):
            turn = layer * (180 / self.petals if self.twist is None else self.twist)
            ring = turned(scaled(self._ring(), self.inner ** (layer - first)), turn)
            webs = around(apart, self.petals, turn + 180 / self.petals)
            yield without(ring, webs, front.buffer(web))
            front = joined([front, ring])

    @property
    def _wide(self) -> float:
        """The width of a petal in the outermost ring."""
        widest = FOOT + (1 - FOOT) * self.foot / (self.foot + self.tip)
        return self.width * 2 * widest * float(np.tan(np.pi / self.petals))

    def _ring(self) -> MultiPolygon:
        petal: BaseGeometry = lobe(1 - FOOT, self._wide, self.foot, self.tip)
        if self.notch:
            bite = lobe(2 * self.notch, 0.8 * self.notch, 1.0, 1.0)
            petal = without(petal, moved(bite, 0, self.notch + FOOT - 1))
        return around(self._placed(petal), self.petals)

    def _placed(self, part: BaseGeometry) -> BaseGeometry:
        """Part of an upright petal, bent and moved to the petal's position."""
        return moved(bent(part, 1 - FOOT, self.bend), 0, -FOOT)


@dataclass(frozen=True, slots=True)
class Rings(Validated):
    """Rings of equal width, held by spokes as wide as the paper between the rings."""

    rings: int = parameter(4, "How many rings.", low=1, high=12, step=1)
    spokes: int = parameter(6, "How many spokes hold each ring.", low=2, high=36, step=1)
    twist: float | None = parameter(
        None,
        "How far each ring is turned against the one outside it.",
        ANGLE,
        low=-180,
        high=180,
        none="half a step",
    )
    narrowing: float = parameter(
        0.86, "Each ring's width beside the one outside it.", SHARE, low=0.5, high=1.5, step=0.02
    )
    hole: float = parameter(
        0.12, "Radius of the hole in the middle.", SHARE, low=0, high=0.8, step=0.02
    )

    def radii(self, web: float) -> list[tuple[float, float]]:
        """The outer and inner radius of every ring, from the outside in.

        The first is 1; the last leaves `web` around the hole. Raises UsageError if the webs leave
        no room for rings.
        """
        if self.hole + web * self.rings >= 1:
            raise UsageError(
                f"{self.rings} rings and the paper between them do not fit.",
                "Make fewer of them, a smaller hole, narrower webs, or the whole larger.",
            )
        weights = [self.narrowing**k for k in range(self.rings)]
        innermost = self.hole + web if self.hole else 0.0
        room = 1 - innermost - web * (self.rings - 1)
        radii, outer = [], 1.0
        for weight in weights:
            inner = outer - room * weight / sum(weights)
            radii.append((outer, inner))
            outer = inner - web
        return radii

    def draw(self, web: float) -> ShapeDrawing:
        """Rings minus their spokes."""
        step = 180 / self.spokes if self.twist is None else self.twist
        rings = []
        for number, (outer, inner) in enumerate(self.radii(web)):
            ring = without(disc(outer), disc(inner)) if inner > 0 else disc(outer)
            rings.append(without(ring, around(taper(2, web, web), self.spokes, number * step)))
        hole = joined([disc(self.hole)]) if self.hole else NO_WINDOWS
        panes = joined([*rings, hole])
        return ShapeDrawing(joined([disc(1.0)]), panes, joined([*rings[1:], hole]))


@dataclass(frozen=True, slots=True)
class Snowflake(Validated):
    """Arms one unit long, with fern-like branches."""

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

    def draw(self, web: float) -> ShapeDrawing:
        """Arms whose branches end before they meet those of the next arm."""
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
