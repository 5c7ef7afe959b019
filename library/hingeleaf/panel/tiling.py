"""How many sheets a panel takes, and strips kept free of motifs where they will be joined."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.errors import UsageError
from hingeleaf.geometry.members import windows_of
from hingeleaf.model import Field
from hingeleaf.units import format_mm

OVERLAP = 10.0
"""mm of paper, at most, that two neighbouring sheets share for the glue."""
LEAST_STRIP = 1.0
"""mm: so wide is what is kept free for a seam, besides the room that motifs keep from edges."""
Size = tuple[float, float]


def fits(size: Size, area: Size) -> bool:
    """Whether a panel fits on a sheet, upright or across."""
    return all(np.array(sorted(size)) <= np.array(sorted(area)) + 1e-9)


def refuse_small_cells(area: Size, overlap: float = OVERLAP) -> None:
    """Raise UsageError where an overlap leaves no room on sheets."""
    if min(area) <= 2 * overlap:
        raise UsageError(
            f"Sheets of {format_mm(area[0])} × {format_mm(area[1])} cannot overlap by "
            f"{format_mm(overlap)}.",
            "Give larger sheets or a narrower overlap.",
        )


def stretches(start: float, side: float, count: int, overlap: float) -> list[Size]:
    """From where to where each of `count` equal stretches of a side runs."""
    length = (side + (count - 1) * overlap) / count
    firsts = [start + index * (length - overlap) for index in range(count)]
    return [(first, first + length) for first in firsts]


def rows_and_columns(size: Size, cell: Size, overlap: float) -> tuple[int, int]:
    """The least rows and columns of sheets, `cell` wide and high, that cover a panel."""
    columns, rows = (
        max(1, math.ceil((side - overlap) / (most - overlap) - 1e-9))
        for side, most in zip(size, cell, strict=True)
    )
    return rows, columns


def with_free_seams(field: Field, sheet: Polygon, area: Size, *, clearance: float) -> Field:
    """The field without the strips along which its sheet is parted into sheets that fit `area`.

    `clearance` is what is left on either side of a seam, beside what motifs keep from an edge.
    """
    refuse_small_cells(area)
    left, top, right, bottom = sheet.bounds
    size = right - left, bottom - top
    if fits(size, area):
        return field
    cells = (area, area[::-1])
    rows, columns = min((rows_and_columns(size, cell, OVERLAP) for cell in cells), key=math.prod)
    half = max(clearance, LEAST_STRIP / 2)
    strips = [
        shapely.box(end - OVERLAP / 2 - half, top, end - OVERLAP / 2 + half, bottom)
        for _, end in stretches(left, size[0], columns, OVERLAP)[:-1]
    ] + [
        shapely.box(left, end - OVERLAP / 2 - half, right, end - OVERLAP / 2 + half)
        for _, end in stretches(top, size[1], rows, OVERLAP)[:-1]
    ]
    return replace(field, area=windows_of(field.area.difference(shapely.union_all(strips))))
