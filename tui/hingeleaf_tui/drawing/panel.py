"""Draw a panel with its field, placements and marked findings."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from itertools import compress, pairwise
from typing import Protocol

from hingeleaf.geometry.silhouette import (
    Area,
    Stretch,
    combined,
    is_outlined,
    outer_form,
    segments,
    separated,
    simplified,
)
from hingeleaf.model import NO_WINDOWS, Field, Motif, Placement
from hingeleaf_tui.drawing.canvas import Canvas, Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.view import XY, View, bounds_of


class Tint(Protocol):
    """A colour overlay on a drawn panel, with a legend."""

    def paint(self, canvas: Canvas) -> None:
        """Paint the overlay on the canvas."""


Mark = tuple[str, XY, bool]
"""A label, its position in mm, and whether it is highlighted."""

FINE_DOT = 1.0
"""mm per dot up to which windows are drawn; above it only the motifs' outer forms."""
FORM_GAP = 1.4
"""Dots between two outer forms, so that they can be distinguished."""
MIN_SHARE = 0.5
"""Forms that would shrink to less than this share of their area are drawn whole."""

DETAILED_SIZE = 22.0
"""Size of a motif in dots from which its windows are drawn on a surface."""
CIRCLE_SIDES = 72
PINNED = " i "
"""Sign on a pinned motif where colours cannot show it; i is the key that pins."""
RIM_DOTS = 2.4
"""Dots of rim around the opening of a smaller motif, both sides together."""


def _circle(middle: XY, radius: float) -> list[Stretch]:
    """A circle as line segments."""
    turns = [math.tau * step / CIRCLE_SIDES for step in range(CIRCLE_SIDES + 1)]
    x, y = middle
    points = [(x + radius * math.cos(turn), y + radius * math.sin(turn)) for turn in turns]
    return list(pairwise(points))


class PanelPainter:
    """Draws one field with changing placements; shapes are simplified once, to dot resolution.

    `lettering` is cut out besides the motifs, in field coordinates.
    """

    def __init__(
        self, field: Field, motifs: Mapping[str, Motif], lettering: Area = NO_WINDOWS
    ) -> None:
        self.field, self.motifs, self.lettering = field, motifs, lettering
        self._edge = bounds_of((field.area, field.outline))
        self._thin: dict[str, Area] = {}
        self._forms: dict[str, Area] = {}

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
        marks: Sequence[Mark] = (),
        tint: Tint | None = None,
        circle: tuple[XY, float] | None = None,
    ) -> Picture:
        """The picture. `chosen` is the index of a highlighted placement."""
        canvas = Canvas(columns, rows, view or self.view(columns, rows, ink), ink)
        if ink.is_solid:
            self._draw_surface(canvas, placements)
        else:
            self._draw_figures(canvas, placements)
        if tint is not None:
            tint.paint(canvas)
        if chosen is not None and chosen < len(placements):
            self._draw(canvas, [placements[chosen]], "picked")
            pose = placements[chosen].pose
            canvas.label((pose.x, pose.y), " + ", "chosen")
        if circle is not None:
            canvas.line(segments(_circle(*circle)), "picked")
            canvas.label(circle[0], " + ", "chosen")
        for text, at, stands_out in sorted(marks, key=lambda mark: mark[2]):
            if stands_out:
                canvas.label(at, f" {text} ", "finding")
            else:
                canvas.label(at, text, "loose")
        return canvas.picture()

    def _draw_figures(self, canvas: Canvas, placements: Sequence[Placement]) -> None:
        """Motifs as filled figures on a blank background, pinned ones with a sign."""
        pinned = [each for each in placements if each.pinned]
        canvas.line(self.field.area, "field")
        canvas.area(self.lettering, "window")
        self._draw(canvas, [each for each in placements if not each.pinned], "window")
        self._draw(canvas, pinned, "pinned")
        for each in pinned:
            canvas.label((each.pose.x, each.pose.y), PINNED, "pinned")

    def _draw_surface(self, canvas: Canvas, placements: Sequence[Placement]) -> None:
        """The sheet as a surface, lighter in the field, with openings and raised paper."""
        canvas.everywhere("sheet")
        canvas.area(self.field.area, "paper")
        canvas.area(self.lettering, "behind")
        if not placements:
            return
        dot = canvas.view.dot
        for is_detailed in (False, True):
            some = [
                each
                for each in placements
                if (each.pose.size >= DETAILED_SIZE * dot) is is_detailed
            ]
            forms = [self._placed(each, self._form(each.motif)) for each in some]
            lifts = [self.motifs[each.motif].hold.lifts for each in some]
            pinned = [each.pinned for each in some]
            if is_detailed:
                openings = [self._placed(each, self._windows(each.motif)) for each in some]
                raised = forms
            else:
                openings = separated(forms, FORM_GAP * dot, MIN_SHARE)
                raised = separated(openings, RIM_DOTS * dot, 0.0)
            if is_detailed:
                canvas.area(combined(compress(forms, lifts)), "flap-face")
            canvas.area(combined(openings), "behind")
            canvas.area(combined(compress(openings, pinned)), "pinned")
            if not is_detailed:
                canvas.area(combined(compress(raised, lifts)), "flap-face")

    def _draw(self, canvas: Canvas, placements: Sequence[Placement], style: str) -> None:
        if not placements:
            return
        windows = [self._placed(each, self._windows(each.motif)) for each in placements]
        if canvas.view.dot <= FINE_DOT:
            canvas.area(combined(windows), style)
            return
        forms = [self._placed(each, self._form(each.motif)) for each in placements]
        canvas.area(combined(separated(forms, FORM_GAP * canvas.view.dot, MIN_SHARE)), style)
        canvas.clear(
            combined(
                [
                    window
                    for window, form in zip(windows, forms, strict=True)
                    if is_outlined(window, form)
                ]
            )
        )

    def _placed(self, placement: Placement, shape: Area) -> Area:
        return placement.pose.place(shape, self.motifs[placement.motif].size)

    def _windows(self, name: str) -> Area:
        if name not in self._thin:
            motif = self.motifs[name]
            self._thin[name] = simplified(motif.windows, motif.size / 200)
        return self._thin[name]

    def _form(self, name: str) -> Area:
        if name not in self._forms:
            motif = self.motifs[name]
            self._forms[name] = outer_form(motif.windows, motif.slits)
        return self._forms[name]
