"""Parse and format lengths and ranges of sizes, entered in mm or inches and always mm in code."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from hingeleaf.errors import UsageError

MM_PER_INCH = 25.4
"""Exact since the international yard of 1959 (ISO 31-1, CSS Values 4)."""

A4 = (210.0, 297.0)
"""Sides of the sheet in mm (ISO 216)."""
MM_PER_UNIT = {
    "": 1.0,
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    '"': MM_PER_INCH,
    "pt": MM_PER_INCH / 72,
    "pc": MM_PER_INCH / 6,
    "px": MM_PER_INCH / 96,
}

_NUMBER = r"(\d++(?:[.,]\d++)?|[.,]\d++)"
_LENGTH = re.compile(rf"^\s*+{_NUMBER}\s*+(mm|cm|m|in|\"|pt|pc|px)?\s*+$", re.IGNORECASE)
_AREA = re.compile(
    rf"^\s*+{_NUMBER}\s*+(mm|cm|in|\")?\s*+[x×]\s*+{_NUMBER}\s*+(mm|cm|in|\")?\s*+$",
    re.IGNORECASE,
)


def parse_length(text: str, *, signed: bool = False) -> float:
    """Millimetres of a written length: `60`, `60mm`, `2.5in`, `7,5 cm`. No unit means mm.

    A minus sign is accepted only with `signed`. Raises UsageError if the text cannot be understood.
    """
    plain = text.strip()
    minus = signed and plain.startswith("-")
    match = _LENGTH.match(plain[1:] if minus else plain)
    if not match:
        raise UsageError(f"{text!r} is not a length.", "Write for example 60mm, 6cm or 2.5in.")
    return _mm(match[1], match[2]) * (-1 if minus else 1)


def parse_size(text: str) -> tuple[float, float]:
    """Width and height in mm of `8x10in`, `200x250`, `20cm x 10in`; a single unit applies to both
    sides.

    Raises UsageError if it cannot be understood.
    """
    match = _AREA.match(text)
    if not match:
        raise UsageError(f"{text!r} is not a size.", "Write for example 200x250mm or 8x10in.")
    last = match[4] or match[2]
    return _mm(match[1], match[2] or last), _mm(match[3], last)


def format_mm(value: float) -> str:
    """A length to display: `60 mm`, `7.5 mm`, `0.25 mm`."""
    if not math.isfinite(value):
        return "no limit"
    return f"{value:.2f}".rstrip("0").rstrip(".") + " mm"


def format_size(size: tuple[float, float]) -> str:
    """A width and a height to display: `210 mm × 297 mm`."""
    return " × ".join(map(format_mm, size))


def _mm(number: str, unit: str | None) -> float:
    return float(number.replace(",", ".")) * MM_PER_UNIT[(unit or "").lower()]


@dataclass(frozen=True, slots=True)
class SizeRange:
    """Smallest to largest size, both included."""

    smallest: float
    largest: float

    @classmethod
    def between(cls, smallest: float | None, largest: float | None) -> SizeRange:
        """A range between two sizes; None leaves that side open.

        Raises UsageError if the range is empty.
        """
        low, high = smallest or 0.0, math.inf if largest is None else largest
        if not 0 <= low <= high > 0:
            raise UsageError(
                f"From {format_mm(low)} to {format_mm(high)} leaves no size for a motif.",
                "The smallest size must not be above the largest.",
            )
        return cls(low, high)

    def __contains__(self, size: float) -> bool:
        return self.smallest <= size <= self.largest

    def intersect(self, other: SizeRange) -> SizeRange | None:
        """The intersection of two ranges; None if it is empty."""
        low, high = max(self.smallest, other.smallest), min(self.largest, other.largest)
        return SizeRange(low, high) if low <= high else None


ANY_SIZE = SizeRange(0.0, math.inf)
