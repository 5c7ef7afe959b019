"""Overview pages (PDF): motifs with their names, tags and sizes.

The sizes of its layout are our own choice.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

import numpy as np
import shapely
from shapely.geometry.base import BaseGeometry

from hingeleaf.export.drawing import Points
from hingeleaf.export.files import write_file
from hingeleaf.export.page import STRONG, Page
from hingeleaf.model import Cuts
from hingeleaf.units import A4

MARGIN, GUTTER, TOP, FOOT = 12.0, 6.0, 24.0, 12.0
COLUMNS, ROWS = 4, 5
LINE_HEIGHT, MAX_LINES = 3.6, 4
"""mm between lines of text under a picture, and the greatest number of them."""
QUIET, INK = "#5b6570", "#27343f"


@dataclass(frozen=True, slots=True)
class OverviewEntry:
    """One motif of an overview."""

    name: str
    cuts: Cuts
    """Its cuts, at any size; they are drawn as large as fits."""
    lines: tuple[str, ...] = ()
    """Further lines, most important first."""


def write_overview(
    title: str,
    entries: Sequence[OverviewEntry],
    target: Path | BinaryIO,
    *,
    paper: tuple[float, float] = A4,
) -> int:
    """Write the pages as PDF and return their number. Raises ExportError, see `write_file`."""
    page = Page(*paper, title)
    per_page = COLUMNS * ROWS
    pages = max(1, -(-len(entries) // per_page))
    for number in range(pages):
        if number:
            page.turn()
        _heading(page, title, f"{number + 1} of {pages}")
        for place, entry in enumerate(entries[number * per_page : (number + 1) * per_page]):
            _cell(page, entry, place)
    data = page.finished()
    write_file(data, target)
    return pages


def _heading(page: Page, title: str, number: str) -> None:
    room = page.width - 2 * MARGIN - 20
    page.text(MARGIN, 17, title, size=16, face=STRONG, within=room)
    page.text(page.width - MARGIN, 17, number, size=9, colour=QUIET, align="right")


def _cell(page: Page, entry: OverviewEntry, place: int) -> None:
    width = (page.width - 2 * MARGIN - (COLUMNS - 1) * GUTTER) / COLUMNS
    height = (page.height - TOP - FOOT) / ROWS
    left = MARGIN + (place % COLUMNS) * (width + GUTTER)
    top = TOP + (place // COLUMNS) * height
    words = (MAX_LINES + 1) * LINE_HEIGHT
    _picture(page, entry.cuts, (left, top, width, height - words - GUTTER))
    y = top + height - words - GUTTER + LINE_HEIGHT + 1
    page.text(left, y, entry.name, size=10, face=STRONG, within=width)
    lines = [line for line_text in entry.lines for line in page.wrapped(line_text, width, size=7.5)]
    for number, line in enumerate(lines[:MAX_LINES], start=1):
        last = number == MAX_LINES and len(lines) > MAX_LINES
        line += " …" if last else ""
        page.text(left, y + number * LINE_HEIGHT, line, size=7.5, colour=QUIET, within=width)


def _picture(page: Page, cuts: Cuts, box: tuple[float, float, float, float]) -> None:
    """Windows dark, slits and folds as lines, centred in the box."""
    parts = [part for part in (cuts.windows, cuts.slits) if not part.is_empty]
    if not parts:
        return
    left, top, width, height = box
    x0, y0, x1, y1 = shapely.total_bounds(parts)
    scale = min(width / max(x1 - x0, 1e-9), height / max(y1 - y0, 1e-9))
    middle = np.array([left + width / 2, top + height / 2])
    origin = middle - scale * np.array([(x0 + x1) / 2, (y0 + y1) / 2])
    place = {"scale": scale, "origin": origin}
    page.lines(_lines(shapely.boundary(cuts.windows)), **place, width=0, fill=INK)
    page.lines(_lines(cuts.slits), **place, colour=INK, width=0.25)
    page.lines(_lines(cuts.folds), **place, colour=QUIET, width=0.15, dash=(0.8, 0.6))


def _lines(geometry: BaseGeometry) -> list[Points]:
    return [shapely.get_coordinates(line) for line in shapely.get_parts(geometry)]
