"""Approximate gradients by pieces of uniform colour.

Shadows and highlights fade out. So a gradient is divided where it passes from faint to solid and
from white to colour, which is at a line across a linear gradient and at a circle around a radial
one (SVG 2, section 14.2), and each piece becomes one colour.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from lxml import etree

from hingeleaf.artwork.colours import BLACK, Colour, looks_like_sheet, parse_colour
from hingeleaf.artwork.document import Document, tag_of
from hingeleaf.artwork.lengths import UNIT_BOX, Box, parse_length, parse_share
from hingeleaf.artwork.matrices import IDENTITY, Matrix, parse_transform
from hingeleaf.artwork.path_data import add_ellipse
from hingeleaf.artwork.paths import Path, PathBuilder
from hingeleaf.artwork.styles import computed
from hingeleaf.model import Points

MIN_OPACITY = 0.5
"""Least opacity of paint that counts (our own choice)."""
_STEPS = 256
"""Greatest number of pieces of a gradient: one for each value of a colour channel."""
_LAST_EXTENT = 1e3
"""Extent of the last stop, in lengths of the gradient (our own choice)."""

MAX_PERIODS = 60
"""Gradients that repeat more often become one colour (our own choice)."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A colour at a share of the gradient's length."""

    offset: float
    colour: Colour


@dataclass(frozen=True, slots=True)
class ColourBand:
    """A stretch of a gradient, in shares of its length, with its mean colour."""

    start: float
    end: float
    colour: Colour


@dataclass(frozen=True, slots=True)
class Gradient:
    """A gradient in its own coordinate system."""

    stops: tuple[Stop, ...]
    points: tuple[float, ...]
    """x1 y1 x2 y2 of a linear, cx cy r fx fy of a radial gradient."""
    matrix: Matrix
    in_box: bool
    spread: str
    """How it continues beyond its ends: `pad`, `repeat` or `reflect`."""
    opacity: float = 1.0
    """Multiplies the opacities of all stops."""

    @property
    def is_radial(self) -> bool:
        """Whether it is a radial gradient."""
        return len(self.points) == 5

    @property
    def repeats(self) -> bool:
        """Whether it repeats beyond its ends."""
        return self.spread in ("repeat", "reflect")

    def pieces(self) -> list[ColourBand]:
        """The gradient as intervals of one kind each: faint, sheet-white, or coloured.

        The first and last interval are infinite unless it repeats.
        """
        shares = np.linspace(0.0, 1.0, _STEPS + 1)
        samples = np.column_stack(
            [np.interp(shares, [s.offset for s in self.stops], values) for values in self._table()]
        )
        samples[:, 3] *= self.opacity
        darker = 1 - samples[:, :3]
        is_bare = looks_like_sheet(darker.max(axis=1), darker.min(axis=1))
        kinds = np.where(samples[:, 3] < MIN_OPACITY, 0, np.where(is_bare, 1, 2))
        changes = np.flatnonzero(np.diff(kinds)) + 1
        ends = (0.0, 1.0) if self.repeats else (-np.inf, np.inf)
        edges = [ends[0], *((shares[changes] + shares[changes - 1]) / 2), ends[1]]
        return [
            ColourBand(start, end, Colour(*map(float, run.mean(axis=0))))
            for start, end, run in zip(edges, edges[1:], np.split(samples, changes), strict=False)
        ]

    def _table(self) -> list[list[float]]:
        """Red, green, blue and alpha of the stops."""
        colours = [stop.colour for stop in self.stops]
        return [[getattr(c, name) for c in colours] for name in ("red", "green", "blue", "alpha")]

    def periods(self, corners: Points) -> range:
        """The repetitions that cover a box with corners (4, 2), in the gradient's coordinates."""
        if not self.repeats:
            return range(1)
        if self.is_radial:
            far = np.hypot(*(corners - self.points[:2]).T).max()
            return range(math.ceil(min(far / max(self.points[2], 1e-9), 2 * MAX_PERIODS)) + 1)
        x1, y1, x2, y2 = self.points
        along = np.array([x2 - x1, y2 - y1])
        shares = (corners - (x1, y1)) @ along / max(float(along @ along), 1e-18)
        low, high = np.clip([shares.min(), shares.max()], -MAX_PERIODS, MAX_PERIODS)
        return range(math.floor(low), math.ceil(high) + 1)

    def region(self, piece: ColourBand, periods: range) -> Path:
        """The area of a piece in the gradient's coordinate system, by the even-odd rule."""
        pen = PathBuilder()
        draw = self._rings if self.is_radial else self._strip
        for period in periods:
            start, end = piece.start, piece.end
            if self.spread == "reflect" and period % 2:
                start, end = 1 - end, 1 - start
            draw(pen, period + start, period + end)
        return pen.path()

    def _strip(self, pen: PathBuilder, start: float, end: float) -> None:
        x1, y1, x2, y2 = self.points
        a, b = np.array([x1, y1]), np.array([x2, y2])
        along = b - a
        across = np.array([-along[1], along[0]]) * _LAST_EXTENT
        first, last = a + along * max(start, -_LAST_EXTENT), a + along * min(end, _LAST_EXTENT)
        _polygon(pen, np.array([first - across, last - across, last + across, first + across]))

    def _rings(self, pen: PathBuilder, start: float, end: float) -> None:
        cx, cy, radius, fx, fy = self.points
        for share in (start, min(end, _LAST_EXTENT)):
            if share > 0:
                near = min(share, 1.0)
                x, y = fx + (cx - fx) * near, fy + (cy - fy) * near
                add_ellipse(pen, x, y, radius * share, radius * share)


def _polygon(pen: PathBuilder, points: Points) -> None:
    pen.move(*points[0])
    for x, y in points[1:]:
        pen.line(float(x), float(y))
    pen.close()


def parse_gradient(element: etree._Element, document: Document, viewport: Box) -> Gradient | None:
    """The gradient defined by an element and those it refers to; None without stops."""
    chain = list(document.chain(element))
    stops = next((found for link in chain if (found := _stops(link, document))), ())
    if not stops:
        return None

    def attribute(name: str) -> str | None:
        return next((link.get(name) for link in chain if link.get(name) is not None), None)

    in_box = attribute("gradientUnits") != "userSpaceOnUse"
    space = UNIT_BOX if in_box else viewport

    def length(name: str, percent_of: float, default: str) -> float:
        value = parse_length(attribute(name) or default, percent_of)
        return value if value is not None else parse_length(default, percent_of) or 0.0

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
    spread = attribute("spreadMethod") or "pad"
    return Gradient(stops, points, matrix, in_box, spread)


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
