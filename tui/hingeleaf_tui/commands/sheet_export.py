"""Write many panels on few sheets, with their cut list."""

from __future__ import annotations

import csv
import io
from collections.abc import Callable, Sequence
from fnmatch import fnmatchcase
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from hingeleaf.errors import UsageError
from hingeleaf.orders.costs import Cost, Rates, cost_of
from hingeleaf.orders.nesting import SheetOptions
from hingeleaf_tui.commands.options import OUT_FILE, SIZE
from hingeleaf_tui.forms.options import Decorator, options_of, with_options
from hingeleaf_tui.shared.phrases import plural

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.export.cut_estimate import CutEstimate
    from hingeleaf.export.drawing import Drawing
    from hingeleaf.orders.sheet_drawing import Sheet
    from hingeleaf.panel.compose import Panel

Writer = Callable[[Sequence["Drawing"]], list[Path]]
SHEET_OPTIONS: tuple[Decorator, ...] = (
    click.option(
        "--on", type=SIZE, help="Lay the panels on as few sheets of this size, such as 12x12in."
    ),
    *options_of(SheetOptions()),
    click.option(
        "--cut-list", type=OUT_FILE, help="Also write what lies on which sheet (.csv or .pdf)."
    ),
)


def named_panels(library: Library, words: Sequence[str]) -> list[tuple[str, int | None]]:
    """The panels that words name, with how many of each: `wren`, `wren=3`, `place-*`.

    Raises UsageError, UnknownNameError.
    """
    found: dict[str, int | None] = {}
    known = [row.name for row in library.panels.all()]
    for word in words:
        name, _, times = word.partition("=")
        if times and not (times.isdecimal() and int(times) > 0):
            raise UsageError(f"{word!r} is not a panel and its number.", "Write as in wren=3.")
        matches = [each for each in known if fnmatchcase(each, name)] if "*" in name else [name]
        if not matches:
            raise UsageError(f"No panel is called {name!r}.", "`hingeleaf list --panels` says all.")
        found |= dict.fromkeys(sorted(matches), int(times) if times else None)
    return list(found.items())


def lay(
    panels: Sequence[Panel], copies: Sequence[int | None], given: dict[str, Any], **how: Any
) -> list[Sheet]:
    """The panels on sheets, those of one card together. Raises UsageError."""
    from dataclasses import replace

    from hingeleaf.orders.sheet_drawing import lay_on_sheets

    options = with_options(SheetOptions(), given)
    counts = [options.copies if each is None else each for each in copies]
    sheets: list[Sheet] = []
    for card in dict.fromkeys(panel.card.name for panel in panels):
        some = [number for number, panel in enumerate(panels) if panel.card.name == card]
        sheets += lay_on_sheets(
            [panels[number] for number in some],
            given["on"],
            options,
            [counts[number] for number in some],
            name=f"sheet of {card}",
            **how,
        )
    return [replace(sheet, number=number) for number, sheet in enumerate(sheets, start=1)]


def estimate_data(work: CutEstimate, rates: Rates) -> dict[str, Any]:
    """What one sheet takes; stable keys for JSON, and one line."""
    cost = cost_of([work], rates)
    return {
        "name": work.name,
        "width_mm": round(work.width, 3),
        "height_mm": round(work.height, 3),
        "card": work.card,
        "motifs": work.motifs,
        "nodes": work.nodes,
        "cut_length_mm": round(work.cut_length, 1),
        "fold_length_mm": round(work.fold_length, 1),
        "travel_mm": round(work.travel, 1),
        "line": f"{work.line}; {cost.line}",
        **cost.as_data(),
    }


def write_sheets(
    sheets: Sequence[Sheet], rates: Rates, given: dict[str, Any], write: Writer
) -> dict[str, Any]:
    """Write the sheets and their cut list; what JSON tells of them."""
    from hingeleaf.export.cut_estimate import estimate_sheet

    files = write([sheet.drawing for sheet in sheets])
    estimates = [estimate_sheet(sheet.drawing, sheet.panels) for sheet in sheets]
    answer: dict[str, Any] = {
        "sheets": [
            estimate_data(estimate, rates)
            | {
                "panels": len(sheet.panels),
                "used": round(sheet.used, 4),
                "line": f"{sheet.drawing.name}: {plural(len(sheet.panels), 'panel')}, "
                f"{sheet.used:.0%} of it used, {cost_of([estimate], rates).line}",
            }
            for sheet, estimate in zip(sheets, estimates, strict=True)
        ],
        "work": cost_of(estimates, rates).as_data(),
        "cut_list": [row for sheet in sheets for row in sheet.rows()],
    }
    if given["cut_list"] is not None:
        costs = [cost_of([estimate], rates) for estimate in estimates]
        file = write_cut_list(sheets, costs, cost_of(estimates, rates), given["cut_list"])
        answer["cut_list_file"] = str(file)
        files.append(file)
    return {"files": [str(file) for file in files]} | answer


def write_cut_list(sheets: Sequence[Sheet], costs: Sequence[Cost], whole: Cost, file: Path) -> Path:
    """Write what lies on which sheet; a PDF also says what each takes, and all of them.

    Raises UsageError for another ending, ExportError.
    """
    from hingeleaf.export.files import written

    if file.suffix.casefold() == ".pdf":
        from hingeleaf.orders.cut_list import write_cut_list_page

        write_cut_list_page(sheets, file, [cost.line for cost in costs], whole.line)
        return file
    if file.suffix.casefold() != ".csv":
        raise UsageError(f"{file.name} is no cut list.", "End its name with .csv or .pdf.")
    rows = [row for sheet in sheets for row in sheet.rows()]
    text = io.StringIO()
    table = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    table.writeheader()
    table.writerows(rows)
    written(text.getvalue(), file)
    return file
