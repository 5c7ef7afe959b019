"""Draw a motif with bridges, flaps and hinges, folded up, or as a thumbnail."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

from hingeleaf.geometry.silhouette import Shape, Stretch, outer_form, segments
from hingeleaf.model import Bridge, Cuts
from hingeleaf.panel.lifting import Raised, raise_hinges
from hingeleaf.paper.hinges import Hinges
from hingeleaf.paper.resized import Resized
from hingeleaf_tui.drawing.canvas import Canvas, Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.view import XY, View, bounds_of

HINGE_DASH = 2
"""Dash length of a hinge in dots, so that it is recognisable without colour."""
SURFACE_DASH = 4
"""The same on a surface of quadrants."""
LOOSE_HATCH, FLAP_HATCH = 3, 6
"""Hatch spacing of loose parts and of flaps, in dots."""
LIGHT = (0.55, 0.75)
"""Displacement of a shadow per mm of height, to the right and down."""
SHADES = {"paper": "paper-shade", "sheet": "paper-shade", "behind": "behind-shade"}
"""Styles of surfaces in the shade."""
OUTLINE_BELOW = 14
"""Below this width in dots only the outer form is drawn; windows would be unrecognisable."""

FULL_HEIGHT_BELOW = 8
"""Below this height in dots the full height is used."""


def whole_view(cuts: Cuts, columns: int, rows: int, ink: Ink, margin: int = 2) -> View:
    """The view that shows a whole motif, with a margin in dots."""
    across, down = ink.dots
    bounds = bounds_of((cuts.windows, cuts.slits, cuts.folds))
    return View.fit(bounds, columns * across, rows * down, margin)


def draw_paper(
    paper: Resized,
    columns: int,
    rows: int,
    ink: Ink,
    *,
    hinges: Hinges | None = None,
    view: View | None = None,
    chosen: int | None = None,
    aim: XY | None = None,
    folded: bool = False,
) -> Picture:
    """A motif at a size with its loose parts, flaps and hinges, or `folded` up.

    `hinges` are those known so far; without them they are computed.
    """
    hinges = paper.hinges if hinges is None else hinges
    if not folded:
        return draw_motif(
            replace(paper.cuts, folds=hinges.folds),
            paper.bridges,
            columns,
            rows,
            ink,
            view=view,
            loose=[part.polygon for part in paper.parts.loose],
            flaps=[hinge.flap for hinge in hinges.hinges],
            chosen=chosen,
            aim=aim,
        )
    canvas = Canvas(columns, rows, view or whole_view(paper.cuts, columns, rows, ink), ink)
    (_draw_surface if ink.is_solid else _draw_lines)(canvas, paper.cuts, (), (), ())
    fold_up(canvas, raise_hinges([(0, hinge) for hinge in hinges.hinges], paper.card))
    return canvas.picture()


def draw_motif(
    cuts: Cuts,
    bridges: Sequence[Bridge],
    columns: int,
    rows: int,
    ink: Ink = Ink.BRAILLE,
    *,
    view: View | None = None,
    loose: Sequence[Shape] = (),
    flaps: Sequence[Shape] = (),
    chosen: int | None = None,
    aim: XY | None = None,
) -> Picture:
    """A motif as cut, with its bridges, loose parts and flaps.

    `cuts` are already bridged; `bridges` are at the same size. With `chosen`, the index of a
    bridge, all bridges are numbered from 1 and that one is highlighted. `aim` is marked by a cross.
    """
    canvas = Canvas(columns, rows, view or whole_view(cuts, columns, rows, ink), ink)
    draw = _draw_surface if ink.is_solid else _draw_lines
    draw(canvas, cuts, bridges, loose, flaps)
    if chosen is not None:
        _number(canvas, bridges, chosen)
    if aim is not None:
        canvas.label(aim, "┼", "finding")
    return canvas.picture()


def _draw_lines(
    canvas: Canvas,
    cuts: Cuts,
    bridges: Sequence[Bridge],
    loose: Sequence[Shape],
    flaps: Sequence[Shape],
) -> None:
    """Windows as filled figures on a blank background, parts hatched."""
    for flap in flaps:
        canvas.area(flap, "flap", hatch=FLAP_HATCH)
    for part in loose:
        canvas.area(part, "loose", hatch=LOOSE_HATCH)
    canvas.area(cuts.windows, "window")
    canvas.line(cuts.slits, "slit")
    canvas.line(cuts.folds, "hinge", dash=HINGE_DASH)
    canvas.line(segments([axis(bridge) for bridge in bridges]), "bridge")


def _draw_surface(
    canvas: Canvas,
    cuts: Cuts,
    bridges: Sequence[Bridge],
    loose: Sequence[Shape],
    flaps: Sequence[Shape],
) -> None:
    """The sheet as a surface with the background visible in its windows, flaps lighter."""
    canvas.everywhere("paper")
    for flap in flaps:
        canvas.area(flap, "flap-face")
    for part in loose:
        canvas.area(part, "loose")
    canvas.area(cuts.windows, "behind")
    canvas.line(cuts.slits, "cut-line")
    canvas.line(cuts.folds, "crease", dash=SURFACE_DASH)
    canvas.line(segments([axis(bridge) for bridge in bridges]), "tie")


def axis(bridge: Bridge) -> Stretch:
    """The centre line of a bridge, from paper to paper."""
    x, y = bridge.at
    turn = math.radians(bridge.direction)
    across, down = math.cos(turn) * bridge.reach / 2, math.sin(turn) * bridge.reach / 2
    return (x - across, y - down), (x + across, y + down)


def _number(canvas: Canvas, bridges: Sequence[Bridge], chosen: int) -> None:
    """Number the bridges, the chosen one last so that no other hides it."""
    for number in sorted(range(len(bridges)), key=lambda number: number == chosen):
        if number == chosen:
            canvas.label(bridges[number].at, f" {number + 1} ", "chosen")
        else:
            canvas.label(bridges[number].at, str(number + 1), "bridge")


def fold_up(canvas: Canvas, flaps: Sequence[Raised]) -> None:
    """Fold flaps up on a canvas that shows them flat, the highest drawn last."""
    if canvas.ink.is_solid:
        for flap in flaps:
            canvas.area(flap.hinge.flap, "behind")
        for flap in flaps:
            canvas.shade(flap.seen(LIGHT), SHADES)
    else:
        for flap in flaps:
            canvas.area(flap.hinge.flap, "window")
    for flap in sorted(flaps, key=lambda flap: flap.lift):
        canvas.clear(flap.seen())
        if canvas.ink.is_solid:
            canvas.area(flap.seen(), "flap-face")
        else:
            canvas.line(flap.seen(), "flap")


def draw_thumbnail(cuts: Cuts, columns: int, rows: int, ink: Ink = Ink.BRAILLE) -> Picture:
    """Windows filled, slits and folds as lines, as large as `columns` × `rows` allow.

    A very small drawing is the outer form only, with a free row of dots below to separate it from
    the next in a list.
    """
    bounds = bounds_of((cuts.windows, cuts.slits, cuts.folds))
    canvas = Canvas.fit(bounds, columns, rows, ink, margin=0)
    form = outer_form(cuts.windows, cuts.slits)
    if min(canvas.view.width, canvas.view.height) < OUTLINE_BELOW and not form.is_empty:
        if canvas.view.height >= FULL_HEIGHT_BELOW:
            canvas.view = canvas.view.with_room_below(bounds)
        canvas.area(form, "window")
        return canvas.picture()
    canvas.area(cuts.windows, "window")
    canvas.line(cuts.slits, "slit")
    canvas.line(cuts.folds, "fold", dash=2)
    return canvas.picture()
