"""Write many panels on few sheets, with their cut list."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from fnmatch import fnmatchcase
from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.orders.costs import Rates, cost_of
from hingeleaf.orders.nesting import SheetOptions
from hingeleaf.text import plural
from hingeleaf_tui.commands.options import OUT_FILE
from hingeleaf_tui.forms.options import Decorator, options_of

SHEET_OPTIONS: tuple[Decorator, ...] = (
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


def estimate_data(work: hl.CutEstimate, rates: Rates) -> dict[str, Any]:
    """The figures of one sheet's cut as JSON data with stable keys, and a summary line."""
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
    sheets: Sequence[hl.Sheet],
    rates: Rates,
    given: dict[str, Any],
    write: Callable[[Sequence[hl.Drawing]], list[Path]],
) -> dict[str, Any]:
    """Write the sheets and their cut list; returns JSON data about them."""
    files = write([sheet.drawing for sheet in sheets])
    estimates = [hl.estimate_cut(sheet.drawing, sheet.panels) for sheet in sheets]
    answer: dict[str, Any] = {
        "sheets": [
            estimate_data(work, rates)
            | {
                "panels": len(sheet.panels),
                "used": round(sheet.used, 4),
                "line": f"{sheet.drawing.name}: {plural(len(sheet.panels), 'panel')}, "
                f"{sheet.used:.0%} of it used, {cost_of([work], rates).line}",
            }
            for sheet, work in zip(sheets, estimates, strict=True)
        ],
        "work": cost_of(estimates, rates).as_data(),
        "cut_list": [row for sheet in sheets for row in sheet.rows()],
    }
    if given["cut_list"] is not None:
        file = hl.write_cut_list(sheets, given["cut_list"], rates)
        answer["cut_list_file"] = str(file)
        files.append(file)
    return {"files": [str(file) for file in files]} | answer
