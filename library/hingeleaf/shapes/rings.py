"""Rings: concentric arcs, each ring's spokes offset from those of the next outer ring."""

from __future__ import annotations

from dataclasses import dataclass

from hingeleaf.errors import UsageError
from hingeleaf.model import NO_WINDOWS
from hingeleaf.params import ANGLE, SHARE, parameter, validate
from hingeleaf.shapes.curves import around, disc, joined, taper, without
from hingeleaf.shapes.uncut_shape import ShapeDrawing


@dataclass(frozen=True, slots=True)
class Rings:
    """Rings of even width, held by spokes as wide as the paper between the rings."""

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

    def __post_init__(self) -> None:
        validate(self)

    def radii(self, web: float) -> list[tuple[float, float]]:
        """The outer and inner radius of every ring, from the outside in.

        The first is 1, the last leaves `web` about the hole. Raises UsageError where the webs leave
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
        """Rings less their spokes."""
        step = 180 / self.spokes if self.twist is None else self.twist
        rings = []
        for number, (outer, inner) in enumerate(self.radii(web)):
            ring = without(disc(outer), disc(inner)) if inner > 0 else disc(outer)
            rings.append(without(ring, around(taper(2, web, web), self.spokes, number * step)))
        hole = joined([disc(self.hole)]) if self.hole else NO_WINDOWS
        panes = joined([*rings, hole])
        return ShapeDrawing(joined([disc(1.0)]), panes, joined([*rings[1:], hole]))
