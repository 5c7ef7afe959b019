"""Run fill jobs: fill, check, write, save and report panels."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
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
from hingeleaf.export.svg import write_svg
from hingeleaf.fill.filling import Filling
from hingeleaf.model import Field, Placement
from hingeleaf.motif_pool import Pool
from hingeleaf.orders.filling import fill_order
from hingeleaf.panel.boldness import thickening
from hingeleaf.panel.check import Report
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.findings import grouped
from hingeleaf.panel.fit_lettering import fit_recipe
from hingeleaf.panel.recipe import Recipe, recipe_to_data
from hingeleaf.session import FilledField, check_steps, fill_steps, make_field
from hingeleaf.tasks import Progress
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.answers import evenness_data, finding_data, from_corner, legibility_data
from hingeleaf_tui.commands.fill_options import Result
from hingeleaf_tui.commands.options import print_json
from hingeleaf_tui.commands.progress import ProgressLine, run
from hingeleaf_tui.commands.tables import print_text
from hingeleaf_tui.shared.file_names import file_names, panel_names
from hingeleaf_tui.shared.keep_out import keep_out_data, keep_out_sentences
from hingeleaf_tui.shared.phrases import evenness_sentence, font_sentences
from hingeleaf_tui.shared.refill import FILL_ALL, Refill

OVER = ", replacing the panel of this name; `hingeleaf undo` brings that back"
MAX_LISTED = 5
"""Number of unusable motifs listed by name."""


@dataclass(frozen=True, slots=True)
class Job:
    """One panel to be made."""

    name: str
    recipe: Recipe
    field: Field
    refill: Refill = FILL_ALL
    """What stays, and where motifs are placed anew."""
    saved_as: str | None = None
    """The name to save it under, if it comes from a list that gives one."""
    line: int | None = None
    """The line of the list that it comes from."""
    thickened: float | None = None
    """mm by which its strokes were thickened, where that is automatic."""


@dataclass(frozen=True, slots=True)
class MadePanel:
    """One finished panel."""

    job: Job
    filled: FilledField
    panel: Panel
    report: Report
    out: Path | None = None
    saved_as: str | None = None
    replaced: bool = False
    """Whether it replaced a saved panel of that name."""
    unsaved: Path | None = None
    """The file to which the panel was saved because the library could not be written."""
    refusal: str = ""
    """Why the library could not be written."""

    @property
    def filling(self) -> Filling:
        """What was placed."""
        assert self.filled.filling is not None
        return self.filled.filling


def make_jobs(named: Sequence[tuple[str, Recipe]]) -> list[Job]:
    """The jobs of named recipes; all fields are built first, so that none fails half-way."""
    fitted = [(name, recipe, fit_recipe(recipe)) for name, recipe in named]
    return [
        Job(name, fit, make_field(fit), thickened=thickening(recipe, fit))
        for name, recipe, fit in fitted
    ]


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
            _report(made[-1], result, several)
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
        rows = [_as_data(each) for each in made]
        refused = {} if refusals is None else {"refused": [*refusals]}
        print_json({"panels": rows, **refused, **more} if several else rows[0])
    elif made:
        _report_left_out(made[0].filled.pool.left_out, to_stderr=str(result.out) == "-")
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
        pinned=refill.held,
        region=refill.region,
        exactly=refill.exactly,
        without=refill.without,
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
    write_svg(made.panel, sys.stdout if str(target) == "-" else target)
    return replace(made, out=target)


def _missing_sentence(names: Sequence[str]) -> str:
    return (
        f"There was not enough room for the requested number of: {', '.join(names)}. "
        "Allow smaller motifs, or request fewer."
    )


def _kinds_sentence(made: MadePanel) -> Iterator[str]:
    requested, placed = made.job.recipe.rules.least_kinds, made.filling.kinds
    if placed < requested:
        possible = sum(item.weight > 0 for item in made.filled.pool.items)
        why = "found room" if possible >= requested else "can be used"
        yield f"{plural(placed, 'kind')} only {why} of the {requested} asked for."


def _thickened_sentence(thickened: float | None) -> Iterator[str]:
    if thickened:
        yield f"Strokes are {format_mm(thickened)} thicker on each side, so that motifs fit in."
    elif thickened == 0:
        yield "Strokes are thick enough for motifs as they are."


def _report(made: MadePanel, result: Result, several: bool) -> None:
    """Print a summary; on standard error if the cut file goes to standard output."""
    if result.as_json:
        return
    filling, to_stderr = made.filling, str(made.out) == "-"
    kinds = len({placement.motif for placement in filling.placements})
    apart = "" if filling.least_gap is None else f", {format_mm(filling.least_gap)} apart or more"
    lines = [
        f"{made.job.name}: {filling.coverage:.1%} covered by {plural(filling.count, 'motif')} "
        f"of {plural(kinds, 'kind')}{apart}.",
        *made.job.refill.fixed,
        *([_missing_sentence(filling.missing)] if filling.missing else []),
        *_kinds_sentence(made),
        *_thickened_sentence(made.job.thickened),
        *([] if filling.evenness is None else [evenness_sentence(filling.evenness)]),
        *keep_out_sentences(made.job.recipe),
        *font_sentences(made.job.recipe),
        *(f"  {sentence}" for sentence in _sentences(made)),
    ]
    if not made.report.faults:
        lines.append("The check found no fault.")
    if made.saved_as:
        lines.append(f"Saved in the library as {made.saved_as}{OVER if made.replaced else ''}.")
    if made.out and not to_stderr:
        lines.append(f"Written to {made.out}.")
    if not (made.out or made.saved_as or made.unsaved or several):
        lines.append("Nothing was written: give --out FILE or --save NAME.")
    print_text("\n".join(lines), err=to_stderr)


def _report_left_out(left_out: Mapping[str, str], *, to_stderr: bool) -> None:
    for name, why in list(left_out.items())[:MAX_LISTED]:
        print_text(f"Not used: {name} {why}.", err=to_stderr)
    more = len(left_out) - MAX_LISTED
    if more > 0:
        others = plural(more, "other was", "others were")
        print_text(f"{others} not used; --json lists all.", err=to_stderr)


def _sentences(made: MadePanel) -> Iterator[str]:
    """The first finding of every kind, most serious first, with the number of others."""
    for first, *more in grouped(made.report.findings):
        at = from_corner(first.at, made.panel.origin)
        place = f" at {at[0]:.1f}, {at[1]:.1f} mm" if at else ""
        also = f" (and {len(more)} more like it)" if more else ""
        yield f"{first.severity}{place}: {first.message}{also} {first.remedy}".rstrip()


def _as_data(made: MadePanel) -> dict[str, Any]:
    """JSON data; positions are mm from the sheet's top left corner, as in the cut file."""
    filling, report = made.filling, made.report
    return {
        "name": made.job.name,
        "field": {"kind": made.job.field.kind, "label": made.job.field.label},
        "sheet_mm": list(made.panel.size),
        "coverage": filling.coverage,
        "count": filling.count,
        "least_gap_mm": filling.least_gap,
        "largest_gap_mm": filling.largest_gap,
        "balance": filling.balance,
        "kinds": filling.kinds,
        "thickened_mm": made.job.thickened,
        "missing": list(filling.missing),
        "fixed": list(made.job.refill.fixed),
        **evenness_data(filling.evenness),
        "lifting_share": filling.lifting_share,
        "seed": made.job.recipe.rules.seed,
        "steps": filling.steps,
        "seconds": filling.seconds,
        "holds": report.holds,
        "legibility": legibility_data(report.legibility),
        "loose_parts": report.loose_parts,
        "narrowest_mm": report.narrowest,
        "left_out": dict(made.filled.pool.left_out),
        "substitutes": made.job.recipe.substitutes,
        "kept_free": keep_out_data(made.job.recipe, made.panel.origin),
        "findings": [finding_data(finding, made.panel.origin) for finding in report.findings],
        "saved_as": made.saved_as,
        "replaced": made.replaced,
        "unsaved": None if made.unsaved is None else str(made.unsaved),
        "out": None if made.out is None else str(made.out),
        "placements": [
            {"number": number, **_placement_data(each, made.panel)}
            for number, each in enumerate(filling.placements, start=1)
        ],
    }


def _placement_data(placement: Placement, panel: Panel) -> dict[str, Any]:
    pose = placement.pose
    left, top = panel.origin
    return {
        "motif": placement.motif,
        "revision": placement.revision,
        "x_mm": pose.x - left,
        "y_mm": pose.y - top,
        "turn_degrees": pose.turn,
        "size_mm": pose.size,
        "mirrored": pose.mirrored,
        "bent": pose.bend is not None,
        "pinned": placement.pinned,
    }
