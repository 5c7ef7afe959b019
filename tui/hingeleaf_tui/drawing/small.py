"""Thumbnails of cuts for lists and the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hingeleaf.geometry.silhouette import outer_form
from hingeleaf_tui.drawing.canvas import Canvas, Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.view import bounds_of

if TYPE_CHECKING:
    from hingeleaf.model import Cuts

TINY = 14
"""Below so many dots across, windows would be a scatter of dots: the outer form says more."""

LOW = 8
"""Below so many dots down every one is needed."""


def draw(cuts: Cuts, columns: int, rows: int, ink: Ink = Ink.BRAILLE) -> str:
    """Windows filled, slits and folds as lines, as large as `columns` × `rows` allow.

    Lines end in no blanks; the drawing stands in the middle.
    """
    return picture(cuts, columns, rows, ink).text()


def picture(cuts: Cuts, columns: int, rows: int, ink: Ink = Ink.BRAILLE) -> Picture:
    """The same drawing with its styles.

    A tiny drawing is the outer form alone, and leaves a line of dots free below: in a list the
    next one follows at once.
    """
    bounds = bounds_of((cuts.windows, cuts.slits, cuts.folds))
    canvas = Canvas.fit(bounds, columns, rows, ink, margin=0)
    form = outer_form(cuts.windows, cuts.slits)
    if min(canvas.view.width, canvas.view.height) < TINY and not form.is_empty:
        if canvas.view.height >= LOW:
            canvas.view = canvas.view.with_room_below(bounds)
        canvas.area(form, "window")
        return canvas.picture()
    canvas.area(cuts.windows, "window")
    canvas.line(cuts.slits, "slit")
    canvas.line(cuts.folds, "fold", dash=2)
    return canvas.picture()
