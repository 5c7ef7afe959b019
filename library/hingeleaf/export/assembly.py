"""The assembly page: for the person who folds the panel and has never seen it before.

Motifs are taken from the far side of the sheet towards the near one, row by row, and the flaps of
each together, so that the hand that folds never lies on one that is already up.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np
import shapely

from hingeleaf.export.draw import SKETCHED, sketch
from hingeleaf.export.drawing import Drawing, Kind, Points
from hingeleaf.export.files import written
from hingeleaf.export.instructions import Block, blocks
from hingeleaf.export.page import PLAIN, STRONG, Page
from hingeleaf.export.trace import exact_stroke
from hingeleaf.panel.check import Report
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.lifting import Raised
from hingeleaf.units import format_mm

A4 = (210.0, 297.0)
MARGIN = 14.0
QUIET, PALE, ACCENT, TINT = "#5b6570", "#dfe3e0", "#8a4b2a", "#f7eee3"
LINE, HEAD = 4.4, 21.0
"""Height of a row of the table, and of what stands above its first row."""
TEXT = 4.3
"""From one line of words to the next."""
FEW = 8
"""With more flaps than this the plan has a page of its own."""
LOOKS: dict[Kind, dict[str, Any]] = {
    Kind.GUIDES: {"colour": PALE, "width": 0.15, "dash": (0.8, 0.8)},
    Kind.FOLDS: {"colour": ACCENT, "width": 0.25, "dash": (1.2, 0.8)},
    Kind.SLITS: {"width": 0.2},
    Kind.WINDOWS: {"colour": QUIET, "width": 0.1, "fill": PALE},
    Kind.EDGE: {"width": 0.3},
}
SMALL = 7.0
"""An arrow shorter than this has its number beside it, not on itself."""
GAP = 0.2
"""Left between a number and any line, where there is room."""
WORSE = 100
"""To cover another number is as bad as to cover so many lines."""
ROWS = 20.0
"""Motifs whose flaps lie within so many mm of height count as one row."""
SIDES = (
    "right", "lower right", "bottom", "lower left", "left", "upper left", "top", "upper right",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class Step:
    """One flap to fold, by its number."""

    number: int
    raised: Raised
    motif: str
    at: Points
    """A place well inside the flap, from the sheet's top left corner."""
    origin: Points
    """That corner, in the coordinates of the flap."""
    lift_at: str
    """The side of the flap that comes up, as it lies on the page."""


def steps(panel: Panel, flaps: Sequence[Raised]) -> list[Step]:
    """The flaps in the order of folding."""
    origin = np.array(panel.origin)
    middles = [_inside(flap) - origin for flap in flaps]
    of_piece: dict[int, list[Points]] = {}
    for flap, middle in zip(flaps, middles, strict=True):
        of_piece.setdefault(flap.piece, []).append(middle)
    places = {piece: np.mean(found, axis=0) for piece, found in of_piece.items()}
    pieces = _row_by_row(places)
    order = sorted(
        range(len(flaps)),
        key=lambda index: (pieces.index(flaps[index].piece), *middles[index][::-1]),
    )
    return [
        Step(
            number,
            flaps[index],
            panel.pieces[flaps[index].piece].motif.name,
            middles[index],
            origin,
            _free_side(flaps[index]),
        )
        for number, index in enumerate(order, start=1)
    ]


def _row_by_row(places: Mapping[int, Points]) -> list[int]:
    """Rows from the far side, each from left to right; a row is `ROWS` high at most."""
    rows: list[list[int]] = []
    for piece in sorted(places, key=lambda piece: float(places[piece][1])):
        if not rows or places[piece][1] - places[rows[-1][0]][1] > ROWS:
            rows.append([])
        rows[-1].append(piece)
    return [piece for row in rows for piece in sorted(row, key=lambda piece: places[piece][0])]


def write_assembly(
    panel: Panel,
    target: Path | BinaryIO,
    *,
    flaps: Sequence[Raised] = (),
    report: Report | None = None,
    paper: tuple[float, float] = A4,
) -> None:
    """Write the assembly page as PDF, with further pages where the flaps are many.

    `report` adds what the check found; `paper` is the size of the page. A file at `target` is
    replaced only once the new one is whole; ExportError if it cannot be.
    """
    page = Page(*paper, f"{panel.name}: assembly")
    drawing = sketch(panel)
    todo = steps(panel, flaps)
    _heading(page, panel, drawing, todo)
    _plan(page, drawing, todo)
    _words(page, blocks(panel, flaps, report))
    _table(page, todo)
    data = page.finished()
    written(data, target)


