"""Elements of a shape before its layout: outline, panes, details and separate parts."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from shapely import MultiLineString, MultiPolygon

from hingeleaf.model import NO_LINES, NO_WINDOWS


@dataclass(frozen=True, slots=True)
class ShapeDrawing:
    """A shape about the origin, y down, in its own unit."""

    outline: MultiPolygon
    """The outline that a band or a slit follows."""
    panes: MultiPolygon
    """The windows if the shape is cut out."""
    details: MultiPolygon = NO_WINDOWS
    """The windows within the shape if it stays."""
    beside: MultiPolygon = NO_WINDOWS
    """Windows next to it in either case, such as antennae."""
    lines: MultiLineString = NO_LINES
    """Slits in either case."""
    joins: MultiLineString = NO_LINES
    """Lines across the outline, from inside to outside, at the best places for bridges if it stays.
    """

    def each(self, change: Callable[[Any], Any]) -> ShapeDrawing:
        """The drawing with a function applied to each geometry."""
        return ShapeDrawing(*(change(getattr(self, name)) for name in ShapeDrawing.__slots__))


@dataclass(frozen=True, slots=True)
class Traced:
    """The windows and slits of a motif, copied when the shape was made."""

    motif: str
    windows: MultiPolygon
    slits: MultiLineString = NO_LINES

    def draw(self, web: float) -> ShapeDrawing:
        """The motif as drawn, in mm."""
        return ShapeDrawing(self.windows, self.windows, lines=self.slits)
