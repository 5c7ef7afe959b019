"""Fill a list of names in the worker process: one saved panel each, laid out on sheets."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.errors import UsageError
from hingeleaf.orders.nesting import SheetOptions
from hingeleaf.tasks import Progress, Task, map_results

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.panel.compose import Panel
    from hingeleaf.panel.recipe import Recipe


@dataclass(frozen=True, slots=True)
class ListOrder:
    """A list to fill, where its panels are saved, and the sheets to lay them out on."""

    names: Path | None = None
    save_as: str = "place"
    target: Path = Path("sheets.svg")
    sheets: SheetOptions = field(default_factory=SheetOptions)
    cut: bool = True
    """Whether names in other fields are cut out; otherwise they are kept free."""
    query: str = ""
    """The query for saved panels to lay out, if no list is filled."""

    def absolute(self) -> ListOrder:
        """The order with absolute paths, for a process with another working folder."""
        names = self.names.absolute() if self.names else None
        return replace(self, names=names, target=self.target.absolute())


@dataclass(frozen=True, slots=True)
class ListFilled:
    """The results of a list: panels by saved name, files, and refusals."""

    saved: tuple[str, ...] = ()
    there: tuple[str, ...] = ()
    """Panels that already existed under these names."""
    faulty: tuple[str, ...] = ()
    files: tuple[Path, ...] = ()
    refusals: tuple[str, ...] = ()


def fill_list(library: Path, recipe: Recipe, wanted: ListOrder) -> Task[ListFilled]:
    """Fill and save a panel for each name; panels that already exist are not made again.

    A bad line does not stop the others. Raises HingeleafError for an unusable list.
    """
    from hingeleaf.catalogue.store import Library
    from hingeleaf.orders import panel_jobs
    from hingeleaf.orders.lists import read_orders

    assert wanted.names is not None
    read = read_orders(wanted.names)
    recipe = replace(recipe, cut_keep_outs=wanted.cut)
    with Library.open(library, create=False) as opened:
        task = panel_jobs.fill_list(
            opened, read, recipe, save_as=wanted.save_as, resume=True, sheets=wanted.sheets
        )
        result = yield from map_results(task, lambda _: None)
        panels = result.panels(opened, read) if wanted.sheets.on else []
        if panels:
            yield Progress(1, 1, "laying them on sheets")
        files = _write_sheets(opened, panels, wanted) if panels else []
    refused = [each.saved.refusal for each in result.made if each.saved.refusal]
    return ListFilled(
        tuple(each.saved.name for each in result.made if each.saved.name),
        tuple(result.earlier.values()),
        tuple(each.job.save_as for each in result.made if each.report.faults),
        tuple(files),
        (*result.refusals, *refused),
    )


def lay_saved(library: Path, wanted: ListOrder) -> Task[ListFilled]:
    """Lay out saved panels that match a query on sheets. Raises UsageError if there are none."""
    from hingeleaf.catalogue.store import Library
    from hingeleaf.panel.rebuild import rebuild_panel

    with Library.open(library, create=False) as opened:
        names = sorted(row.name for row in opened.panels.search(wanted.query))
        if not names:
            raise UsageError("No saved panel matches.", "Type other words, or none for all.")
        panels = []
        for number, name in enumerate(names):
            yield Progress(number, len(names), name)
            panels.append((rebuild_panel(opened, name), wanted.sheets.copies))
        files = _write_sheets(opened, panels, wanted)
    return ListFilled(there=tuple(names), files=tuple(files))


def _write_sheets(
    library: Library, panels: Sequence[tuple[Panel, int]], wanted: ListOrder
) -> list[Path]:
    """Write the sheets with the panels, and their cut list."""
    from hingeleaf.export.options import ExportOptions
    from hingeleaf.export.writing import write_drawings
    from hingeleaf.orders.costs import rates_of
    from hingeleaf.orders.cut_list import write_cut_list
    from hingeleaf.orders.sheet_drawing import lay_on_sheets

    some, copies = [panel for panel, _ in panels], [count for _, count in panels]
    sheets = lay_on_sheets(some, wanted.sheets, copies)
    files = write_drawings([sheet.drawing for sheet in sheets], wanted.target, ExportOptions())
    cut_list = write_cut_list(sheets, wanted.target.with_suffix(".pdf"), rates_of(library))
    return [*files, cut_list]
