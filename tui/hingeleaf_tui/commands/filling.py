"""Fill one panel or several: check, write, save and report them."""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import hingeleaf as hl
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import ExportError, UsageError
from hingeleaf.export.files import check_target, may_replace
from hingeleaf.field.specs import FieldSpec, WordSpec
from hingeleaf.orders.costs import rates_of
from hingeleaf.orders.lists import OrderList, read_orders
from hingeleaf.orders.nesting import SheetOptions
from hingeleaf.tasks import Progress, Task
from hingeleaf.text import plural
from hingeleaf_tui.commands.export import write_on_sheets
from hingeleaf_tui.commands.fill_options import Result, read_recipe, read_result
from hingeleaf_tui.commands.fill_report import panel_data, print_left_out, print_report
from hingeleaf_tui.commands.options import print_json
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.commands.tables import print_text
from hingeleaf_tui.forms.options import with_options
from hingeleaf_tui.shared.file_names import file_names


def fill_one(
    library: Library, job: hl.PanelJob, result: Result, *, refilled: str = ""
) -> hl.MadePanel:
    """Fill, check, write and save one panel; `refilled` is the saved one that it may replace.

    Exit code 1 if the check found faults, 2 if the library could not be written.
    """
    target, name = result.out, result.saved_as
    if target is not None:
        _refuse_target(target)
    if name is not None and not may_replace():
        library.panels.refuse_respelling(name, unless=refilled)
    with ProgressLine() as line:
        line.update("getting ready", 0)
        task = hl.fill_steps(library, job.recipe, field=job.field, refill=job.refill)
        filled = run(task, line, _coverage)
        if filled.filling is None:
            raise KeyboardInterrupt  # interrupted before anything was placed
        made = run(hl.check_filled(library, job, filled), line)
        if name is not None:
            made = replace(made, saved=hl.save_panel(library, name, filled))
    _write(made, target)
    print_report(made, result, target, several=False)
    if result.as_json:
        print_json(panel_data(made, target))
    _finish([made], [], result)
    return made


def fill_several(library: Library, jobs: Sequence[hl.PanelJob], result: Result) -> None:
    """Fill, check, write and save several panels, each in a file of its own."""
    files = _files({job.place: job.name for job in jobs}, result.out)
    made = _run(hl.fill_jobs(library, jobs), result, files)
    if result.as_json:
        print_json(_data(made, files))
    _finish(made.made, made.refusals, result)


def fill_list(names_file: Path, options: dict[str, Any], spec: FieldSpec) -> None:
    """Fill a panel for each order and report failures at the end; arrange them on sheets if
    requested.

    Exit code 2 if an order was refused, 1 if a panel has faults.
    """
    result, sheets = read_result(options), with_options(SheetOptions(), options)
    if options["resume"] and result.saved_as is None:
        raise UsageError("--resume needs the name under which panels are saved.", "Add --save.")
    if options["keep_out"]:
        raise UsageError("--each and --keep-out both set a name.", "Give only one of the two.")
    if sheets.on is not None and (result.out is None or result.out.suffix == ""):
        raise UsageError("Sheets need a file to be written to.", "As in --out sheets.svg.")
    read = read_orders(names_file)
    for note in read.notes:
        print_text(note, err=True)
    if not isinstance(spec, WordSpec):
        options |= {"keep_out": "name"}  # replaced by each order's
    labels = {read.place(order): order.label for order in read.orders}
    files = {} if sheets.on else _files(labels, result.out)
    with Library.open(result.library_file, create=False) as library:
        task = hl.fill_list(
            library,
            read,
            read_recipe(spec, options, library),
            save_as=result.saved_as or "",
            resume=options["resume"],
            sheets=sheets,
        )
        made = _run(task, result, files)
        laid = _lay(library, made, read, result, options) if sheets.on else {}
    if result.as_json:
        print_json({**_data(made, files), "refused": made.refusals, **laid})
    _finish(made.made, made.refusals, result)


