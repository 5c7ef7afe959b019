"""Divide a panel into sheets, and keep the seams between them free of motifs."""

import math
from dataclasses import replace

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.errors import UsageError
from hingeleaf.geometry.members import windows_of
from hingeleaf.model import Field
from hingeleaf.units import format_mm, format_size

OVERLAP = 10.0
"""mm: the greatest overlap of neighbouring sheets for gluing."""
MIN_STRIP = 1.0
"""mm: width kept free at a seam, in addition to the distance that motifs keep from edges."""
Size = tuple[float, float]


def fits(size: Size, area: Size) -> bool:
    """Whether a panel fits on a sheet, upright or turned."""
    return all(np.array(sorted(size)) <= np.array(sorted(area)) + 1e-9)


def refuse_small_cells(area: Size, overlap: float = OVERLAP) -> None:
    """Raise UsageError if an overlap leaves no space on the sheets."""
    if min(area) <= 2 * overlap:
        raise UsageError(
            f"Sheets of {format_size(area)} cannot overlap by {format_mm(overlap)}.",
            "Give larger sheets or a narrower overlap.",
        )


def stretches(start: float, side: float, count: int, overlap: float) -> list[Size]:
    """Start and end of each of `count` equal stretches of a side."""
    length = (side + (count - 1) * overlap) / count
    firsts = [start + index * (length - overlap) for index in range(count)]
    return [(first, first + length) for first in firsts]


def rows_and_columns(size: Size, cell: Size, overlap: float) -> tuple[int, int]:
    """The fewest rows and columns of sheets, `cell` wide and high, that cover a panel."""
    columns, rows = (
        max(1, math.ceil((side - overlap) / (most - overlap) - 1e-9))
        for side, most in zip(size, cell, strict=True)
    )
    return rows, columns


def with_free_seams(field: Field, sheet: Polygon, area: Size, *, clearance: float) -> Field:
    """The field without strips along the seams between sheets that fit `area`.  `clearance` is kept
    free on either side of a seam, in addition to the motifs' distance from edges.
    """
    refuse_small_cells(area)
    left, top, right, bottom = sheet.bounds
    size = right - left, bottom - top
    if fits(size, area):
        return field
    cells = (area, area[::-1])
    rows, columns = min((rows_and_columns(size, cell, OVERLAP) for cell in cells), key=math.prod)
    half = max(clearance, MIN_STRIP / 2)
    strips = [
        shapely.box(end - OVERLAP / 2 - half, top, end - OVERLAP / 2 + half, bottom)
        for _, end in stretches(left, size[0], columns, OVERLAP)[:-1]
    ] + [
        shapely.box(left, end - OVERLAP / 2 - half, right, end - OVERLAP / 2 + half)
        for _, end in stretches(top, size[1], rows, OVERLAP)[:-1]
    ]
    return replace(field, area=windows_of(field.area.difference(shapely.union_all(strips))))
