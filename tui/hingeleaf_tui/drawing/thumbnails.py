"""Draw thumbnails of cuts for lists and the command line."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hingeleaf.geometry.silhouette import outer_form
from hingeleaf_tui.drawing.canvas import Canvas, Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.view import bounds_of

if TYPE_CHECKING:
    from hingeleaf.model import Cuts

OUTLINE_BELOW = 14
"""Below this width in dots only the outer form is drawn; windows would be unrecognisable."""

FULL_HEIGHT_BELOW = 8
"""Below this height in dots the full height is used."""


def draw(cuts: Cuts, columns: int, rows: int, ink: Ink = Ink.BRAILLE) -> str:
    """Windows filled, slits and folds as lines, as large as `columns` × `rows` allow.

    Lines have no trailing blanks; the drawing is centred.
    """
    return picture(cuts, columns, rows, ink).text()


def picture(cuts: Cuts, columns: int, rows: int, ink: Ink = Ink.BRAILLE) -> Picture:
    """The same drawing with its styles.

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