def _run(task: Task[hl.ListResult], result: Result, files: Mapping[str, Path]) -> hl.ListResult:
    """Run the task of several panels, writing and reporting each as soon as it is made."""
    shown = 0

    def show(made: Sequence[hl.MadePanel]) -> None:
        nonlocal shown
        for each in made[shown:]:
            file = files.get(each.job.place)
            _write(each, file)
            line.clear()
            print_report(each, result, file, several=True)
            shown += 1

    def message(step: Progress[hl.ListResult]) -> str:
        show(step.so_far.made if step.so_far else ())
        return step.message

    with ProgressLine() as line:
        line.update("getting ready", 0)
        made = run(task, line, message)
        show(made.made)
    if not made.complete:
        raise KeyboardInterrupt
    return made


def _lay(
    library: Library,
    made: hl.ListResult,
    read: OrderList,
    result: Result,
    options: dict[str, Any],
) -> dict[str, Any]:
    """Write the panels of this run and of earlier ones on sheets; returns their JSON data."""
    panels = made.panels(library, read)
    if not panels or result.out is None:
        return {}
    times = options["copies"] or 1
    answer = write_on_sheets(
        [(panel, times * copies) for panel, copies in panels],
        rates_of(library),
        result.out,
        options,
    )
    if not result.as_json:
        print_text(f"{plural(len(panels), 'panel')} on {plural(len(answer['sheets']), 'sheet')}.")
        for line in (each["line"] for each in answer["sheets"]):
            print_text(line)
        for file in answer["files"]:
            print_text(f"Written to {file}.")
    return answer


def _data(made: hl.ListResult, files: Mapping[str, Path]) -> dict[str, Any]:
    return {"panels": [panel_data(each, files.get(each.job.place)) for each in made.made]}


def _finish(made: Sequence[hl.MadePanel], refusals: Sequence[str], result: Result) -> None:
    """Report what was not used and what was refused, and exit with 2 or 1 if anything is wrong."""
    if made and not result.as_json:
        print_left_out(made[0].filled.pool.left_out, to_stderr=str(result.out) == "-")
    refused = [*refusals, *(each.saved.refusal for each in made if each.saved.refusal)]
    for each in refused:
        print_text(f"hingeleaf: {each}", err=True)
    if refused:
        sys.exit(2)
    if any(each.report.faults for each in made):
        sys.exit(1)


def _coverage(progress: Progress[hl.FilledField]) -> str:
    if progress.so_far is None or progress.so_far.filling is None:
        return progress.message
    filling = progress.so_far.filling
    return f"{filling.coverage:.1%} covered by {plural(filling.count, 'motif')}"


def _refuse_target(out: Path) -> None:
    """Raise UsageError or ExportError if no single panel can be written to a file."""
    if str(out) != "-" and out.suffix.casefold() != ".svg":
        raise UsageError(
            f"{out} is not the name of an SVG file.",
            "End it with .svg; `hingeleaf export` writes other kinds.",
        )
    if not out.absolute().parent.is_dir():
        raise ExportError(f"There is no folder {out.parent}.", "Create it, or choose another.")


def _files(names: Mapping[str, str], out: Path | None) -> dict[str, Path]:
    """The file of each panel, named after it, by its place; creates the folder."""
    if out is None:
        return {}
    if str(out) == "-":
        raise UsageError(
            "Several panels need a folder, not standard output.", "Name one with --out."
        )
    try:
        out.mkdir(parents=True, exist_ok=True)
    except OSError as problem:
        raise ExportError(
            f"{out} is not a folder that files can be written to.", "Name a new folder."
        ) from problem
    files = [out / f"{name}.svg" for name in file_names(names.values())]
    for file in files:
        check_target(file)
    return dict(zip(names, files, strict=True))


def _write(made: hl.MadePanel, file: Path | None) -> None:
    if file is not None:
        hl.write_svg(hl.draw_panel(made.panel), sys.stdout.buffer if str(file) == "-" else file)
