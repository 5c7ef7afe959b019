"""Sheets to judge by hand: one motif at increasing sizes (a ladder), or several bridge plans."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LineString, MultiLineString, MultiPolygon

from hingeleaf.errors import UsageError
from hingeleaf.field.letters import text_outlines
from hingeleaf.model import Card, Field, Motif, Placement, Pose
from hingeleaf.panel.compose import Panel, compose
from hingeleaf.units import A4, format_mm, format_size

MARGIN, GAP = 10.0, 6.0
"""mm of paper at the edges, and between rungs."""
LABEL_HEIGHT, TITLE_HEIGHT = 3.5, 5.0
"""Heights of capitals."""
ASCENT = TITLE_HEIGHT / 10
"""Allowance above capitals for taller letters such as l."""
LABEL_SPACE = 9.0
"""Space under a rung, from the top of its label to the writing line."""
FIRST_ROW = MARGIN + TITLE_HEIGHT + 2 * GAP
ROW_SPACE = GAP / 2 + LABEL_SPACE + GAP
"""From the lower edge of a row of motifs to the next row."""
MIN_RUNG_WIDTH = 34.0
"""Least width of a rung, so that a word can be written beside its size."""
SIZE_FACTORS = (0.8, 0.9, 1.0, 1.15, 1.35, 1.6)
"""Sizes of a ladder as multiples of the smallest computed size."""

Texts = list[LineString]


@dataclass(frozen=True, slots=True)
class _Rung:
    """A motif's size, and the box of its cuts relative to the motif's origin."""

    size: float
    left: float
    top: float
    width: float
    height: float

    @property
    def room(self) -> float:
        return max(self.width, MIN_RUNG_WIDTH)


def default_sizes(motif: Motif, smallest: float, sheet: tuple[float, float] = A4) -> list[float]:
    """Sizes in whole mm around the smallest that geometry allows, as many as fit the sheet.

    The small ones are meant to fail: the limit to be found is between them and the others.
    """
    steps = {max(1.0, float(round(smallest * step))) for step in SIZE_FACTORS}
    return as_many_as_fit(motif, sorted(steps), sheet)


def as_many_as_fit(motif: Motif, sizes: Sequence[float], sheet: tuple[float, float]) -> list[float]:
    """The sizes without the largest ones that do not fit the sheet."""
    fitting = list(sizes)
    while len(fitting) > 1 and not _fit(_rows(_rungs(motif, fitting), sheet), sheet):
        fitting.pop()
    return fitting


def make_ladder(
    motif: Motif, sizes: Sequence[float], card: Card, sheet: tuple[float, float] = A4
) -> Panel:
    """The motif at each size, small to large, in rows from the top, each labelled with its size.

    Labels, the heading and the writing lines are guides: visible, not cut. Raises UsageError for an
    invalid size, or if the rungs do not fit the sheet.
    """
    if not sizes or not all(np.isfinite(size) and size > 0 for size in sizes):
        raise UsageError("A ladder needs sizes above zero.", "For example --sizes 20,25,30.")
    width, height = sheet
    rows = _rows(_rungs(motif, sizes), sheet)
    if not _fit(rows, sheet):
        raise UsageError(
            f"These sizes need more than a sheet of {format_size(sheet)}.",
            "Leave some out, or name a larger --sheet.",
        )
    heading = f"{motif.name}, revision {motif.revision}, on {card.name}"
    guides = text_outlines(heading, MARGIN, MARGIN + ASCENT, TITLE_HEIGHT, width - 2 * MARGIN)
    placements = []
    for rung, left, bottom in _positions(rows):
        x = left + (rung.room - rung.width) / 2 - rung.left
        y = bottom - rung.height - rung.top
        placements.append(Placement(motif.name, motif.revision, Pose(x, y, 0.0, rung.size)))
        guides += _label(rung, left, bottom + GAP / 2)
    paper = MultiPolygon([shapely.box(0, 0, width, height)])
    field = Field("outline", "ladder", paper, MultiPolygon())
    panel = compose(
        f"{motif.name}-ladder", field, placements, {motif.name: motif}, card, sheet=sheet
    )
    return replace(panel, guides=MultiLineString(guides))


def _rungs(motif: Motif, sizes: Sequence[float]) -> list[_Rung]:
    drawn = shapely.total_bounds([motif.windows, motif.slits, motif.footprint])
    boxes = ((size, drawn * (size / motif.size)) for size in sorted(set(sizes)))
    return [
        _Rung(size, float(left), float(top), float(right - left), float(bottom - top))
        for size, (left, top, right, bottom) in boxes
    ]


def _rows(rungs: Sequence[_Rung], sheet: tuple[float, float]) -> list[list[_Rung]]:
    """The rungs in rows no wider than the sheet, in order."""
    rows: list[list[_Rung]] = [[]]
    used = 0.0
    for rung in rungs:
        if rows[-1] and used + rung.room > sheet[0] - 2 * MARGIN:
            rows.append([])
            used = 0.0
        rows[-1].append(rung)
        used += rung.room + GAP
    return rows


def _fit(rows: Sequence[Sequence[_Rung]], sheet: tuple[float, float]) -> bool:
    heights = sum(max(rung.height for rung in row) + ROW_SPACE for row in rows)
    widest = max(rung.room for row in rows for rung in row)
    return FIRST_ROW + heights - GAP <= sheet[1] - MARGIN and widest <= sheet[0] - 2 * MARGIN


def _positions(rows: Sequence[Sequence[_Rung]]) -> Iterator[tuple[_Rung, float, float]]:
    """Every rung with its left edge and the lower edge of its row, mm on the sheet."""
    top = FIRST_ROW
    for row in rows:
        bottom = top + max(rung.height for rung in row)
        left = MARGIN
        for rung in row:
            yield rung, left, bottom
            left += rung.room + GAP
        top = bottom + ROW_SPACE


def _label(rung: _Rung, left: float, top: float) -> Texts:
    """The size, and beside it a writing line."""
    words = text_outlines(
        format_mm(rung.size), left, top + LABEL_SPACE - LABEL_HEIGHT, LABEL_HEIGHT, rung.room
    )
    right = float(shapely.total_bounds(words)[2])
    line = top + LABEL_SPACE
    return [*words, LineString([(right + 1.5, line), (left + rung.room, line)])]


PLAN_GAP = 0.12
"""Gap between two plans, as a share of the motif's size."""
CAPTION_HEIGHT = 0.06
"""Height of capitals, as a share of the motif's size."""

