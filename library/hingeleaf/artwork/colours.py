"""CSS colours and paints: none, a colour, or a reference to a gradient or pattern."""

import math
import re
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import tinycss2.color4

_REFERENCE = re.compile(r"url\(\s*+[\"']?+#([^\"')]*+)[\"']?+\s*+\)\s*+(.*+)$", re.DOTALL)
_MAX_LENGTH = 200
"""Characters: longer text is not a colour."""


LUMINANCE = (0.2126, 0.7152, 0.0722)
"""Weights of red, green and blue (ITU-R BT.709)."""
TONES = 12
"""Number of steps from dark to light that are distinguished (our own choice)."""


WHITE = "#ffffff"
SHEET_TOLERANCE = 0.1
"""A colour this near to the sheet's in every channel counts as bare sheet (our own choice)."""
MAX_SHADE, _MAX_SPREAD = 0.12, 0.02
"""Shades on the sheet: at most this much darker in every channel, and this evenly (our own
choice)."""


@dataclass(frozen=True, slots=True)
class Colour:
    """An sRGB colour, each channel and the opacity from 0 to 1."""

    red: float
    green: float
    blue: float
    alpha: float = 1.0

    @property
    def hex(self) -> str:
        """`#rrggbb`."""
        channels = (self.red, self.green, self.blue)
        return "#" + "".join(f"{round(255 * min(max(c, 0), 1)):02x}" for c in channels)

    @property
    def luminance(self) -> float:
        """Luminance from 0 to 1 (ITU-R BT.709 weights, as SVG masks use)."""
        red, green, blue = LUMINANCE
        return red * self.red + green * self.green + blue * self.blue


BLACK = Colour(0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class Reference:
    """Paint that another element defines, and what to use if there is no such element."""

    target: str
    fallback: str


@lru_cache(maxsize=4096)
def parse_colour(text: str) -> Colour | str | None:
    """A colour, the word `currentcolor`, or None if it is neither."""
    if len(text) > _MAX_LENGTH:
        return None
    text = text.strip().partition("icc-color(")[0].partition("device-")[0].rstrip()
    try:
        parsed = tinycss2.color4.parse_color(text)
        if parsed is None or isinstance(parsed, str):
            return parsed
        red, green, blue = parsed.to("srgb").coordinates
        return Colour(float(red), float(green), float(blue), float(parsed.alpha))
    except (NotImplementedError, TypeError, ValueError):
        return None


@lru_cache(maxsize=4096)
def parse_paint(text: str) -> Colour | Reference | str | None:
    """A colour, a reference, `none`, `currentcolor`, `context-fill` …; None if invalid."""
    text = text.strip()
    reference = _REFERENCE.match(text)
    if reference:
        return Reference(reference[1].strip(), reference[2].strip())
    if text in ("none", "context-fill", "context-stroke"):
        return text
    return parse_colour(text)


def hex_colour(text: str) -> str | None:
    """A CSS colour as `#rrggbb`, or None."""
    colour = parse_colour(text)
    return colour.hex if isinstance(colour, Colour) else None


def brightness(colour: str) -> float:
    """Luminance of a CSS colour, from 0 to 1; 0 for an invalid one."""
    paint = parse_colour(colour or "black")
    return paint.luminance if isinstance(paint, Colour) else 0.0


def tone(colour: str) -> int:
    """Perceived lightness of a colour, in about even steps from 0 to TONES."""
    return round(math.sqrt(brightness(colour)) * TONES)


@lru_cache(maxsize=4096)
def is_sheet(colour: str, sheet: str) -> bool:
    """Whether paint of this colour looks like the bare sheet."""
    paint, paper = parse_colour(colour or "black"), parse_colour(sheet)
    if not isinstance(paint, Colour) or not isinstance(paper, Colour):
        return False
    darker = paper.red - paint.red, paper.green - paint.green, paper.blue - paint.blue
    return bool(looks_like_sheet(max(darker), min(darker)))


def looks_like_sheet(most: Any, least: Any) -> Any:
    """Whether colours look like the sheet, or like a faint shade on it; a mask for arrays.

    `most` and `least` are the greatest and least amounts by which a channel is darker than the
    sheet's, from 0 to 1.
    """
    is_near = (most <= SHEET_TOLERANCE) & (least >= -SHEET_TOLERANCE)
    return is_near | ((most <= MAX_SHADE) & (most - least <= _MAX_SPREAD))
