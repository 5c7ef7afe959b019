"""Traced: a motif of the library as a shape, to be repeated, joined or given a body."""

from __future__ import annotations

from dataclasses import dataclass

from shapely import MultiLineString, MultiPolygon

from hingeleaf.model import NO_LINES
from hingeleaf.shapes.uncut_shape import ShapeDrawing


@dataclass(frozen=True, slots=True)
class Traced:
    """The windows and slits of a motif as they were when it was taken."""

    motif: str
    windows: MultiPolygon
    slits: MultiLineString = NO_LINES

    def draw(self, web: float) -> ShapeDrawing:
        """The motif as drawn, in mm."""
        return ShapeDrawing(self.windows, self.windows, lines=self.slits)