def _inside(flap: Raised) -> Points:
    """The middle of the largest circle in a flap."""
    circle = shapely.maximum_inscribed_circle(flap.flap.region, tolerance=0.1)
    middle: Points = shapely.get_coordinates(circle)[0]
    return middle


def _across(flap: Raised) -> Points:
    """The unit vector square to the hinge, towards the rest of the flap."""
    start, end = np.array(flap.flap.hinge)
    along = (end - start) / np.hypot(*(end - start))
    square: Points = np.array([-along[1], along[0]])
    return square if square @ (_inside(flap) - start) > 0 else -square


def _free_side(flap: Raised) -> str:
    x, y = _across(flap)
    return SIDES[round(math.degrees(math.atan2(y, x)) / 45) % 8]


def _heading(page: Page, panel: Panel, drawing: Drawing, todo: Sequence[Step]) -> None:
    page.text(
        MARGIN, 21, page.fitted(panel.name, _room(page), size=20, face=STRONG), size=20, face=STRONG
    )
    card = panel.card
    flaps = f"{len(todo)} flaps to fold" if len(todo) != 1 else "1 flap to fold"
    facts = (
        f"{format_mm(drawing.width)} × {format_mm(drawing.height)}",
        f"{card.name}: {card.grammage:g} g/m², {format_mm(card.caliper)} thick",
        f"{len(panel.pieces)} motifs" if len(panel.pieces) != 1 else "1 motif",
        flaps if todo else "nothing to fold",
    )
    page.text(MARGIN, 28, "   ·   ".join(facts), size=9.5, colour=QUIET)
    page.y = 33


def _plan(page: Page, drawing: Drawing, todo: Sequence[Step]) -> None:
    """The panel in outline with its flaps numbered; many flaps get a page of their own."""
    alone = len(todo) > FEW
    room_x, room_y = _room(page), (0.9 if alone else 0.5) * page.height - page.y
    scale = min(1.0, room_x / drawing.width, room_y / drawing.height)
    corner = np.array([(page.width - scale * drawing.width) / 2, page.y])
    _tint(page, todo, scale, corner)
    for layer in drawing.layers:
        if todo and layer.kind is Kind.FOLDS:
            continue  # drawn with their arrows
        for shape in layer.shapes:
            page.strokes(shape.strokes, scale, corner, **LOOKS[layer.kind])
    _numbers(page, todo, scale, corner)
    page.y = float(corner[1]) + scale * drawing.height + 5
    size = "at true size" if scale == 1 else f"at {100 * scale:.0f} % of true size"
    legend = [f"Front side up, drawn {size}. Solid lines are cut, grey is open."]
    if todo:
        legend.append(
            "What is tinted folds up at its dashed line, towards you; the arrow points to the edge "
            "that comes up."
        )
    for line in legend:
        page.text(page.width / 2, page.y, line, size=8, colour=QUIET, align="middle")
        page.y += 4
    page.y += 5
    if alone:
        page.turn()
        page.y = MARGIN + 4


def _tint(page: Page, todo: Sequence[Step], scale: float, corner: Points) -> None:
    """What folds up."""
    for step in todo:
        region = shapely.simplify(step.raised.flap.region, SKETCHED)
        rings = [shapely.get_coordinates(ring) - step.origin for ring in shapely.get_rings(region)]
        page.strokes(map(exact_stroke, rings), scale, corner, width=0, fill=TINT)


def _numbers(page: Page, todo: Sequence[Step], scale: float, corner: Points) -> None:
    """Hinges and arrows first, then the numbers, each where it covers nothing if that can be."""
    arrows = [_arrow(step, scale, corner) for step in todo]
    for arrow in arrows:
        arrow.draw(page)
    radius = 1.7 if len(todo) < 100 else 2.2
    for step, place in zip(todo, _free_places(arrows, radius), strict=True):
        x, y = place.tolist()
        page.disc(x, y, radius, fill="#ffffff", colour=ACCENT)
        page.text(x, y + 0.85, str(step.number), size=6.5, face=STRONG, align="middle")


