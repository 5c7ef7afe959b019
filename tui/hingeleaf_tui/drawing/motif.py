"""One motif, large: windows filled, slits as lines, bridges as ties, hinges dashed."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from shapely import LineString, MultiLineString

from hingeleaf_tui.drawing.canvas import Canvas, Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.view import View, bounds_of

if TYPE_CHECKING:
    from shapely.geometry.base import BaseGeometry

    from hingeleaf.model import Bridge, Cuts

HINGE_DASH = 2
"""Dots on and off in a hinge: it reads as a fold even without colour."""


def fitted(cuts: Cuts, columns: int, rows: int, ink: Ink, margin: int = 2) -> View:
    """The view that shows a whole motif."""
    across, down = ink.dots
    bounds = bounds_of((cuts.windows, cuts.slits, cuts.folds))
    return View.fit(bounds, columns * across, rows * down, margin)


def draw_motif(
    cuts: Cuts,
    bridges: Sequence[Bridge],
    columns: int,
    rows: int,
    ink: Ink = Ink.BRAILLE,
    *,
    view: View | None = None,
    loose: Sequence[BaseGeometry] = (),
    chosen: int | None = None,
) -> Picture:
    """A motif as it is cut, with its bridges and what falls out.

    `cuts` are already bridged; `bridges` are at the same size. Loose parts are hatched. With
    `chosen`, the number of a bridge, all bridges are numbered from 1 and that one stands out.
    """
    canvas = Canvas(columns, rows, view or fitted(cuts, columns, rows, ink), ink)
    for part in loose:
        canvas.area(part, "loose", hatch=3)
    canvas.area(cuts.windows, "window")
    canvas.line(cuts.slits, "slit")
    canvas.line(cuts.folds, "hinge", dash=HINGE_DASH)
    canvas.line(MultiLineString([axis(bridge) for bridge in bridges]), "bridge")
    if chosen is not None:
        for number, bridge in enumerate(bridges):
            if number == chosen:
                canvas.label(bridge.at, f" {number + 1} ", "chosen")
            else:
                canvas.label(bridge.at, str(number + 1), "bridge")
    return canvas.picture()


def axis(bridge: Bridge) -> LineString:
    """The middle line of a bridge, from paper to paper."""
    x, y = bridge.at
    turn = math.radians(bridge.direction)
    across, down = math.cos(turn) * bridge.reach / 2, math.sin(turn) * bridge.reach / 2
    return LineString([(x - across, y - down), (x + across, y + down)])
