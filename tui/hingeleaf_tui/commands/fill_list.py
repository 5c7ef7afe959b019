"""Fill one panel for each name in a list, and arrange the panels on sheets."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import HingeleafError, UsageError
from hingeleaf.field.specs import FieldSpec, WordSpec
from hingeleaf.orders.costs import rates_of
from hingeleaf.orders.lists import Order, read_orders
from hingeleaf.orders.nesting import SheetOptions
from hingeleaf.orders.order_panels import prepare_order
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.rebuild import rebuild
from hingeleaf.text import plural
from hingeleaf_tui.commands.export import write_on_sheets
from hingeleaf_tui.commands.fill_jobs import Job, MadePanel
from hingeleaf_tui.commands.fill_options import Result, read_recipe, read_result
from hingeleaf_tui.commands.filling import fill_all
from hingeleaf_tui.commands.progress import ProgressLine
from hingeleaf_tui.commands.tables import print_text
from hingeleaf_tui.forms.options import with_options
from hingeleaf_tui.shared.file_names import panel_names


@dataclass
class _Run:
    """The state of a list run: panels to make, panels made earlier, and refusals."""

    jobs: list[Job]
    copies: dict[str, int]
    """By saved name, or by label if not saved."""
    made_before: dict[str, str]
    """Panels of an earlier run, with their labels."""
    refusals: list[str]


def fill_list(names_file: Path, options: dict[str, Any], spec: FieldSpec) -> None:
    """Fill a panel for each order and report failures at the end; arrange them on sheets if
    requested.

    Exit code 2 if an order was refused, 1 if a panel has faults.
    """
    result = read_result(options)
    if options["resume"] and result.saved_as is None:
        raise UsageError("--resume needs the name under which panels are saved.", "Add --save.")
    if options["keep_out"]:
        raise UsageError("--each and --keep-out both set a name.", "Give only one of the two.")
    if options["on"] is not None and (result.out is None or result.out.suffix == ""):
        raise UsageError("Sheets need a file to be written to.", "As in --out sheets.svg.")
    read = read_orders(names_file)
    for note in read.notes:
        print_text(note, err=True)
    with Library.open(result.library_file, create=False) as library:
        run = _prepared(library, read.orders, result, options, spec, names_file)
        run.refusals[:0] = read.refusals
        laid = options["on"] is not None
        fill_all(
            library,
            run.jobs,
            replace(result, out=None) if laid else result,
            several=True,
            refusals=run.refusals,
            rest=lambda made: _lay(library, run, made, result, options) if laid else {},
        )


def _prepared(
    library: Library,
    orders: Sequence[Order],
    result: Result,
    options: dict[str, Any],
    spec: FieldSpec,
    file: Path,
) -> _Run:
    """The jobs of a list, with lettering fitted so that it holds."""
    run = _Run([], {}, {}, [])
    names = (
        panel_names(f"{result.saved_as} {order.label}" for order in orders)
        if result.saved_as
        else [order.label for order in orders]
    )
    laid = with_options(SheetOptions(), options)
    usual = read_recipe(spec, _with_name(spec, options), library)
    with ProgressLine() as line:
        for number, (order, name) in enumerate(zip(orders, names, strict=True)):
            line.update(f"setting {order.label}", number / len(orders))
            run.copies[name] = run.copies.get(name, 0) + order.copies * (options["copies"] or 1)
            if options["resume"] and library.panels.taken(name):
                run.made_before[name] = order.label
                continue
            try:
                recipe, field = prepare_order(order, usual, options["on"], laid)
            except HingeleafError as error:
                run.refusals.append(f"Line {order.line} of {file.name}: {error}")
                continue
            saved_as = name if result.saved_as else None
            run.jobs.append(Job(order.label, recipe, field, saved_as=saved_as, line=order.line))
    return run


def _with_name(spec: FieldSpec, options: dict[str, Any]) -> dict[str, Any]:
    """The options with a placeholder name to keep out, for fields that are not text."""
    return options if isinstance(spec, WordSpec) else options | {"keep_out": "name"}


def _lay(
    library: Library, run: _Run, made: Sequence[MadePanel], result: Result, options: dict[str, Any]
) -> dict[str, Any]:
    """Write the panels of this run and of earlier ones on sheets; returns their JSON data."""
    by_name: dict[str, Panel] = {each.job.saved_as or each.job.name: each.panel for each in made}
    for name, label in run.made_before.items():
        by_name[name] = replace(rebuild(library, name), name=label)
    panels: list[tuple[Panel, int | None]] = [
        (by_name[name], copies) for name, copies in run.copies.items() if name in by_name
    ]
    if not panels or result.out is None:
        return {}
    answer = write_on_sheets(panels, rates_of(library), result.out, options)
    if not result.as_json:
        print_text(f"{plural(len(panels), 'panel')} on {plural(len(answer['sheets']), 'sheet')}.")
        for line in (each["line"] for each in answer["sheets"]):
            print_text(line)
        for file in answer["files"]:
            print_text(f"Written to {file}.")
    return answer
