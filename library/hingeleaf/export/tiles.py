"""Split a panel over several sheets that overlap, with marks to join them by."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import shapely
from shapely import LineString, MultiLineString, Polygon

from hingeleaf.errors import UsageError
from hingeleaf.field.letters import text_outlines
from hingeleaf.model import Cuts
from hingeleaf.panel.compose import Panel, multiline_of
from hingeleaf.paper.sheets import windows_of
from hingeleaf.units import format_mm

OVERLAP = 10.0
"""Paper that two neighbouring sheets share, for the glue."""
ARM = 3.0
"""Half the length of a mark's arms."""
NEAR_END = 0.2
"""Marks stand so far from either end of a strip, as shares of its length."""
LETTERS, INSET = 3.0, 2.5
"""Height of the capitals of a sheet's name, and how far from the edges it stands."""
Stretch = tuple[float, float]


def tiles(panel: Panel, area: tuple[float, float], *, overlap: float = OVERLAP) -> list[Panel]:
    """The panel as panels that each fit `area`, row by row, named A1, A2 … B1 …

    Neighbours share a strip `overlap` wide in which both are cut alike. Two crosses in every
    strip, guides that are not cut, lie on each other when the sheets are joined; each sheet bears
    its name in its top left corner. A panel that fits as it is comes back alone. Raises
    UsageError if the overlap leaves no room.
    """
    if min(area) <= 2 * overlap:
        raise UsageError(
            f"Sheets of {format_mm(area[0])} × {format_mm(area[1])} cannot overlap by "
            f"{format_mm(overlap)}.",
            "Give larger sheets or a narrower overlap.",
        )
    rows, columns = _grid(panel.size, area, overlap)
    if rows == columns == 1:
        return [panel]
    (left, top), (width, height) = panel.origin, panel.size
    across = _stretches(left, width, columns, overlap)
    down = _stretches(top, height, rows, overlap)
    marks = _marks(across, down, overlap)
    return [
        _tile(panel, f"{panel.name} {label}", rectangle, marks)
        for label, rectangle in _rectangles(across, down)
    ]


def _grid(size: tuple[float, float], area: tuple[float, float], overlap: float) -> tuple[int, int]:
    """Rows and columns, with the sheets upright or across, whichever needs fewer."""
    choices = [
        tuple(
            max(1, math.ceil((side - overlap) / (most - overlap) - 1e-9))
            for side, most in zip(size[::-1], turned, strict=True)
        )
        for turned in (area[::-1], area)
    ]
    rows, columns = min(choices, key=math.prod)
    return rows, columns


def _label(row: int, column: int) -> str:
    letters = ""
    row += 1
    while row:
        row, letter = divmod(row - 1, 26)
        letters = chr(ord("A") + letter) + letters
    return f"{letters}{column + 1}"


def _stretches(start: float, side: float, count: int, overlap: float) -> list[Stretch]:
    """From where to where each of `count` equal stretches of a side runs."""
    length = (side + (count - 1) * overlap) / count
    firsts = [start + index * (length - overlap) for index in range(count)]
    return [(first, first + length) for first in firsts]


def _rectangles(across: list[Stretch], down: list[Stretch]) -> Iterator[tuple[str, Polygon]]:
    for row, (top, bottom) in enumerate(down):
        for column, (left, right) in enumerate(across):
            yield _label(row, column), shapely.box(left, top, right, bottom)


def _marks(across: list[Stretch], down: list[Stretch], overlap: float) -> MultiLineString:
    """Two crosses in every strip that two sheets share."""
    seams_x = [right - overlap / 2 for _, right in across[:-1]]
    seams_y = [bottom - overlap / 2 for _, bottom in down[:-1]]
    places = [(x, y) for x in seams_x for y in _near_ends(down)]
    places += [(x, y) for y in seams_y for x in _near_ends(across)]
    return MultiLineString([arm for x, y in places for arm in _cross(x, y)])


def _near_ends(stretches: list[Stretch]) -> list[float]:
    shares = (NEAR_END, 1 - NEAR_END)
    return [first + share * (last - first) for first, last in stretches for share in shares]


def _cross(x: float, y: float) -> tuple[LineString, LineString]:
    return (
        LineString([(x - ARM, y), (x + ARM, y)]),
        LineString([(x, y - ARM), (x, y + ARM)]),
    )


def _tile(panel: Panel, name: str, rectangle: Polygon, marks: MultiLineString) -> Panel:
    left, top, right, _ = rectangle.bounds
    guides = shapely.union_all([panel.guides, marks]).intersection(rectangle)
    room = NEAR_END * (right - left) - ARM - 1.5 * INSET
    words = text_outlines(name, left + INSET, top + INSET, LETTERS, room)
    return replace(
        panel,
        name=name,
        sheet=panel.sheet.intersection(rectangle),
        cuts=Cuts(
            windows=windows_of(panel.cuts.windows.intersection(rectangle)),
            slits=multiline_of(panel.cuts.slits.intersection(rectangle)),
            folds=multiline_of(panel.cuts.folds.intersection(rectangle)),
        ),
        pieces=tuple(each for each in panel.pieces if each.footprint.intersects(rectangle)),
        guides=multiline_of([guides, *words]),
    )
