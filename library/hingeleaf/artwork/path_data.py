"""Parse the `d` attribute (SVG 2, section 9.3) up to its first error, as the standard requires.

Own code, because existing readers fail on what editors write: `007`, `1.e2`, line ends between an
arc's flags, an error half-way; and they need ten times the memory on long paths.
"""

from __future__ import annotations

import re
from array import array
from collections.abc import Callable, Iterator

import numpy as np

from hingeleaf.artwork.lengths import FARTHEST, NUMBER, BadNumberError, checked
from hingeleaf.artwork.paths import Path, PathBuilder
from hingeleaf.model import Points

_COMMAND = re.compile(r"([MmZzLlHhVvCcSsQqTtAa])([^MmZzLlHhVvCcSsQqTtAa]*+)")
_NUMBERS = re.compile(NUMBER)
_LIST = re.compile(rf"[\s,]*+(?:{NUMBER}[\s,]*+)*")
_SEPARATOR = re.compile(r"[\s,]")
_PORTION = 1 << 16
"""Characters read at a time, so that long paths need little memory."""
_MANY = 32
"""Number of repeats of one command from which numbers are read as an array."""
_SPACE = r"[\s,]*+"
_ARC = re.compile(
    _SPACE + _SPACE.join([f"({NUMBER})"] * 3 + ["([01])"] * 2 + [f"({NUMBER})"] * 2) + _SPACE
)
_ARITY = {"M": 2, "L": 2, "H": 1, "V": 1, "C": 6, "S": 4, "Q": 4, "T": 2}


class MistakeError(ValueError):
    """The path data is invalid here; the part before it counts."""


def parse_path_data(text: str) -> tuple[Path, bool]:
    """The path, and whether all of the text could be read.

    Raises BadNumberError if a coordinate is out of range.
    """
    reader = _Reader()
    try:
        reader.read(text)
    except MistakeError:
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
            raise MistakeError(text[position : position + 20])

    def _command(self, letter: str, arguments: str) -> None:
        name, relative = letter.upper(), letter.islower()
        if not self.started and name != "M":
            raise MistakeError(letter)
        self.started = True
        if name == "Z":
            self._close()
            if arguments.strip():
                raise MistakeError(arguments)
        elif name == "A":
            self._arcs(arguments, relative)
        else:
            self._strokes(name, arguments, relative)

    def _close(self) -> None:
        self.pen.close()
        self.previous = "Z"

    def _strokes(self, name: str, arguments: str, relative: bool) -> None:
        numbers, whole = _numbers(arguments)
        arity = _ARITY[name]
        count = len(numbers) // arity
        right = whole and len(numbers) > 0 and len(numbers) % arity == 0
        if name == "M" and count:
            self.move(list(numbers[:2]), relative)
            self.previous, name = "M", "L"
            numbers, count = numbers[2:], count - 1
        if name in "LC" and count > _MANY:
            self._many(name, np.array(numbers[: count * arity]), relative)
        else:
            for i in range(0, count * arity, arity):
                _DRAW[name](self, list(numbers[i : i + arity]), relative)
                self.previous = name
        if not right:
            raise MistakeError(arguments)

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
                raise MistakeError(arguments)
            rx, ry, turn, large, sweep, x, y = (checked(float(group)) for group in match.groups())
            x, y = self._point(x, y, relative)
            self.pen.arc(rx, ry, turn, bool(large), bool(sweep), x, y)
            self.previous = "A"
            position = match.end()

    def _point(self, x: float, y: float, relative: bool) -> tuple[float, float]:
        return (self.pen.x + x, self.pen.y + y) if relative else (x, y)

    def _points(self, numbers: list[float], relative: bool) -> Iterator[float]:
        x, y = (self.pen.x, self.pen.y) if relative else (0.0, 0.0)
        for i in range(0, len(numbers), 2):
            yield numbers[i] + x
            yield numbers[i + 1] + y

    def _reflected(self, kinds: str) -> tuple[float, float]:
        """The last control point mirrored in the current point; the latter if there is none."""
        if self.control is None or self.previous not in kinds:
            return self.pen.x, self.pen.y
        return 2 * self.pen.x - self.control[0], 2 * self.pen.y - self.control[1]

    def move(self, numbers: list[float], relative: bool) -> None:
        self.pen.move(*self._points(numbers, relative))

    def line(self, numbers: list[float], relative: bool) -> None:
        self.pen.line(*self._points(numbers, relative))

    def across(self, numbers: list[float], relative: bool) -> None:
        self.pen.line(numbers[0] + (self.pen.x if relative else 0.0), self.pen.y)

    def down(self, numbers: list[float], relative: bool) -> None:
        self.pen.line(self.pen.x, numbers[0] + (self.pen.y if relative else 0.0))

    def cubic(self, numbers: list[float], relative: bool) -> None:
        x1, y1, x2, y2, x, y = self._points(numbers, relative)
        self.pen.cubic(x1, y1, x2, y2, x, y)
        self.control = x2, y2

    def smooth_cubic(self, numbers: list[float], relative: bool) -> None:
        x2, y2, x, y = self._points(numbers, relative)
        self.pen.cubic(*self._reflected("CS"), x2, y2, x, y)
        self.control = x2, y2

    def quadratic(self, numbers: list[float], relative: bool) -> None:
        x1, y1, x, y = self._points(numbers, relative)
        self.pen.quadratic(x1, y1, x, y)
        self.control = x1, y1

    def smooth_quadratic(self, numbers: list[float], relative: bool) -> None:
        x, y = self._points(numbers, relative)
        self.control = self._reflected("QT")
        self.pen.quadratic(*self.control, x, y)


_DRAW: dict[str, Callable[[_Reader, list[float], bool], None]] = {
    "M": _Reader.move,
    "L": _Reader.line,
    "H": _Reader.across,
    "V": _Reader.down,
    "C": _Reader.cubic,
    "S": _Reader.smooth_cubic,
    "Q": _Reader.quadratic,
    "T": _Reader.smooth_quadratic,
}


def _numbers(text: str) -> tuple[array[float], bool]:
    """The numbers at the start of the text, and whether they are all of it."""
    whole = _LIST.match(text)
    good = whole[0] if whole else ""
    numbers = array("d")
    position = 0
    while position < len(good):
        gap = _SEPARATOR.search(good, position + _PORTION)
        end = gap.start() if gap else len(good)
        numbers.extend(map(float, _NUMBERS.findall(good, position, end)))
        position = end
    if numbers and (max(numbers) > FARTHEST or min(numbers) < -FARTHEST):
        raise BadNumberError(text[:20])
    return numbers, len(good) == len(text)
