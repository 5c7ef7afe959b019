"""Write the cut list: rows in CSV, or a PDF page per sheet with a plan and its panels."""

import csv
import io
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from hingeleaf.errors import UsageError
from hingeleaf.export.cut_estimate import estimate_cut
from hingeleaf.export.drawing import LENGTH_TOLERANCE, LineKind, flatten
from hingeleaf.export.files import write_file
from hingeleaf.export.page import STRONG, Page
from hingeleaf.orders.costs import Rates, cost_of
from hingeleaf.orders.sheet_drawing import Sheet
from hingeleaf.units import A4, format_size

MARGIN, TOP = 15.0, 20.0
PLAN_SIZE = (180.0, 150.0)
"""Greatest width and height of a sheet's plan on the page, mm."""
COLUMNS, LINE_HEIGHT = 2, 5.0
QUIET, PALE = "#5b6570", "#d5dad6"
NUMBER_RADIUS = 1.9
"""Radius of the disc behind a panel's number, mm."""
BOX = 2.6
"""Side of the check box of a panel, mm."""


def write_cut_list(sheets: Sequence[Sheet], file: Path, rates: Rates) -> Path:
    """Write which panels are on which sheet (.csv or .pdf); a PDF also gives times and costs.

    Raises UsageError for another extension, and ExportError.
    """
    ending = file.suffix.casefold()
    if ending == ".pdf":
        _write_pages(sheets, file, rates)
        return file
    if ending != ".csv":
        raise UsageError(f"{file.name} is not a cut list.", "End its name with .csv or .pdf.")
    rows = [row for sheet in sheets for row in sheet.rows()]
    text = io.StringIO()
    table = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    table.writeheader()
    table.writerows(rows)
    write_file(text.getvalue(), file)
    return file


def _write_pages(sheets: Sequence[Sheet], target: Path, rates: Rates) -> None:
    work = [estimate_cut(sheet.drawing, sheet.panels) for sheet in sheets]
    page = Page(*A4, "Cut list")
    for number, sheet in enumerate(sheets):
        if number:
            page.turn()
        lines = [cost_of([work[number]], rates).line]
        if len(sheets) > 1 and not number:
            lines.append(f"All sheets: {cost_of(work, rates).line}")
        _heading(page, sheet, len(sheets), lines)
        _plan(page, sheet)
        _list(page, sheet)
    write_file(page.finished(), target)


def _heading(page: Page, sheet: Sheet, count: int, work: Sequence[str]) -> None:
    size = format_size((sheet.drawing.width, sheet.drawing.height))
    cards = ", ".join(dict.fromkeys(panel.card.name for panel in sheet.panels))
    page.text(MARGIN, TOP, f"Cut list: sheet {sheet.number} of {count}", size=14, face=STRONG)
    facts = f"{size}, {cards}. Panels: {len(sheet.panels)}. Used: {sheet.used:.0%}."
    page.y = TOP + 6
    for line in (facts, *work):
        page.text(MARGIN, page.y, line, colour=QUIET)
        page.y += LINE_HEIGHT
    page.y += 1


def _plan(page: Page, sheet: Sheet) -> None:
    drawing = sheet.drawing
    scale = min(1.0, PLAN_SIZE[0] / drawing.width, PLAN_SIZE[1] / drawing.height)
    corner = np.array([(page.width - scale * drawing.width) / 2, page.y])
    for kind, colour in ((LineKind.WINDOWS, PALE), (LineKind.SLITS, PALE), (LineKind.EDGE, QUIET)):
        lines = flatten(drawing.strokes(kind), LENGTH_TOLERANCE)
        fill = colour if kind is LineKind.WINDOWS else ""
        page.lines(lines, scale=scale, origin=corner, colour=colour, width=0.1, fill=fill)
    x, y = corner
    right, bottom = x + scale * drawing.width, y + scale * drawing.height
    page.lines([[(x, y), (right, y), (right, bottom), (x, bottom), (x, y)]], width=0.3)
    for number, (spot, panel) in enumerate(zip(sheet.spots, sheet.panels, strict=True), start=1):
        width, height = panel.size[::-1] if spot.turned else panel.size
        # In a corner, where no name or picture is.
        at = corner + scale * np.array([spot.x + width, spot.y + height]) - NUMBER_RADIUS
        page.number(at, number, NUMBER_RADIUS, QUIET)
    page.y = bottom + 9


def _list(page: Page, sheet: Sheet) -> None:
    """The panels in columns, each with a check box; continued on further pages if needed."""
    begin, column = page.y, 0
    wide = (page.width - 2 * MARGIN) / COLUMNS
    for number, (spot, panel) in enumerate(zip(sheet.spots, sheet.panels, strict=True), start=1):
        if page.y > page.height - MARGIN:
            page.y, column = begin, column + 1
        if column == COLUMNS:
            page.turn(TOP)
            begin, column = TOP, 0
        x, y = MARGIN + column * wide, page.y
        corners = [
            (x, y - BOX),
            (x + BOX, y - BOX),
            (x + BOX, y),
            (x, y),
            (x, y - BOX),
        ]
        page.lines([corners], colour=QUIET, width=0.2)
        page.text(x + 9, y, str(number), face=STRONG, align="right")
        size = format_size(panel.size)
        turned = ", turned" if spot.turned else ""
        page.text(x + 11, y, f"{panel.name}  {size}{turned}", within=wide - 14)
        page.y += LINE_HEIGHT
