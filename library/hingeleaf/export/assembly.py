"""The assembly page: for the person who folds the panel and has never seen it before.

Flaps are numbered from the far side of the sheet towards the near one, row by row, so that the
hand that folds never lies on a flap that is already up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any, BinaryIO

import numpy as np

from hingeleaf.export.draw import draw
from hingeleaf.export.drawing import Drawing, Kind, Points
from hingeleaf.export.files import replacing
from hingeleaf.export.page import STRONG, Page
from hingeleaf.model import Source
from hingeleaf.panel.check import Report
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.lifting import Raised
from hingeleaf.units import format_mm

A4 = (210.0, 297.0)
MARGIN = 14.0
QUIET, PALE, ACCENT = "#5b6570", "#dfe3e0", "#8a4b2a"
LINE, HEAD = 4.4, 12.2
"""Height of a row of the table, and of what stands above its first row."""
WORDS = 84.0
"""Height of the texts between plan and table."""
LOOKS: dict[Kind, dict[str, Any]] = {
    Kind.GUIDES: {"colour": PALE, "width": 0.15, "dash": (0.8, 0.8)},
    Kind.FOLDS: {"colour": ACCENT, "width": 0.25, "dash": (1.2, 0.8)},
    Kind.SLITS: {"width": 0.2},
    Kind.WINDOWS: {"colour": QUIET, "width": 0.1, "fill": PALE},
    Kind.EDGE: {"width": 0.3},
}
SMALL = 9.0
"""A flap drawn smaller than this has its number beside its hinge, not on its arrow."""
ROWS = 12.0
"""Flaps within so many mm of height count as one row."""
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
    """Middle of the flap, from the sheet's top left corner."""
    lift_at: str
    """The side of the flap that comes up, as it lies on the page."""


