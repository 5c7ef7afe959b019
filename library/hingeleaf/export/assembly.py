"""Assembly pages (PDF): a numbered folding plan, the order of folding and instructions.

The sizes of its layout are our own choice.
"""

import math
from collections.abc import Sequence
from pathlib import Path
from typing import BinaryIO

from hingeleaf.export.files import write_file
from hingeleaf.export.folding_plan import (
    ACCENT,
    QUIET,
    FoldStep,
    draw_folding_plan,
    draw_weeding_plan,
    fold_steps,
)
from hingeleaf.export.page import PLAIN, STRONG, Page
from hingeleaf.model import Finding, Source
from hingeleaf.panel.cautions import cautions
from hingeleaf.panel.check import Report
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.findings import group_findings
from hingeleaf.panel.folding import CLEARANCE
from hingeleaf.panel.lifting import Raised
from hingeleaf.panel.weak_places import DAMP_CAUTION
from hingeleaf.panel.weeding import weeding_order
from hingeleaf.text import plural
from hingeleaf.units import A4, format_mm, format_size

MARGIN = 14.0
ROW_HEIGHT, TABLE_HEAD = 4.4, 21.0
"""Height of a row of the table, and of the space above its first row, mm."""
LINE_SPACING = 4.3
"""mm from one line of text to the next."""
COLUMNS = {"no.": 8.0, "motif": 30.0, "edge to lift": 19.0, "fold → rest": 18.0, "height": 15.0}
"""Titles and widths of the columns of the table of flaps, mm."""
MAX_FLAPS_BESIDE_TABLE = 8
"""With more flaps than this the plan may fill a page of its own."""


def write_assembly(
    panel: Panel,
    target: Path | BinaryIO,
    *,
    flaps: Sequence[Raised] = (),
    report: Report | None = None,
    paper: tuple[float, float] = A4,
) -> None:
    """Write the assembly page as PDF, with further pages if there are many flaps.

    `report` adds the findings of the check; `paper` is the page size. A file at `target` is
    replaced only once the new one is complete; raises ExportError if it cannot be.
    """
    page = Page(*paper, f"{panel.name}: assembly")
    steps = fold_steps(panel, flaps)
    _draw_heading(page, panel, steps)
    alone = len(steps) > MAX_FLAPS_BESIDE_TABLE
    draw_folding_plan(
        page, panel, steps, (_text_width(page), (0.9 if alone else 0.5) * page.height - page.y)
    )
    if alone and page.y > 0.5 * page.height:
        page.turn(MARGIN + 4)
    _draw_text(page, text_blocks(panel, flaps, report))
    _draw_table(page, steps)
    _draw_weeding(page, panel)
    write_file(page.finished(), target)


def _draw_weeding(page: Page, panel: Panel) -> None:
    """A separate page with the order of weeding, if there is one."""
    order = weeding_order(panel)
    if len(order) < 2:
        return
    page.turn(MARGIN + 4)
    page.text(MARGIN, page.y, "Weeding", size=12, face=STRONG)
    page.y += 6
    draw_weeding_plan(page, panel, order, (_text_width(page), 0.88 * page.height - page.y))


def _draw_heading(page: Page, panel: Panel, steps: Sequence[FoldStep]) -> None:
    page.text(MARGIN, 21, panel.name, size=20, face=STRONG, within=_text_width(page))
    card = panel.card
    facts = (
        format_size(panel.size),
        f"{card.name}: {card.grammage:g} g/m², {format_mm(card.caliper)} thick",
        plural(len(panel.pieces), "motif"),
        f"{plural(len(steps), 'flap')} to fold" if steps else "nothing to fold",
    )
    page.text(MARGIN, 28, "   ·   ".join(facts), size=9.5, colour=QUIET)
    page.y = 33


def _draw_text(page: Page, blocks: Sequence["TextBlock"]) -> None:
    """Blocks in two columns, continued on further pages if needed."""
    width = (_text_width(page) - 8) / 2
    parts = [_rows(page, title, texts, width) for title, texts in blocks]
    rows = [row for part in parts for row in part]
    left = _left_column([len(part) for part in parts])
    height = max(left, len(rows) - left)
    while rows:
        room = int((page.height - MARGIN - page.y) / LINE_SPACING)
        top, height = page.y, min(height, room)
        for x, most in ((MARGIN, min(left, height)), (MARGIN + width + 8, height)):
            column, rows = _column(rows, most)
            for index, (face, words) in enumerate(column):
                page.text(x, top + index * LINE_SPACING, words, face=face)
        page.y = top + height * LINE_SPACING + 3
        left = height = len(rows)
        if rows:
            page.turn(MARGIN + 4)


