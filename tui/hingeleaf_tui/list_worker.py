"""Fill a list of names in the worker process: one saved panel each, laid out on sheets."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.errors import HingeleafError, UsageError
from hingeleaf.orders.nesting import SheetOptions
from hingeleaf.tasks import Progress, Task, map_results

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.orders.lists import Order
    from hingeleaf.panel.compose import Panel
    from hingeleaf.panel.recipe import Recipe


@dataclass(frozen=True, slots=True)
class ListOrder:
    """A list to fill, where its panels are saved, and the sheets to lay them out on."""

    names: Path | None = None
    save_as: str = "place"
    on: tuple[float, float] | None = None
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
    from hingeleaf.orders.lists import read_orders
    from hingeleaf.panel.rebuild import rebuild
    from hingeleaf_tui.shared.file_names import panel_names

    assert wanted.names is not None
    read = read_orders(wanted.names)
    refusals = [*read.refusals]
    names = panel_names(f"{wanted.save_as} {order.label}" for order in read.orders)
    recipe = replace(recipe, cut_keep_outs=wanted.cut)
    made: dict[str, Panel] = {}
    there: list[str] = []
    faulty: list[str] = []
    with Library.open(library, create=False) as opened:
        for number, (order, name) in enumerate(zip(read.orders, names, strict=True)):
            yield Progress(number, len(names), order.label)
            if opened.panels.taken(name):
                made[name] = rebuild(opened, name)
                there.append(name)
                continue
            try:
                task = _fill_one(opened, order, name, recipe, wanted)
                panel, has_faults = yield from map_results(task, lambda _: None)
            except HingeleafError as error:
                refusals.append(f"Line {order.line}: {error}")
                continue
            made[name] = panel
            faulty += [name] * has_faults
        files: list[Path] = []
        if wanted.on is not None and made:
            yield Progress(len(names), len(names), "laying them on sheets")
            copies = [
                order.copies for order, name in zip(read.orders, names, strict=True) if name in made
            ]
            files = _write_sheets(opened, [*made.values()], copies, wanted)
    saved = tuple(name for name in made if name not in there)
    return ListFilled(saved, tuple(there), tuple(faulty), tuple(files), tuple(refusals))


def lay_saved(library: Path, wanted: ListOrder) -> Task[ListFilled]:
    """Lay out saved panels that match a query on sheets. Raises UsageError if there are none."""
    from hingeleaf.catalogue.store import Library
    from hingeleaf.panel.rebuild import rebuild

    with Library.open(library, create=False) as opened:
        names = sorted(row.name for row in opened.panels.search(wanted.query))
        if not names:
            raise UsageError("No saved panel matches.", "Type other words, or none for all.")
        panels = []
        for number, name in enumerate(names):
            yield Progress(number, len(names), name)
            panels.append(rebuild(opened, name))
        copies = [wanted.sheets.copies] * len(names)
        files = _write_sheets(opened, panels, copies, wanted)
    return ListFilled(there=tuple(names), files=tuple(files))


def _fill_one(
    library: Library, order: Order, name: str, recipe: Recipe, wanted: ListOrder
) -> Task[tuple[Panel, bool]]:
    """Fill and save the panel of one order; returns it and whether it has faults."""
    from hingeleaf.orders.order_panels import fill_order, prepare_order
    from hingeleaf.panel.recipe import recipe_to_data

    fitted, area = prepare_order(order, recipe, wanted.on, wanted.sheets)
    task = fill_order(library, fitted, order.label, field=area)
    filled, panel, report = yield from map_results(task, lambda _: None)
    data = recipe_to_data(filled.recipe)
    library.panels.save(name, data, filled.placements, field=filled.field)
    return panel, bool(report.faults)


def _write_sheets(
    library: Library, panels: list[Panel], copies: list[int], wanted: ListOrder
) -> list[Path]:
    """Write the sheets with the panels, and their cut list."""
    from hingeleaf.export.options import ExportOptions
    from hingeleaf.export.writing import write_drawings
    from hingeleaf.orders.costs import rates_of
    from hingeleaf.orders.cut_list import write_cut_list
    from hingeleaf.orders.sheet_drawing import lay_on_sheets

    assert wanted.on is not None
    sheets = lay_on_sheets(panels, wanted.on, wanted.sheets, copies)
    files = write_drawings([sheet.drawing for sheet in sheets], wanted.target, ExportOptions())
    cut_list = write_cut_list(sheets, wanted.target.with_suffix(".pdf"), rates_of(library))
    return [*files, cut_list]