def _free_places(arrows: Sequence[_Arrow], radius: float) -> Iterator[Points]:
    """Where the number of each arrow goes: the first place that is clear of other arrows and of
    the numbers before it, else the clearest.
    """
    if not arrows:
        return
    tree = shapely.STRtree([arrow.lines for arrow in arrows])
    taken: list[Points] = []
    for index, arrow in enumerate(arrows):
        places = arrow.places(radius)
        points = shapely.points(places)
        place_of, other = tree.query(points, predicate="dwithin", distance=radius + GAP)
        covered = np.bincount(place_of[other != index], minlength=len(places))
        if taken:
            steps = np.array(places)[:, None] - np.array(taken)[None]
            covered += WORSE * (np.hypot(*steps.transpose(2, 0, 1)) < 2 * radius).sum(axis=1)
        taken.append(places[int(np.argmin(covered))])
        yield taken[-1]


@dataclass(frozen=True, slots=True)
class _Arrow:
    """A hinge and the way its flap comes up, in mm of the page."""

    start: Points
    end: Points
    across: Points
    tip: Points

    @property
    def foot(self) -> Points:
        """The middle of the hinge."""
        return (self.start + self.end) / 2

    def draw(self, page: Page) -> None:
        """The hinge dashed, the arrow thin."""
        side = np.array([-self.across[1], self.across[0]])
        neck = self.tip - 1.6 * self.across
        barbs = [neck + 0.9 * side, self.tip, neck - 0.9 * side]
        page.line(_pairs([self.start, self.end]), colour=ACCENT, width=0.35, dash=(1.2, 0.8))
        page.line(_pairs([self.foot, self.tip]), colour=ACCENT, width=0.25)
        page.line(_pairs(barbs), colour=ACCENT, width=0.25)

    @property
    def lines(self) -> shapely.MultiLineString:
        """What a number should not cover."""
        return shapely.MultiLineString([[self.start, self.end], [self.foot, self.tip]])

    def places(self, radius: float) -> list[Points]:
        """Where its number may go, best first: on a long arrow, before its tip, by the hinge."""
        back = radius + 0.6
        along = np.array([self.across[1], -self.across[0]])
        half = float(np.hypot(*(self.end - self.start))) / 2 + back
        behind = self.foot - back * self.across
        long = np.hypot(*(self.tip - self.foot)) >= SMALL
        return [
            *([(self.foot + self.tip) / 2] if long else []),
            self.tip + back * self.across,
            behind,
            self.foot + half * along,
            self.foot - half * along,
            behind - 2 * back * self.across,
        ]


def _arrow(step: Step, scale: float, corner: Points) -> _Arrow:
    flap, across = step.raised.flap, _across(step.raised)
    start, end = ((np.array(place) - step.origin) * scale + corner for place in flap.hinge)
    return _Arrow(start, end, across, (start + end) / 2 + 0.85 * flap.reach * scale * across)


def _pairs(points: Sequence[Points]) -> list[tuple[float, float]]:
    return [(float(x), float(y)) for x, y in points]


def _words(page: Page, blocks: Sequence[Block]) -> None:
    """Blocks in two columns, and on further pages where they take more."""
    width = (_room(page) - 8) / 2
    parts = [_rows(page, title, texts, width) for title, texts in blocks]
    rows = [row for part in parts for row in part]
    left = _left_column([len(part) for part in parts])
    height = max(left, len(rows) - left)
    while rows:
        room = int((page.height - MARGIN - page.y) / TEXT)
        top, height = page.y, min(height, room)
        for x, most in ((MARGIN, min(left, height)), (MARGIN + width + 8, height)):
            column, rows = _column(rows, most)
            for index, (face, words) in enumerate(column):
                page.text(x, top + index * TEXT, words, face=face)
        page.y = top + height * TEXT + 3
        left = height = len(rows)
        if rows:
            page.turn()
            page.y = MARGIN + 4


def _left_column(lengths: Sequence[int]) -> int:
    """How many lines the left column takes, so that it ends with a block and both are short."""
    ends = [sum(lengths[:count]) for count in range(1, len(lengths) + 1)]
    return min(ends, key=lambda end: max(end, ends[-1] - end))