def _left_column(lengths: Sequence[int]) -> int:
    """Number of lines in the left column, so that it ends with a block and both are short."""
    ends = [sum(lengths[:count]) for count in range(1, len(lengths) + 1)]
    return min(ends, key=lambda end: max(end, ends[-1] - end))


def _rows(page: Page, title: str, texts: Sequence[str], width: float) -> list[tuple[str, str]]:
    """A block as lines, each with its face, and an empty one at the end."""
    lines = [line for text in texts for line in page.wrapped(text, width)]
    return [(STRONG, title), *((PLAIN, line) for line in lines), (PLAIN, "")]


def _column(
    rows: list[tuple[str, str]], height: int
) -> tuple[list[tuple[str, str]], list[tuple[str, str]]]:
    """Split lines into a column of `height` lines and the rest, without a title at the end."""
    while height > 1 and len(rows) > height and rows[height - 1][0] == STRONG:
        height -= 1
    rest = rows[height:]
    while rest and not rest[0][1]:
        rest = rest[1:]
    return rows[:height], rest


def _draw_table(page: Page, steps: Sequence[FoldStep]) -> None:
    """The flaps by number, in as many columns and pages as needed."""
    if not steps:
        return
    width = (_text_width(page) - 8) / 2
    waiting = list(steps)
    while waiting:
        top, rows = _begin_table(page, math.ceil(len(waiting) / 2))
        for x in (MARGIN, MARGIN + width + 8):
            if waiting:
                _draw_row(page, x, top, tuple(COLUMNS), size=8, face=STRONG, colour=QUIET)
            for index, step in enumerate(waiting[:rows], start=1):
                _draw_row(page, x, top + 0.8 + index * ROW_HEIGHT, _cells(step))
            waiting = waiting[rows:]


def _begin_table(page: Page, wanted: int) -> tuple[float, int]:
    """Start a table: its top, and the number of rows below, on this page or a new one."""
    room = int((page.height - MARGIN - page.y - TABLE_HEAD) / ROW_HEIGHT)
    if room < min(wanted, 10):
        page.turn(MARGIN)
        room = int((page.height - MARGIN - page.y - TABLE_HEAD) / ROW_HEIGHT)
    top = page.y + TABLE_HEAD - 5
    page.text(MARGIN, page.y + 1, "Flaps in the order of folding", size=10.5, face=STRONG)
    _draw_side_view(page, (page.width + 8) / 2, page.y + 8)
    page.y = page.height
    return top, min(room, wanted)


def _draw_side_view(page: Page, x: float, y: float) -> None:
    """Explain angle and height: a flap seen from the side, the sheet at `y`."""
    page.text(x, y, "from the side", size=8, colour=QUIET)
    hinge, reach, turn = x + 34.0, 11.0, math.radians(60)
    tip = (hinge + reach * math.cos(turn), y - reach * math.sin(turn))
    page.lines(
        [[(x + 22, y), (hinge, y)], [(hinge + reach + 1, y), (hinge + reach + 10, y)]], width=0.5
    )
    page.lines([[(hinge, y), tip]], colour=ACCENT, width=0.5)
    arc = [turn * share / 12 for share in range(13)]
    swung = [(hinge + 4 * math.cos(at), y - 4 * math.sin(at)) for at in arc]
    lift = [(hinge + reach + 4, tip[1]), (hinge + reach + 4, y)]
    page.lines([swung, lift], colour=QUIET, width=0.15)
    page.lines([[tip, (hinge + reach + 5, tip[1])]], colour=QUIET, width=0.15, dash=(0.6, 0.6))
    page.text(hinge + 4.6, y - 1.2, "angle", size=7, colour=QUIET)
    page.text(hinge + reach + 5, y - 4, "height", size=7, colour=QUIET)


