"""`bridge --part` and `--parts`: hold styles for single parts, by number or position."""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import hingeleaf as hl
from hingeleaf.errors import UsageError
from hingeleaf.hold import HingeSide, HoldStyle
from hingeleaf_tui import drawing
from hingeleaf_tui.commands.tables import echo, print_table
from hingeleaf_tui.terminal import look

COLUMNS, ROWS = 44, 16
"""Size of the drawing in characters."""
REMEDY = "Write for example --part 2=points:foot; --parts shows their numbers."


def parse(words: Sequence[str], motif: hl.Motif) -> tuple[hl.PartRequest, ...]:
    """Parse `2=points`, `2=points:foot`, `2=:foot`, or `12,-8=points` with a position in mm.

    Raises UsageError for anything else, and for a part that does not exist.
    """
    return tuple(_request(word, motif) for word in words)


def facts(motif: hl.Motif) -> list[dict[str, Any]]:
    """The parts as JSON data."""
    return [
        {"part": number, "area_mm2": part.polygon.area, "at_mm": [*at]}
        for number, (part, at) in enumerate(hl.numbered_parts(motif), start=1)
    ]


def report(motif: hl.Motif) -> None:
    """Print a drawing with numbered parts, and a table of them."""
    parts = hl.numbered_parts(motif)
    if not parts:
        echo(f"{motif.name} has no part that a bridge could tie.")
        return
    bounds = drawing.view.bounds_of((motif.windows, motif.slits))
    canvas = drawing.canvas.Canvas.fit(bounds, COLUMNS, ROWS, drawing.ink.Ink(look().ink))
    canvas.area(motif.windows, "window")
    canvas.line(motif.slits, "slit")
    for number, (_, at) in enumerate(parts, start=1):
        canvas.label(at, str(number))
    echo(canvas.picture().text())
    print_table(
        ("part", "area mm²", "x mm", "y mm"),
        [
            (str(number), f"{part.polygon.area:.1f}", f"{at[0]:.1f}", f"{at[1]:.1f}")
            for number, (part, at) in enumerate(parts, start=1)
        ],
        right=("part", "area mm²", "x mm", "y mm"),
    )


def _request(word: str, motif: hl.Motif) -> hl.PartRequest:
    which, equals, wanted = word.partition("=")
    style, _, side = wanted.partition(":")
    try:
        hold = HoldStyle(style) if style else None
        hinge = HingeSide(side) if side else None
    except ValueError:
        raise UsageError(f"{wanted!r} is not a hold style with a hinge side.", REMEDY) from None
    if not equals or (hold is None and hinge is None):
        raise UsageError(f"{word!r} is not a part and its hold style.", REMEDY)
    return hl.PartRequest(_place(which, motif), hold, hinge)


def _place(which: str, motif: hl.Motif) -> hl.XY:
    """A place in the part with a number, as `2`, or at a place in mm, as `12,-8`."""
    parts = hl.numbered_parts(motif)
    try:
        if "," in which:
            x, y = map(float, which.split(","))
            if not math.isfinite(x + y):
                raise ValueError
            return x, y
        number = int(which)
    except ValueError:
        raise UsageError(
            f"{which!r} is neither a part's number nor a place.", "Write for example 2, or 12,-8."
        ) from None
    if not 1 <= number <= len(parts):
        raise UsageError(f"{motif.name} has no part {number}.", f"It has {len(parts)}.")
    return parts[number - 1][1]
