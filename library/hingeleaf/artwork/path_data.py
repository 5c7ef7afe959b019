"""Paths of SVG elements: the d attribute (SVG 2, section 9.3) and the basic shapes (chapter 10).

Path data counts up to its first error, as the standard asks. Own code, because the readers at hand
stumble over what editors write: `007`, `1.e2`, line ends between an arc's flags, a mistake half
way; and they need ten times the memory on long paths.
"""

from __future__ import annotations

import math
import re
from array import array
from collections.abc import Callable

import numpy as np

from hingeleaf.artwork.lengths import (
    MAX_COORDINATE,
    NUMBER,
    BadNumberError,
    Measures,
    checked,
    parse_numbers,
)
from hingeleaf.artwork.paths import ARC_STEP, Path, PathBuilder, polygon_path
from hingeleaf.model import Points

_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*+)")
_NUMBERS = re.compile(NUMBER)
_LIST = re.compile(rf"[\s,]*+(?:{NUMBER}[\s,]*+)*")
_SEPARATOR = re.compile(r"[\s,]")
_CHUNK_SIZE = 1 << 16
"""Characters read at a time, so that long paths need little memory."""
_MIN_ARRAY_REPEATS = 32
"""Number of repeats of one command from which numbers are read as an array."""
_SPACE = r"[\s,]*+"
_ARC = re.compile(
    _SPACE + _SPACE.join([f"({NUMBER})"] * 3 + ["([01])"] * 2 + [f"({NUMBER})"] * 2) + _SPACE
)
_ARITY = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2}


class PathDataError(ValueError):
    """The path data is invalid here; the part before it counts."""


def parse_path_data(text: str) -> tuple[Path, bool]:
    """The path, and whether all of the text could be read.

    Raises BadNumberError if a coordinate is out of range.
    """
    reader = _Reader()
    try:
        reader.read(text)
    except PathDataError:
        return reader.pen.path(), False
    return reader.pen.path(), True


class _Reader:
    """Executes the commands, remembering the points to which the shorthand ones refer."""

    def __init__(self) -> None:
        self.pen = PathBuilder()
        self.control: tuple[float, float] | None = None
        self.previous = ""
        self.started = False

    def read(self, text: str) -> None:
        position = len(text) - len(text.lstrip())
        for match in _COMMAND.finditer(text):
            if match.start() != position:
                break
            self._command(match[1], match[2])
            position = match.end()
        if text[position:].strip():
            raise PathDataError(text[position : position + 20])

    def _command(self, letter: str, arguments: str) -> None:
        name, relative = letter.upper(), letter.islower()
        if not self.started and name != "M":
            raise PathDataError(letter)
        self.started = True
        if name == "Z":
            self.pen.close()
            self.previous = "Z"
            if arguments.strip():
                raise PathDataError(arguments)
        elif name == "A":
            self._arcs(arguments, relative)
        else:
            self._strokes(name, arguments, relative)

    def _strokes(self, name: str, arguments: str, relative: bool) -> None:
        numbers, whole = _numbers(arguments)
        arity = _ARITY[name]
        count = len(numbers) // arity
        right = whole and len(numbers) > 0 and len(numbers) % arity == 0
        if name == "M" and count:
            self._draw("M", list(numbers[:2]), relative)
            name, numbers, count = "L", numbers[2:], count - 1
        if name in "LC" and count > _MIN_ARRAY_REPEATS:
            self._many(name, np.array(numbers[: count * arity]), relative)
        else:
            for i in range(0, count * arity, arity):
                self._draw(name, list(numbers[i : i + arity]), relative)
        if not right:
            raise PathDataError(arguments)

    def _many(self, name: str, numbers: Points, relative: bool) -> None:
        """Add a long run of lines or cubics at once."""
        points = numbers.reshape(-1, 1 if name == "L" else 3, 2)
        if relative:
            here = np.array([[self.pen.x, self.pen.y]])
            ends = here + np.cumsum(points[:, -1], axis=0)
            starts = np.concatenate([here, ends[:-1]])
            points = points + starts[:, None]
        if name == "L":
            self.pen.lines(points[:, 0])
        else:
            self.pen.cubics(points)
            self.control = float(points[-1, 1, 0]), float(points[-1, 1, 1])
        self.previous = name

    def _arcs(self, arguments: str, relative: bool) -> None:
        position = 0
        while position < len(arguments) or not position:
            match = _ARC.match(arguments, position)
            if not match:
                raise PathDataError(arguments)
            rx, ry, turn, large, sweep, x, y = (checked(float(group)) for group in match.groups())
            x, y = self._point(x, y, relative)
            self.pen.arc(rx, ry, turn, bool(large), bool(sweep), x, y)
            self.previous = "A"
            position = match.end()

    def _point(self, x: float, y: float, relative: bool) -> tuple[float, float]:
        return (self.pen.x + x, self.pen.y + y) if relative else (x, y)

    def _draw(self, name: str, numbers: list[float], relative: bool) -> None:
        """Draw one straight line or curve."""
        x, y = self._point(0.0, 0.0, relative)
        if name == "H":
            numbers = [x + numbers[0], self.pen.y]
        elif name == "V":
            numbers = [self.pen.x, y + numbers[0]]
        else:
            numbers = [number + (y if place % 2 else x) for place, number in enumerate(numbers)]
        if name in "ST":
            numbers = [*self._reflected("CS" if name == "S" else "QT"), *numbers]
        _PEN[name](self.pen, *numbers)
        if name in "CSQT":
            self.control = numbers[-4], numbers[-3]
        self.previous = name

    def _reflected(self, kinds: str) -> tuple[float, float]:
        """The last control point mirrored in the current point; the latter if there is none."""
        if self.control is None or self.previous not in kinds:
            return self.pen.x, self.pen.y
        return 2 * self.pen.x - self.control[0], 2 * self.pen.y - self.control[1]


_PEN: dict[str, Callable[..., None]] = {
    "M": PathBuilder.move,
    **dict.fromkeys("LHV", PathBuilder.line),
    **dict.fromkeys("CS", PathBuilder.cubic),
    **dict.fromkeys("QT", PathBuilder.quadratic),
}


def _numbers(text: str) -> tuple[array[float], bool]:
    """The numbers at the start of the text, and whether they are all of it."""
    whole = _LIST.match(text)
    good = whole[0] if whole else ""
    numbers = array("d")
    position = 0
    while position < len(good):
        gap = _SEPARATOR.search(good, position + _CHUNK_SIZE)
        end = gap.start() if gap else len(good)
        numbers.extend(map(float, _NUMBERS.findall(good, position, end)))
        position = end
    if numbers and (max(numbers) > MAX_COORDINATE or min(numbers) < -MAX_COORDINATE):
        raise BadNumberError(text[:20])
    return numbers, len(good) == len(text)


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
    radius = measures.diagonally("r") or 0.0
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