def _rows(page: Page, title: str, texts: Sequence[str], width: float) -> list[tuple[str, str]]:
    """A block as lines, each with its face; an empty one at the end."""
    lines = [line for text in texts for line in page.wrapped(text, width)]
    return [(STRONG, title), *((PLAIN, line) for line in lines), (PLAIN, "")]


def _column(
    rows: list[tuple[str, str]], height: int
) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """What goes into a column of so many lines, and the rest; no title stands last."""
    while height > 1 and len(rows) > height and rows[height - 1][0] == STRONG:
        height -= 1
    rest = rows[height:]
    while rest and not rest[0][1]:
        rest = rest[1:]
    return rows[:height], rest


def _table(page: Page, todo: Sequence[Step]) -> None:
    """The flaps by number, in as many columns and pages as they take."""
    if not todo:
        return
    stops = (0.0, 9.0, 42.0, 62.0, 74.0)
    heads = ("no.", "motif", "edge to lift", "angle", "height")
    width = (_room(page) - 8) / 2
    waiting = list(todo)
    while waiting:
        top, rows = _begin_table(page, math.ceil(len(waiting) / 2))
        for x in (MARGIN, MARGIN + width + 8):
            if waiting:
                _row(page, x, top, stops, heads, strong=True)
            for index, step in enumerate(waiting[:rows], start=1):
                _row(page, x, top + 0.8 + index * LINE, stops, _cells(page, step))
            waiting = waiting[rows:]


def _begin_table(page: Page, wanted: int) -> tuple[float, int]:
    """Where the table begins and how many rows go under it: here, or on a fresh page."""
    room = int((page.height - MARGIN - page.y - HEAD) / LINE)
    if room < min(wanted, 10):
        page.turn()
        page.y = MARGIN
        room = int((page.height - MARGIN - page.y - HEAD) / LINE)
    top = page.y + HEAD - 5
    page.text(MARGIN, page.y + 1, "Flaps in the order of folding", size=10.5, face=STRONG)
    _from_the_side(page, (page.width + 8) / 2, page.y + 8)
    page.y = page.height
    return top, min(room, wanted)


def _from_the_side(page: Page, x: float, y: float) -> None:
    """What angle and height are: a flap seen from the side, the sheet at `y`."""
    page.text(x, y, "from the side", size=8, colour=QUIET)
    hinge, reach, turn = x + 34.0, 11.0, math.radians(60)
    tip = (hinge + reach * math.cos(turn), y - reach * math.sin(turn))
    page.line([(x + 22, y), (hinge, y)], width=0.5)
    page.line([(hinge + reach + 1, y), (hinge + reach + 10, y)], width=0.5)
    page.line([(hinge, y), tip], colour=ACCENT, width=0.5)
    arc = [turn * share / 12 for share in range(13)]
    page.line(
        [(hinge + 4 * math.cos(at), y - 4 * math.sin(at)) for at in arc], colour=QUIET, width=0.15
    )
    page.line([tip, (hinge + reach + 5, tip[1])], colour=QUIET, width=0.15, dash=(0.6, 0.6))
    page.line([(hinge + reach + 4, tip[1]), (hinge + reach + 4, y)], colour=QUIET, width=0.15)
    page.text(hinge + 4.6, y - 1.2, "angle", size=7, colour=QUIET)
    page.text(hinge + reach + 5, y - 4, "height", size=7, colour=QUIET)


def _row(
    page: Page,
    x: float,
    y: float,
    stops: Sequence[float],
    cells: Sequence[str],
    *,
    strong: bool = False,
) -> None:
    for stop, cell in zip(stops, cells, strict=True):
        if strong:
            page.text(x + stop, y, cell, size=8, face=STRONG, colour=QUIET)
        else:
            page.text(x + stop, y, cell, size=8.5)


def _cells(page: Page, step: Step) -> tuple[str, ...]:
    return (
        str(step.number),
        page.fitted(step.motif, 31, size=8.5),
        step.lift_at,
        f"{step.raised.opening:.0f}°",
        format_mm(round(step.raised.lift, 1)),
    )


def _room(page: Page) -> float:
    return page.width - 2 * MARGIN
