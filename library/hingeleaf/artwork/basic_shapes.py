"""The basic shapes of SVG 2, chapter 10, as paths."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from lxml import etree

from hingeleaf.artwork.lengths import Viewport, parse_length, parse_numbers
from hingeleaf.artwork.path_data import parse_path_data
from hingeleaf.artwork.paths import ARC_STEP, Path, PathBuilder, polygon_path
from hingeleaf.model import Points

EMPTY = PathBuilder().path()


def _unit_circle() -> Points:
    """A unit circle as cubics, (n, 3, 2), as exact as those of an arc."""
    pieces = round(2 * math.pi / ARC_STEP)
    turns = np.exp(1j * ARC_STEP * np.arange(pieces + 1))
    turns[-1] = turns[0]
    reach = 4j / 3 * math.tan(ARC_STEP / 4)
    start, end = turns[:-1], turns[1:]
    points = np.column_stack([start * (1 + reach), end * (1 - reach), end])
    return np.stack([points.real, points.imag], axis=2)


_UNIT_CIRCLE = _unit_circle()


class Measures:
    """Parses the lengths of one element, relative to its viewport and font size."""

    def __init__(self, element: etree._Element, viewport: Viewport, font_size: float) -> None:
        self.element = element
        self.viewport = viewport
        self.font_size = font_size

    def across(self, name: str) -> float | None:
        """The attribute as a length along x."""
        return parse_length(self.element.get(name), self.viewport.width, self.font_size)

    def down(self, name: str) -> float | None:
        """The attribute as a length along y."""
        return parse_length(self.element.get(name), self.viewport.height, self.font_size)

    def any_way(self, name: str) -> float | None:
        """The attribute as a length along neither axis."""
        return parse_length(self.element.get(name), self.viewport.diagonal, self.font_size)


def shape_path(tag: str, measures: Measures) -> tuple[Path, bool]:
    """The path of a shape element, and whether all of its data could be read.

    Raises BadNumberError if a coordinate is out of range.
    """
    if tag == "path":
        return parse_path_data(measures.element.get("d") or "")
    return _SHAPES[tag](measures), True


def is_shape(tag: str) -> bool:
    """Whether elements of this name are basic shapes."""
    return tag == "path" or tag in _SHAPES


def _rect(measures: Measures) -> Path:
    x, y = measures.across("x") or 0.0, measures.down("y") or 0.0
    width, height = measures.across("width") or 0.0, measures.down("height") or 0.0
    if width <= 0 or height <= 0:
        return EMPTY
    rx, ry = _radii(measures.across("rx"), measures.down("ry"))
    return rounded_rectangle(x, y, width, height, min(rx, width / 2), min(ry, height / 2))


def rounded_rectangle(
    x: float, y: float, width: float, height: float, rx: float, ry: float
) -> Path:
    """A rectangle whose corners are quarter ellipses."""
    right, bottom = x + width, y + height
    if not rx or not ry:
        return polygon_path([(x, y), (right, y), (right, bottom), (x, bottom)], True)
    pen = PathBuilder()
    pen.move(x + rx, y)
    pen.line(right - rx, y)
    pen.arc(rx, ry, 0, False, True, right, y + ry)
    pen.line(right, bottom - ry)
    pen.arc(rx, ry, 0, False, True, right - rx, bottom)
    pen.line(x + rx, bottom)
    pen.arc(rx, ry, 0, False, True, x, bottom - ry)
    pen.line(x, y + ry)
    pen.arc(rx, ry, 0, False, True, x + rx, y)
    pen.close()
    return pen.path()


def _radii(rx: float | None, ry: float | None) -> tuple[float, float]:
    """Both radii; a missing or invalid one takes the value of the other."""
    rx = None if rx is None or rx < 0 else rx
    ry = None if ry is None or ry < 0 else ry
    first = rx if rx is not None else ry
    second = ry if ry is not None else rx
    return first or 0.0, second or 0.0


def _circle(measures: Measures) -> Path:
    radius = measures.any_way("r") or 0.0
    return ellipse(measures.across("cx") or 0.0, measures.down("cy") or 0.0, radius, radius)


def _ellipse(measures: Measures) -> Path:
    rx, ry = _radii(measures.across("rx"), measures.down("ry"))
    return ellipse(measures.across("cx") or 0.0, measures.down("cy") or 0.0, rx, ry)


def ellipse(x: float, y: float, rx: float, ry: float) -> Path:
    """A closed ellipse centred on (x, y); empty if it has no extent."""
    if rx <= 0 or ry <= 0:
        return EMPTY
    pen = PathBuilder()
    add_ellipse(pen, x, y, rx, ry)
    return pen.path()


def add_ellipse(pen: PathBuilder, x: float, y: float, rx: float, ry: float) -> None:
    """Draw a closed ellipse centred on (x, y)."""
    pen.move(x + rx, y)
    pen.cubics(_UNIT_CIRCLE * (rx, ry) + (x, y))
    pen.close()


def _line(measures: Measures) -> Path:
    start = (measures.across("x1") or 0.0, measures.down("y1") or 0.0)
    end = (measures.across("x2") or 0.0, measures.down("y2") or 0.0)
    return polygon_path([start, end], False)


def _polyline(measures: Measures, closed: bool = False) -> Path:
    numbers = parse_numbers(measures.element.get("points"))
    points = list(zip(numbers[::2], numbers[1::2], strict=False))
    return polygon_path(points, closed) if len(points) > 1 else EMPTY


def _polygon(measures: Measures) -> Path:
    return _polyline(measures, closed=True)


_SHAPES: dict[str, Callable[[Measures], Path]] = {
    "rect": _rect,
    "circle": _circle,
    "ellipse": _ellipse,
    "line": _line,
    "polyline": _polyline,
    "polygon": _polygon,
}
