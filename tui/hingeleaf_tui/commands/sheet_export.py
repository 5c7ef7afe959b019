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
from hingeleaf.orders.nesting import SheetOptions
from hingeleaf_tui.commands.options import OUT_FILE, SIZE
from hingeleaf_tui.forms.options import Decorator, options_of, with_options
from hingeleaf_tui.shared.phrases import plural

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
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


def write_sheets(sheets: Sequence[Sheet], given: dict[str, Any], write: Writer) -> Any:
    """Write the sheets and their cut list; what JSON tells of them."""
    files = write([sheet.drawing for sheet in sheets])
    rows = [row for sheet in sheets for row in sheet.rows()]
    if given["cut_list"] is not None:
        files.append(write_cut_list(sheets, given["cut_list"]))
    return {
        "files": [str(file) for file in files],
        "sheets": [
            {
                "name": sheet.drawing.name,
                "width_mm": round(sheet.drawing.width, 3),
                "height_mm": round(sheet.drawing.height, 3),
                "panels": len(sheet.panels),
                "used": round(sheet.used, 4),
                "line": f"{sheet.drawing.name}: {plural(len(sheet.panels), 'panel')}, "
                f"{sheet.used:.0%} of it used",
            }
            for sheet in sheets
        ],
        "cut_list": rows,
    }


def write_cut_list(sheets: Sequence[Sheet], file: Path) -> Path:
    """Write what lies on which sheet. Raises UsageError for another ending, ExportError."""
    from hingeleaf.export.files import written

    if file.suffix.casefold() == ".pdf":
        from hingeleaf.orders.cut_list import write_cut_list_page

        write_cut_list_page(sheets, file)
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