def steps(panel: Panel, flaps: Sequence[Raised]) -> list[Step]:
    """The flaps in the order of folding."""
    origin = np.array(panel.origin)
    middles = [np.array(flap.flap.region.centroid.coords[0]) - origin for flap in flaps]
    order = sorted(range(len(flaps)), key=lambda i: (middles[i][1] // ROWS, middles[i][0]))
    return [
        Step(
            number,
            flaps[index],
            panel.pieces[flaps[index].piece].motif.name,
            middles[index],
            _free_side(flaps[index]),
        )
        for number, index in enumerate(order, start=1)
    ]


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
    drawing = draw(panel)
    todo = steps(panel, flaps)
    _heading(page, panel, drawing, todo)
    _plan(page, drawing, todo)
    _facts(page, panel, report, todo)
    _table(page, todo)
    data = page.finished()
    if isinstance(target, Path):
        with replacing(target) as stream:
            stream.write(data)
    else:
        target.write(data)


def _free_side(flap: Raised) -> str:
    hinge = np.mean(flap.flap.hinge, axis=0)
    across = np.array(flap.flap.region.centroid.coords[0]) - hinge
    eighth = round(np.degrees(np.arctan2(across[1], across[0])) / 45) % 8
    return SIDES[int(eighth)]


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
    """The panel in outline with its flaps numbered."""
    room_x, room_y = _room(page), _plan_height(page, len(todo))
    scale = min(1.0, room_x / drawing.width, room_y / drawing.height)
    corner = np.array([(page.width - scale * drawing.width) / 2, page.y])
    for layer in drawing.layers:
        look = LOOKS[layer.kind]
        for shape in layer.shapes:
            page.strokes(shape.strokes, scale, corner, **look)
    for step in todo:
        _number(page, step, scale, corner)
    page.y = float(corner[1]) + scale * drawing.height + 4
    size = "at true size" if scale == 1 else f"at {100 * scale:.0f} % of true size"
    legend = f"Front side up, drawn {size}. Grey is open."
    if todo:
        legend += (
            " Fold at the dashed lines, towards you; the arrow points to the edge that comes up."
        )
    page.text(page.width / 2, page.y, legend, size=8, colour=QUIET, align="middle")
    page.y += 7


def _plan_height(page: Page, count: int) -> float:
    """Room for the plan: less where that lets the table of flaps stay on the same page."""
    table = HEAD + math.ceil(count / 2) * LINE if count else 0.0
    left = page.height - page.y - WORDS - table - MARGIN
    return left if left >= 0.36 * page.height else 0.55 * page.height


def _number(page: Page, step: Step, scale: float, corner: Points) -> None:
    origin = step.at - np.array(step.raised.flap.region.centroid.coords[0])
    hinge = (np.array(step.raised.flap.hinge) + origin) * scale + corner
    middle = step.at * scale + corner
    foot = hinge.mean(axis=0)
    across = middle - foot
    across = across / max(float(np.hypot(*across)), 1e-9)
    tip = foot + across * step.raised.flap.reach * scale * 0.85
    page.line([tuple(point) for point in hinge], colour=ACCENT, width=0.35, dash=(1.2, 0.8))
    page.line([tuple(foot), tuple(tip)], colour=ACCENT, width=0.25)
    side = np.array([-across[1], across[0]])
    barbs = [tip - 1.6 * across + 0.9 * side, tip, tip - 1.6 * across - 0.9 * side]
    page.line([tuple(point) for point in barbs], colour=ACCENT, width=0.25)
    radius = 1.7 if step.number < 100 else 2.2
    if step.raised.flap.reach * scale < SMALL:
        middle = foot - across * (radius + 0.6)
    page.disc(float(middle[0]), float(middle[1]), radius, fill="#ffffff", colour=ACCENT)
    page.text(
        float(middle[0]),
        float(middle[1]) + 0.85,
        str(step.number),
        size=6.5,
        face=STRONG,
        align="middle",
    )


def _facts(page: Page, panel: Panel, report: Report | None, todo: Sequence[Step]) -> None:
    """What is needed, what to do, what to mind, and whose work it is, in two columns."""
    width = (_room(page) - 8) / 2
    left = [("You need", _needs(panel, todo)), ("What to do", _doing(panel, todo))]
    right = [("Mind", _cautions(report, todo)), ("Whose work this is", _credits(panel))]
    top = page.y
    ends = []
    for x, blocks in ((MARGIN, left), (MARGIN + width + 8, right)):
        page.y = top
        for title, lines in blocks:
            _block(page, x, width, title, lines)
        ends.append(page.y)
    page.y = max(ends)


def _block(page: Page, x: float, width: float, title: str, lines: Sequence[str]) -> None:
    page.text(x, page.y, title, size=10.5, face=STRONG)
    page.y += 4.8
    for line in lines:
        for part in page.wrapped(line, width):
            page.text(x, page.y, part)
            page.y += 4.1
        page.y += 0.6
    page.y += 2.5


def _needs(panel: Panel, todo: Sequence[Step]) -> list[str]:
    width, height = panel.size
    card = panel.card
    needs = [f"One sheet of {card.grammage:g} g/m² card, {format_mm(width)} × {format_mm(height)}."]
    frame = panel.frame
    highest = max((step.raised.lift for step in todo), default=0.0)
    if frame.depth is not None:
        needs.append(
            f"A frame {format_mm(frame.depth)} deep inside that covers {format_mm(frame.rebate)} "
            "of every edge."
        )
    elif highest:
        needs.append(
            f"A frame with more than {format_mm(math.ceil(highest))} between sheet and glass."
        )
    needs.append("A backing sheet in another colour, to show through the openings.")
    return needs


def _doing(panel: Panel, todo: Sequence[Step]) -> list[str]:
    doing = ["1.  Cut: folds first, then slits and windows, the edge last."]
    doing.append("2.  Lift the sheet off and press out what is left in the windows.")
    if todo:
        doing.append(
            "3.  Lay it front side up. Fold the flaps in the order of their numbers, from the far "
            "side towards you. Hold the sheet down along the dashed line with a ruler, and bring "
            "the flap up to its angle."
        )
    doing.append(f"{len(doing) + 1}.  Put the backing behind it and frame it.")
    return doing


def _cautions(report: Report | None, todo: Sequence[Step]) -> list[str]:
    cautions = [
        "The blade is sharp: cut away from your hand, and put it away when you stop.",
        "Pieces that fall out of the windows are small. Collect them; keep them from small "
        "children and pets.",
    ]
    if todo:
        cautions.append("Raised flaps crush easily: carry the sheet by its edges.")
    if report is not None:
        cautions.extend(dict.fromkeys(finding.message for finding in report.faults))
        if not report.faults and report.narrowest is not None:
            cautions.append(f"The narrowest paper is {format_mm(report.narrowest)} wide.")
    return cautions


def _credits(panel: Panel) -> list[str]:
    told: dict[str, list[str]] = {}
    for piece in panel.pieces:
        names = told.setdefault(_credit(piece.motif.source), [])
        if piece.motif.name not in names:
            names.append(piece.motif.name)
    return [f"{', '.join(sorted(names))}: {credit}." for credit, names in sorted(told.items())]


def _credit(source: Source) -> str:
    if source.credit:
        return source.credit.rstrip(".")
    facts = [source.title, f"by {source.maker}" if source.maker else "", source.licence]
    return ", ".join(fact for fact in facts if fact) or "source not noted"


def _table(page: Page, todo: Sequence[Step]) -> None:
    """The flaps by number, in as many columns and pages as they take."""
    if not todo:
        return
    stops = (0.0, 9.0, 42.0, 62.0, 74.0)
    heads = ("no.", "motif", "lift at", "angle", "height")
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
    top = page.y + 7
    page.text(MARGIN, page.y + 1, "Flaps in the order of folding", size=10.5, face=STRONG)
    page.y = page.height
    return top, min(room, wanted)


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
