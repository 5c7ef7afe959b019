"""Draw size ranges and trials on a ruler."""

import math
from collections.abc import Sequence

from hingeleaf_tui.drawing.canvas import Canvas, Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.view import View

LABEL = 10
"""Columns of the row names on the left."""
ROWS = 4

Span = tuple[float, float]


def draw_ruler(
    columns: int,
    *,
    computed: Span | None,
    proven: Sequence[Span],
    trials: Sequence[tuple[float, bool]],
    drawn: float,
    ink: Ink = Ink.BRAILLE,
) -> Picture:
    """Four rows: the ruler in mm, computed sizes, proven sizes, trials (size, whether it held).

    An open-ended span extends to the edge. Rows differ in their characters, so no colour is needed.
    """
    canvas = Canvas(columns, ROWS, View((0, 0), 1, columns * ink.dots[0], ROWS * ink.dots[1]), ink)
    line, ends, thick, held, failed = _signs(ink)
    known = [size for size, _ in trials] + [drawn]
    known += [end for span in (*proven, *([computed] if computed else [])) for end in span]
    top = max((size for size in known if math.isfinite(size) and size < 3 * drawn), default=drawn)
    room = max(columns - LABEL - 1, 8)
    step = _step(top, room)
    scale = room / (math.ceil(top / step) * step)

    def place(size: float) -> int:
        return LABEL + min(room - 1, max(0, round(size * scale)))

    for mark in range(0, int(top + step) + 1, step):
        canvas.write(place(mark), 0, str(mark), "slit")
    canvas.write(0, 0, "mm", "slit")
    for row, name in enumerate(("computed", "proven", "trials"), 1):
        canvas.write(0, row, name, "slit")
    if computed:
        start, end = place(computed[0]), place(computed[1])
        canvas.write(start, 1, ends[0] + line * max(end - start - 1, 0) + ends[1], "fold")
    for low, high in proven:
        canvas.write(place(low), 2, thick * (place(high) - place(low) + 1), "bridge")
    for size, has_held in trials:
        canvas.write(
            place(size), 3, held if has_held else failed, "bridge" if has_held else "loose"
        )
    return canvas.picture()


def size_bar(
    columns: int, *, smallest: float | None, proven: Sequence[Span], top: float, ink: Ink
) -> str:
    """Sizes from 0 to `top` mm in one row: thick where proven by trials, thin where only computed,
    dotted elsewhere."""
    line, _, thick, _, _ = _signs(ink)
    row = []
    for column in range(columns):
        size = (column + 0.5) * top / columns
        if any(low <= size <= high for low, high in proven):
            row.append(thick)
        else:
            row.append(line if smallest is not None and size >= smallest else ".")
    return "".join(row)


def _signs(ink: Ink) -> tuple[str, str, str, str, str]:
    return ("-", "[]", "=", "o", "x") if ink is Ink.ASCII else ("─", "├┤", "━", "●", "×")


def _step(top: float, room: int) -> int:
    """Millimetres between two marks, so that they are at least six columns apart."""
    for step in (5, 10, 20, 25, 50, 100, 200, 500):
        if top / step * 6 <= room:
            return step
    return 1000
