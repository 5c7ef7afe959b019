"""A panel as it fills: the field's edge, every placed motif, and the places to look at."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

import shapely
from shapely import GeometryCollection

from hingeleaf_tui.drawing.canvas import Canvas, Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.view import XY, View, bounds_of

if TYPE_CHECKING:
    from shapely import MultiPolygon

    from hingeleaf.model import Field, Motif, Placement


class PanelPainter:
    """Draws one field with changing placements; shapes are thinned once, to what dots can show."""

    def __init__(self, field: Field, motifs: Mapping[str, Motif]) -> None:
        self.field, self.motifs = field, motifs
        self._thin: dict[str, MultiPolygon] = {}
        self._edge = bounds_of((field.area, field.outline))

    def view(self, columns: int, rows: int, ink: Ink) -> View:
        """The view of the whole field."""
        across, down = ink.dots
        return View.fit(self._edge, columns * across, rows * down)

    def paint(
        self,
        placements: Sequence[Placement],
        columns: int,
        rows: int,
        ink: Ink = Ink.BRAILLE,
        *,
        view: View | None = None,
        chosen: int | None = None,
        marks: Sequence[tuple[str, XY, bool]] = (),
    ) -> Picture:
        """The picture. `chosen` is the number of a placement that stands out.

        `marks` are labels with their places in mm, True for the one that stands out.
        """
        canvas = Canvas(columns, rows, view or self.view(columns, rows, ink), ink)
        pinned = [self._placed(each) for each in placements if each.pinned]
        canvas.area(
            GeometryCollection([self._placed(each) for each in placements if not each.pinned]),
            "window",
        )
        canvas.area(GeometryCollection(pinned), "pinned")
        canvas.line(self.field.area, "field")
        if chosen is not None and chosen < len(placements):
            canvas.area(self._placed(placements[chosen]), "chosen")
        for text, at, stands_out in marks:
            if stands_out:
                canvas.label(at, f" {text} ", "finding")
            else:
                canvas.label(at, text, "loose")
        return canvas.picture()

    def _placed(self, placement: Placement) -> MultiPolygon:
        motif = self.motifs[placement.motif]
        if motif.name not in self._thin:
            self._thin[motif.name] = shapely.simplify(motif.windows, motif.size / 200)
        return placement.pose.place(self._thin[motif.name], motif.size)