def _draw_row(
    page: Page, x: float, y: float, cells: Sequence[str], size: float = 8.5, **how: str
) -> None:
    for cell, width in zip(cells, COLUMNS.values(), strict=True):
        page.text(x, y, cell, size=size, within=width - 1, **how)
        x += width


def _cells(step: FoldStep) -> tuple[str, ...]:
    return (
        str(step.number),
        step.motif,
        step.lifted_side,
        f"{step.raised.folded:.0f}° → {step.raised.opening:.0f}°",
        format_mm(round(step.raised.lift, 1)),
    )


def _text_width(page: Page) -> float:
    return page.width - 2 * MARGIN


TextBlock = tuple[str, list[str]]
"""A title and its paragraphs."""


def text_blocks(panel: Panel, flaps: Sequence[Raised], report: Report | None) -> list[TextBlock]:
    """All blocks, for a panel and the flaps to be raised."""
    highest = max((flap.lift_range[1] for flap in flaps), default=None)
    return [
        ("You need", _tools_needed(panel, highest)),
        ("What to do", _instructions(panel, flaps)),
        ("Mind", _cautions(panel, flaps, report)),
        ("Whose work this is", credit_lines(panel)),
    ]


def _tools_needed(panel: Panel, highest: float | None) -> list[str]:
    frame = panel.frame
    needs = [
        f"One sheet of {panel.card.grammage:g} g/m² card, {format_size(panel.size)}.",
        "A backing sheet in another colour, to show through the openings.",
    ]
    if highest is not None:
        needs.append("A ruler, and something blunt to press the folds with.")
    if frame.depth is not None:
        needs.append(f"A frame with {format_mm(frame.depth)} between sheet and glass.")
    elif highest is not None:
        room = format_mm(math.ceil(highest + CLEARANCE))
        needs.append(f"A frame with at least {room} between sheet and glass.")
    if frame.rebate:
        needs.append(f"The frame covers {format_mm(frame.rebate)} of every edge.")
    return needs


def _instructions(panel: Panel, flaps: Sequence[Raised]) -> list[str]:
    doing = [
        "Cut: folds first, then slits and windows, the edge last.",
        "Lift the sheet off and press out what is left in the windows.",
    ]
    if flaps:
        first = flaps[0]
        doing += [
            "Lay it front side up, as on the plan. Fold the flaps in the order of their numbers, "
            "from the far side towards you, so that your hand never lies on one that is up.",
            "For each: lay the ruler along the dashed line, lift the edge that the arrow points "
            "to, and fold the flap as far as the table says: paper springs back for days. "
            f"Folded to {first.folded:.0f}°, it will rest near {first.opening:.0f}°.",
        ]
    if not panel.outline.is_empty:
        doing.append(
            "The outline hangs in the sheet on short ties: leave them, or cut them by hand, last "
            "of all, to take it out."
        )
    doing.append("Put the backing behind it and frame it.")
    return [f"{number}.  {words}" for number, words in enumerate(doing, start=1)]


def _cautions(panel: Panel, flaps: Sequence[Raised], report: Report | None) -> list[str]:
    notes = list(cautions(panel.cuts, flaps))
    if flaps:
        notes.append("Raised flaps crush easily: carry the sheet by its edges.")
    notes.append(DAMP_CAUTION)
    if report is not None and report.narrowest is not None:
        notes.append(f"The narrowest paper is {format_mm(report.narrowest)} wide.")
    if report is not None:
        notes.extend(_first_of_each(report.faults))
    return notes


def _first_of_each(faults: Sequence[Finding]) -> list[str]:
    return [
        f"The check found: {first.message}" + (f" And {len(more)} more like it." if more else "")
        for first, *more in group_findings(faults)
    ]


def credit_lines(panel: Panel) -> list[str]:
    """Every source once, with all motifs that come from it."""
    titles: dict[str, set[str]] = {}
    for piece in panel.pieces:
        source = piece.motif.source
        titles.setdefault(_credit(source), set()).add(source.title or piece.motif.name)
    return [f"{', '.join(sorted(names))}: {credit}." for credit, names in sorted(titles.items())]


def _credit(source: Source) -> str:
    if source.credit:
        return source.credit.rstrip(".")
    facts = [f"by {source.maker}" if source.maker else "", source.licence]
    return ", ".join(fact for fact in facts if fact) or "source not noted"
