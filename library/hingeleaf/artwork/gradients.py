"""Gradients: one colour, and where they are solid enough to count.

Shadows and shines fade out. A gradient that fades is taken as solid where it is at least half
opaque, which is between two lines for a linear and between two circles for a radial gradient
(SVG 2, section 14.2); elsewhere it lets through what lies below.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from lxml import etree

from hingeleaf.artwork.colours import BLACK, Colour, parse_colour
from hingeleaf.artwork.document import Document, tag_of
from hingeleaf.artwork.lengths import Viewport, parse_length, parse_share
from hingeleaf.artwork.matrices import IDENTITY, Matrix, Points, parse_transform
from hingeleaf.artwork.paths import Path, PathBuilder, polygon_path
from hingeleaf.artwork.shapes import add_ellipse
from hingeleaf.artwork.styles import computed

SOLID = 0.5
"""Paint at least this opaque counts."""
_BEYOND = 1e3
"""As far as a last stop reaches, in lengths of the gradient."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A colour at a share of the gradient's way."""

    offset: float
    colour: Colour


@dataclass(frozen=True, slots=True)
class Gradient:
    """A gradient in its own coordinate system."""

    stops: tuple[Stop, ...]
    points: tuple[float, ...]
    """x1 y1 x2 y2 of a linear, cx cy r fx fy of a radial gradient."""
    matrix: Matrix
    in_box: bool
    repeats: bool

    @property
    def is_radial(self) -> bool:
        """Whether it runs from a point outwards."""
        return len(self.points) == 5

    def mean(self, opacity: float) -> Colour:
        """The mean colour of what counts as solid; its alpha is the mean of all, thinned."""
        alpha = sum(stop.colour.alpha for stop in self.stops) / len(self.stops) * opacity
        solid = [s.colour for s in self.stops if s.colour.alpha * opacity >= SOLID]
        if not solid:
            return replace(BLACK, alpha=alpha)
        red, green, blue = (
            sum(getattr(colour, channel) for colour in solid) / len(solid)
            for channel in ("red", "green", "blue")
        )
        return Colour(red, green, blue, alpha)

    def solid_stretches(self, opacity: float) -> list[tuple[float, float]]:
        """From where to where along the gradient's way it is solid; ends may be infinite."""
        offsets = np.array([stop.offset for stop in self.stops])
        alphas = np.array([stop.colour.alpha for stop in self.stops]) * opacity
        edges = [-np.inf]
        is_solid = alphas[0] >= SOLID
        starts_solid = bool(is_solid)
        for i in range(1, len(offsets)):
            if (alphas[i] >= SOLID) != is_solid:
                share = (SOLID - alphas[i - 1]) / (alphas[i] - alphas[i - 1])
                edges.append(offsets[i - 1] + share * (offsets[i] - offsets[i - 1]))
                is_solid = not is_solid
        edges.append(np.inf)
        first = 0 if starts_solid else 1
        return [(float(a), float(b)) for a, b in zip(edges[first::2], edges[first + 1 :: 2])]

    def solid_region(self, opacity: float) -> Path:
        """Where it is solid, in its own coordinate system, by the rule even-odd."""
        pen = PathBuilder()
        for start, end in self.solid_stretches(opacity):
            (self._rings if self.is_radial else self._strip)(pen, start, end)
        return pen.path()

    def _strip(self, pen: PathBuilder, start: float, end: float) -> None:
        x1, y1, x2, y2 = self.points
        a, b = np.array([x1, y1]), np.array([x2, y2])
        along = b - a
        across = np.array([-along[1], along[0]]) * _BEYOND
        first, last = a + along * max(start, -_BEYOND), a + along * min(end, _BEYOND)
        _polygon(pen, np.array([first - across, last - across, last + across, first + across]))

    def _rings(self, pen: PathBuilder, start: float, end: float) -> None:
        cx, cy, radius, fx, fy = self.points
        for share in (start, min(end, _BEYOND)):
            if share > 0:
                near = min(share, 1.0)
                x, y = fx + (cx - fx) * near, fy + (cy - fy) * near
                add_ellipse(pen, x, y, radius * share, radius * share)


def _polygon(pen: PathBuilder, points: Points) -> None:
    pen.move(*points[0])
    for x, y in points[1:]:
        pen.line(float(x), float(y))
    pen.close()


def parse_gradient(
    element: etree._Element, document: Document, viewport: Viewport
) -> Gradient | None:
    """The gradient that an element and those it refers to define; None without stops."""
    chain = list(document.chain(element))
    stops = next((found for link in chain if (found := _stops(link, document))), ())
    if not stops:
        return None

    def attribute(name: str) -> str | None:
        return next((link.get(name) for link in chain if link.get(name) is not None), None)

    in_box = attribute("gradientUnits") != "userSpaceOnUse"
    space = Viewport(1.0, 1.0) if in_box else viewport

    def length(name: str, percent_of: float, otherwise: str) -> float:
        value = parse_length(attribute(name) or otherwise, percent_of)
        return value if value is not None else parse_length(otherwise, percent_of) or 0.0

    if tag_of(element) == "radialGradient":
        cx, cy = length("cx", space.width, "50%"), length("cy", space.height, "50%")
        fx = length("fx", space.width, "") if attribute("fx") else cx
        fy = length("fy", space.height, "") if attribute("fy") else cy
        points: tuple[float, ...] = (cx, cy, length("r", space.diagonal, "50%"), fx, fy)
    else:
        points = (
            length("x1", space.width, "0%"),
            length("y1", space.height, "0%"),
            length("x2", space.width, "100%"),
            length("y2", space.height, "0%"),
        )
    matrix = parse_transform(attribute("gradientTransform") or "") or IDENTITY
    repeats = attribute("spreadMethod") in ("reflect", "repeat")
    return Gradient(stops, points, matrix, in_box, repeats)


def _stops(element: etree._Element, document: Document) -> tuple[Stop, ...]:
    stops: list[Stop] = []
    for child in element:
        if tag_of(child) == "stop":
            before = stops[-1].offset if stops else 0.0
            offset = max(before, parse_share(child.get("offset"), 0.0))
            stops.append(Stop(offset, _stop_colour(child, document)))
    return tuple(stops)


def _stop_colour(stop: etree._Element, document: Document) -> Colour:
    style = computed(stop, {}, document.sheet)
    value = parse_colour(style.get("stop-color", "black"))
    if value == "currentcolor":
        value = parse_colour(style.get("color", "black"))
    colour = value if isinstance(value, Colour) else BLACK
    return replace(colour, alpha=colour.alpha * parse_share(style.get("stop-opacity")))
