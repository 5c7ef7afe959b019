"""Parse SVG and CSS lengths and coordinates into px of 1/96 inch (CSS Values 4)."""

import math
import re
from dataclasses import dataclass

from lxml import etree

NUMBER = r"[-+]?+(?:\d++\.?+\d*+|\.\d++)(?:[eE][-+]?+\d++)?"
"""Possessive, like all expressions applied to files, so that none ever backtracks."""
MM_PER_PX = 25.4 / 96
"""CSS Values and Units 3, 5.2: 96 px to the inch."""
MAX_COORDINATE = 1e9
"""Largest plausible coordinate; beyond it is a mistake or an attack (our own choice)."""

_LENGTH = re.compile(rf"\s*+({NUMBER})\s*+(%|[a-zA-Z]*+)\s*+$")
_DECIMAL_COMMA = re.compile(r"\s*+([-+]?+\d++),(\d++)\s*+([a-zA-Z]++)\s*+$")
"""Written by some editors in locales with a decimal comma; not valid by the grammar."""
_NUMBERS = re.compile(NUMBER)
_PX_PER_UNIT = {
    "": 1.0,
    "px": 1.0,
    "in": 96.0,
    "cm": 96 / 2.54,
    "mm": 96 / 25.4,
    "q": 96 / 101.6,
    "pt": 96 / 72,
    "pc": 16.0,
}
PHYSICAL_UNITS = ("mm", "cm", "in", "pt", "pc", "q")
_FONT_SIZES_PER_UNIT = {"em": 1.0, "rem": 1.0, "ex": 0.5, "ch": 0.5}


class BadNumberError(ValueError):
    """A number that is not finite, or too large to be part of a drawing."""


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle by its upper left corner and its size, such as the nearest viewport."""

    x: float
    y: float
    width: float
    height: float

    @property
    def diagonal(self) -> float:
        """The reference of lengths along neither axis (SVG 2, section 8.9)."""
        return math.hypot(self.width, self.height) / math.sqrt(2)


UNIT_BOX = Box(0.0, 0.0, 1.0, 1.0)


def checked(value: float) -> float:
    """The value itself; raises BadNumberError if it is out of range."""
    if not abs(value) <= MAX_COORDINATE:
        raise BadNumberError(value)
    return value


def parse_length(text: str | None, percent_of: float, font_size: float = 16.0) -> float | None:
    """A length in px, or None if there is none or it is invalid.

    Raises BadNumberError for values out of range.
    """
    if text and (comma := _DECIMAL_COMMA.match(text)):
        text = comma.expand(r"\1.\2\3")
    match = _LENGTH.match(text) if text else None
    if not match:
        return None
    value, unit = float(match[1]), match[2].lower()
    if unit == "%":
        return checked(value * percent_of / 100)
    if unit in _FONT_SIZES_PER_UNIT:
        return checked(value * font_size * _FONT_SIZES_PER_UNIT[unit])
    return checked(value * _PX_PER_UNIT[unit]) if unit in _PX_PER_UNIT else None


def parse_numbers(text: str | None) -> list[float]:
    """All numbers in a list separated by spaces or commas; raises BadNumberError."""
    numbers = list(map(float, _NUMBERS.findall(text or "")))
    for extreme in (min(numbers, default=0.0), max(numbers, default=0.0)):
        checked(extreme)
    return numbers


def parse_share(text: str | None, default: float = 1.0) -> float:
    """An opacity, as a number or a percentage, clamped to 0 to 1."""
    match = _LENGTH.match(text) if text else None
    if not match:
        return default
    value = float(match[1]) / (100 if match[2] == "%" else 1)
    return min(max(value, 0.0), 1.0)


class Measures:
    """Parses the lengths of one element, relative to its viewport and font size."""

    def __init__(self, element: etree._Element, viewport: Box, font_size: float) -> None:
        self.element = element
        self.viewport = viewport
        self.font_size = font_size

    def across(self, name: str) -> float | None:
        """The attribute as a length along x."""
        return parse_length(self.element.get(name), self.viewport.width, self.font_size)

    def down(self, name: str) -> float | None:
        """The attribute as a length along y."""
        return parse_length(self.element.get(name), self.viewport.height, self.font_size)

    def diagonally(self, name: str) -> float | None:
        """The attribute as a length along neither axis."""
        return parse_length(self.element.get(name), self.viewport.diagonal, self.font_size)