LINE_SPACING = 1.7
"""Distance between the lines of a caption, in heights of capitals."""


def make_plan_sheet(plans: Sequence[tuple[Motif, Sequence[str]]], card: Card) -> Panel:
    """A sheet with each motif at its drawn size, in rows, with the lines of its caption below.

    Captions are guides: visible, not cut. Raises UsageError where there is no plan.
    """
    if not plans:
        raise UsageError("There is no plan to show.")
    boxes = [shapely.total_bounds([m.windows, m.slits, m.footprint]) for m, _ in plans]
    size = max(motif.size for motif, _ in plans)
    cell_width = max(float(box[2] - box[0]) for box in boxes)
    cell_height = max(float(box[3] - box[1]) for box in boxes)
    gap, letters = PLAN_GAP * size, CAPTION_HEIGHT * size
    caption_height = letters * (1.0 + LINE_SPACING * max(len(caption) for _, caption in plans))
    columns = math.ceil(math.sqrt(len(plans) * 1.5))
    placements: list[Placement] = []
    motifs: dict[str, Motif] = {}
    guides: list[LineString] = []
    for number, ((motif, caption), box) in enumerate(zip(plans, boxes, strict=True)):
        row, column = divmod(number, columns)
        left = gap + column * (cell_width + gap)
        top = gap + row * (cell_height + caption_height + gap)
        name = f"{motif.name}-{number + 1}"
        motifs[name] = replace(motif, name=name)
        x = left + (cell_width - (box[2] - box[0])) / 2 - box[0]
        pose = Pose(float(x), float(top + cell_height - box[3]), 0.0, motif.size)
        placements.append(Placement(name, motif.revision, pose))
        for line, text in enumerate(caption):
            place = top + cell_height + (1.0 + LINE_SPACING * line) * letters
            guides += text_outlines(text, left, place, letters, cell_width)
    rows = math.ceil(len(plans) / columns)
    wide = gap + min(columns, len(plans)) * (cell_width + gap)
    tall = gap + rows * (cell_height + caption_height + gap)
    paper = MultiPolygon([shapely.box(0, 0, wide, tall)])
    field = Field("outline", "plans", paper, MultiPolygon())
    panel = compose("plans", field, placements, motifs, card, sheet=(wide, tall))
    return replace(panel, guides=MultiLineString(guides))
