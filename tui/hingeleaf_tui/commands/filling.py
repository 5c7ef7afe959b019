"""Run fill jobs: fill, check, write and save panels."""

import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import (
    ExportError,
    FieldError,
    LibraryMovedError,
    LibraryWriteError,
    UsageError,
)
from hingeleaf.export.files import check_target, may_replace
from hingeleaf.export.panel_drawing import draw
from hingeleaf.export.svg import write_svg
from hingeleaf.motif_pool import Pool
from hingeleaf.orders.order_panels import fill_order
from hingeleaf.panel.recipe import recipe_to_data
from hingeleaf.session import FilledField, check_steps, fill_steps
from hingeleaf.tasks import Progress
from hingeleaf.text import plural
from hingeleaf_tui.commands.fill_jobs import Job, MadePanel
from hingeleaf_tui.commands.fill_options import Result
from hingeleaf_tui.commands.fill_report import panel_data, print_left_out, print_report
from hingeleaf_tui.commands.options import print_json
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.commands.tables import print_text
from hingeleaf_tui.shared.file_names import file_names, panel_names


def fill_all(
    library: Library,
    jobs: Sequence[Job],
    result: Result,
    *,
    several: bool,
    refilled: str = "",
    refusals: list[str] | None = None,
    rest: Callable[[Sequence[MadePanel]], dict[str, Any]] = lambda _: {},
) -> list[MadePanel]:
    """Run the jobs and report them; exit code 1 if a check found faults.

    `refilled` is the saved panel that is filled again and may be replaced. With `refusals`, a job
    that fails is added to it and does not stop the others; the exit code is then 2. `rest`
    processes the finished panels and returns further JSON data. All jobs share the motif pool of
    the first.
    """
    targets, names = _targets(jobs, result, several), _names(jobs, result, several)
    if result.saved_as is not None and not (several or may_replace()):
        library.panels.refuse_respelling(result.saved_as, unless=refilled)
    made: list[MadePanel] = []
    with ProgressLine() as line:
        line.update("getting ready", 0)
        work = zip(jobs, targets, names, strict=True)
        for number, (job, target, name) in enumerate(work, start=1):
            line.title = f"{job.name} ({number} of {len(jobs)}): " if several else ""
            pool = _same_pool(made, job)
            try:
                panel = _write(_fill(library, job, pool, line, several), target)
                made.append(_keep(library, panel, job.saved_as or name))
            except (FieldError, UsageError) as error:
                if refusals is None:
                    raise
                refusals.append(f"Line {job.line}, {job.name}: {error}")
                continue
            line.clear()
            print_report(made[-1], result, several)
    more = rest(made)
    _report_all(made, result, refusals, more, several)
    if any(each.report.faults for each in made):
        sys.exit(1)
    return made


def _report_all(
    made: Sequence[MadePanel],
    result: Result,
    refusals: Sequence[str] | None,
    more: Mapping[str, Any],
    several: bool,
) -> None:
    """Report all panels and refusals; exit code 2 if anything was refused."""
    if result.as_json:
        rows = [panel_data(each) for each in made]
        refused = {} if refusals is None else {"refused": [*refusals]}
        print_json({"panels": rows, **refused, **more} if several else rows[0])
    elif made:
        print_left_out(made[0].filled.pool.left_out, to_stderr=str(result.out) == "-")
    all_refusals = [*(refusals or []), *(each.refusal for each in made if each.refusal)]
    for each in all_refusals:
        print_text(f"hingeleaf: {each}", err=True)
    if all_refusals:
        sys.exit(2)


def _same_pool(made: Sequence[MadePanel], job: Job) -> Pool | None:
    """The motif pool of an earlier job with the same choice."""
    for each in made:
        if (each.job.recipe.choice, each.job.recipe.card) == (job.recipe.choice, job.recipe.card):
            return each.filled.pool
    return None


def _fill(
    library: Library, job: Job, pool: Pool | None, line: ProgressLine, several: bool
) -> MadePanel:
    """Run one job; one of several is filled again with other seeds if it has faults."""
    if not several:
        return _fill_once(library, job, pool, line)
    task = fill_order(library, job.recipe, job.name, field=job.field, pool=pool)
    filled, panel, report = run(task, line)
    return MadePanel(replace(job, recipe=filled.recipe), filled, panel, report)


def _fill_once(library: Library, job: Job, pool: Pool | None, line: ProgressLine) -> MadePanel:
    """Run one job once, with the motif pool of earlier jobs if given."""
    refill = job.refill
    task = fill_steps(
        library,
        job.recipe,
        field=job.field,
        pool=None if refill.exactly or refill.without else pool,
        refill=refill,
    )
    filled = run(task, line, _coverage)
    if filled.filling is None:
        raise KeyboardInterrupt  # interrupted before anything was placed
    panel = filled.panel(job.name)
    report = run(check_steps(library, panel), line)
    return MadePanel(job, filled, panel, report)


def _coverage(progress: Progress[FilledField]) -> str:
    if progress.so_far is None or progress.so_far.filling is None:
        return progress.message
    filling = progress.so_far.filling
    return f"{filling.coverage:.1%} covered by {plural(filling.count, 'motif')}"


def _keep(library: Library, made: MadePanel, name: str | None) -> MadePanel:
    if name is None:
        return made
    job = made.job
    replaced = bool(library.panels.taken(name))
    data = recipe_to_data(job.recipe)
    panel = (name, data, made.filling.placements)
    try:
        saved_as = library.panels.save(*panel, field=job.field)
    except LibraryMovedError as error:
        return replace(made, unsaved=error.copy, refusal=str(error))
    except LibraryWriteError as error:
        aside = library.save_panel_aside(*panel, field=job.field)
        remedy = f"The panel was saved in {aside}: `hingeleaf restore {aside}` adds it."
        return replace(made, unsaved=aside, refusal=f"{error.message} {remedy}")
    return replace(made, saved_as=saved_as, replaced=replaced)


def _names(jobs: Sequence[Job], result: Result, several: bool) -> Sequence[str | None]:
    """The name under which to save each panel; several never replace each other."""
    if result.saved_as is None:
        return [None] * len(jobs)
    return (
        panel_names(f"{result.saved_as} {job.name}" for job in jobs)
        if several
        else [result.saved_as]
    )


def _targets(jobs: Sequence[Job], result: Result, several: bool) -> list[Path | None]:
    """The file for each panel; creates the folder for several."""
    out = result.out
    if out is None:
        return [None] * len(jobs)
    if not several:
        if str(out) != "-" and out.suffix.casefold() != ".svg":
            raise UsageError(
                f"{out} is not the name of an SVG file.",
                "End it with .svg; `hingeleaf export` writes other kinds.",
            )
        if not out.absolute().parent.is_dir():
            raise ExportError(f"There is no folder {out.parent}.", "Create it, or choose another.")
        return [out]
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
    files: list[Path | None] = [
        out / f"{name}.svg" for name in file_names(job.name for job in jobs)
    ]
    for file in filter(None, files):
        check_target(file)
    return files


def _write(made: MadePanel, target: Path | None) -> MadePanel:
    if target is None:
        return made
    write_svg(draw(made.panel), sys.stdout if str(target) == "-" else target)
    return replace(made, out=target)
