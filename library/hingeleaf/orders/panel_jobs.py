"""Fill panels as jobs, one per order of a list or a saved panel again; check and save them."""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from hingeleaf.catalogue.slugs import panel_names
from hingeleaf.errors import FieldError, HingeleafError, UsageError
from hingeleaf.field.letters import Lettering
from hingeleaf.field.specs import BorderSpec, KeepOutText, LetterSpec, ShapeSpec, WordSpec
from hingeleaf.fill.mirroring import Axis
from hingeleaf.fill.options import Budget, Edits, RefillOptions
from hingeleaf.fill.partial_fill import pin, staying
from hingeleaf.fonts import find_font
from hingeleaf.model import Field
from hingeleaf.orders.lists import Order, OrderList
from hingeleaf.orders.nesting import SheetOptions, refuse_large
from hingeleaf.panel.check import Report
from hingeleaf.panel.compose import Panel, sheet_around
from hingeleaf.panel.fit_lettering import fit_recipe, thickening
from hingeleaf.panel.rebuild import corner_of, make_panel, rebuild_panel
from hingeleaf.panel.recipe import Recipe, recipe_from_data
from hingeleaf.panel.refill import (
    FILL_ALL,
    PlacedPanel,
    Refill,
    refill_of_circle,
    refill_of_edits,
    refill_of_findings,
)
from hingeleaf.session import (
    NOT_SAVED,
    FilledField,
    SavedPanel,
    check_panel,
    check_steps,
    fill_steps,
    make_field,
    save_panel,
)
from hingeleaf.tasks import Progress, Task, map_results

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.fill.filling import Filling
    from hingeleaf.motif_pool import Pool

MORE_SEEDS = 3
"""Greatest number of further seeds with which a panel that has faults is filled again."""


@dataclass(frozen=True, slots=True)
class PanelJob:
    """One panel to be made, its field already built."""

    name: str
    recipe: Recipe
    """With fitted lettering."""
    field: Field
    refill: Refill = FILL_ALL
    """Which placements stay, and where motifs are placed again."""
    thickened: float | None = None
    """mm by which its strokes were thickened, where that is automatic."""
    save_as: str = ""
    """The name to save it under; empty if it is not saved."""
    place: str = ""
    """The line of the list that it comes from, in words."""


@dataclass(frozen=True, slots=True)
class MadePanel:
    """A panel that was filled and checked."""

    job: PanelJob
    filled: FilledField
    panel: Panel
    report: Report
    saved: SavedPanel = NOT_SAVED

    @property
    def filling(self) -> Filling:
        """The filling."""
        assert self.filled.filling is not None
        return self.filled.filling


@dataclass(slots=True)
class ListResult:
    """What has been made of a list so far; it grows while the list is filled."""

    made: list[MadePanel] = field(default_factory=list)
    earlier: dict[str, str] = field(default_factory=dict)
    """Panels that an earlier run saved, by the place of their order in the list."""
    refusals: list[str] = field(default_factory=list)
    complete: bool = False
    """Whether no order is left."""

    def panels(self, library: Library, read: OrderList) -> list[tuple[Panel, int]]:
        """The panels of this run and of earlier ones in the list's order, with their copies."""
        made = {each.job.place: each.panel for each in self.made}
        panels = []
        for order in read.orders:
            place = read.place(order)
            if place in self.earlier:
                panel = rebuild_panel(library, self.earlier[place])
                panels.append((replace(panel, name=order.label), order.copies))
            elif place in made:
                panels.append((made[place], order.copies))
        return panels


def make_job(name: str, recipe: Recipe, *, save_as: str = "", place: str = "") -> PanelJob:
    """The job of a recipe: lettering is fitted and the field built.

    Raises FieldError, FontError and UsageError for a field that cannot be made.
    """
    fitted = fit_recipe(recipe)
    made, thickened = make_field(fitted), thickening(recipe, fitted)
    return PanelJob(name, fitted, made, thickened=thickened, save_as=save_as, place=place)


def refill_job(
    library: Library,
    name: str,
    options: RefillOptions,
    *,
    edits: Edits | None = None,
    fix: bool = False,
    seed: int | None = None,
    budget: Budget | None = None,
) -> PanelJob:
    """The job that fills a saved panel again, with its own seed and effort or others.

    Pinned motifs and those outside the circle of `options` stay; with `edits` all those not edited,
    with `fix` all without a fault. A `budget` replaces a time limit. Raises UnknownNameError,
    UsageError.
    """
    saved = library.panels.get(name)
    recipe = recipe_from_data(saved.recipe)
    if seed is not None:
        recipe = replace(recipe, rules=replace(recipe.rules, seed=seed))
    if budget is not None:
        recipe = replace(recipe, rules=replace(recipe.rules, budget=budget, seconds=None))
    field = saved.field or make_field(recipe)
    axis = Axis.through(field.axis) if recipe.rules.symmetric and field.axis else None
    placements = pin(saved.placements, options.pins, axis)
    revisions = {each.motif: each.revision for each in placements}
    motifs = {motif: library.motif(motif, revision) for motif, revision in revisions.items()}
    placed = PlacedPanel(recipe, field, placements, motifs)
    if fix:
        panel = make_panel(name, recipe, field, placements, motifs)
        refill = refill_of_findings(placed, panel, check_panel(library, panel))
    elif edits:
        refill = refill_of_edits(placed, edits, lambda motif: library.motif(motif).name)
    elif options.at is None:
        refill = Refill(staying(placements, motifs, None))
    else:
        left, top = corner_of(recipe, field)
        at = options.at[0] + left, options.at[1] + top
        refill = refill_of_circle(placed, at, options.within)
    return PanelJob(name, recipe, field, refill)


def fill_list(
    library: Library,
    read: OrderList,
    recipe: Recipe,
    *,
    save_as: str = "",
    resume: bool = False,
    sheets: SheetOptions | None = None,
) -> Task[ListResult]:
    """Fill, check and save a panel for each order of a list.

    Parameters:
        library: The library of motifs, in which panels are saved.
        read: The orders, as read by `read_orders`.
        recipe: The recipe that orders are applied to.
        save_as: Panels are saved as this and the order's name; empty if they are not saved.
        resume: Whether panels that are already saved are left as they are.
        sheets: The sheets on which every panel must fit.

    Returns:
        A generator that yields the growing result. All orders are prepared first, so that those
        that cannot be made are known early; a refused order does not stop the others.
    """
    result = ListResult(refusals=[*read.refusals])
    labels = [order.label for order in read.orders]
    names = panel_names(f"{save_as} {label}" for label in labels) if save_as else [""] * len(labels)
    jobs = []
    for number, (order, name) in enumerate(zip(read.orders, names, strict=True)):
        yield Progress(number, len(labels), f"setting {order.label}", result)
        place = read.place(order)
        if resume and name and library.panels.taken(name):
            result.earlier[place] = name
            continue
        try:
            ordered = order_recipe(order, recipe)
            job = make_job(order.label, ordered, save_as=name, place=place)
            if sheets is not None and sheets.on is not None:
                paper = sheet_around(job.field, job.recipe.sheet, job.recipe.margin)
                left, top, right, bottom = paper.bounds
                refuse_large((right - left, bottom - top), sheets.on, sheets, job.name)
        except HingeleafError as error:
            result.refusals.append(f"{place}: {error}")
        else:
            jobs.append(job)
    return (yield from fill_jobs(library, jobs, result))


def fill_jobs(
    library: Library, jobs: Sequence[PanelJob], result: ListResult | None = None
) -> Task[ListResult]:
    """Fill, check and save several panels, adding them to `result`.

    Jobs with the same motifs on the same card share their pool. A job that cannot be filled is
    added to the refusals. Raises CatalogueError if the library cannot be read.
    """
    result = ListResult() if result is None else result
    for number, job in enumerate(jobs, start=1):
        pool = _pool_of(result.made, job.recipe)
        try:
            task = _fill_until_sound(library, job, pool)
            made = yield from _reported(task, f"{job.name} ({number} of {len(jobs)})", result)
        except (FieldError, UsageError) as error:
            result.refusals.append(f"{job.place or job.name}: {error}")
            continue
        if job.save_as:
            made = replace(made, saved=save_panel(library, job.save_as, made.filled))
        result.made.append(made)
    result.complete = True
    return result


def check_filled(library: Library, job: PanelJob, filled: FilledField) -> Task[MadePanel]:
    """Compose a filled field into its panel, and check it."""
    panel = filled.panel(job.name)
    report = yield from map_results(check_steps(library, panel), lambda _: None)
    return MadePanel(replace(job, recipe=filled.recipe), filled, panel, report)


def _fill_until_sound(library: Library, job: PanelJob, pool: Pool | None) -> Task[MadePanel]:
    """Fill a job, with further seeds while the check finds faults; returns the best result."""
    best: MadePanel | None = None
    for more in range(MORE_SEEDS + 1):
        rules = replace(job.recipe.rules, seed=job.recipe.rules.seed + more)
        seeded = replace(job.recipe, rules=rules)
        task = fill_steps(library, seeded, field=job.field, pool=pool)
        filled = yield from map_results(task, lambda _: None)
        pool = filled.pool
        made = yield from check_filled(library, job, filled)
        if best is None or len(made.report.faults) < len(best.report.faults):
            best = made
        if not made.report.faults:
            break
    assert best is not None
    return best


def _reported(
    task: Task[MadePanel], title: str, result: ListResult
) -> Generator[Progress[ListResult], None, MadePanel]:
    """The task of one panel, with its title in messages and the whole result so far."""
    try:
        while True:
            step = next(task)
            yield Progress(step.done, step.total, f"{title}: {step.message}", result)
    except StopIteration as end:
        made: MadePanel = end.value
        return made
    finally:
        task.close()


def _pool_of(made: Sequence[MadePanel], recipe: Recipe) -> Pool | None:
    """The motif pool of an earlier panel with the same choice."""
    for each in made:
        if (each.job.recipe.choice, each.job.recipe.card) == (recipe.choice, recipe.card):
            return each.filled.pool
    return None


def order_recipe(order: Order, recipe: Recipe) -> Recipe:
    """The recipe for an order: its name becomes the field, or replaces the first text in it.

    Size, height, font and motifs are the order's if given. Raises UsageError for a size that does
    not apply to the field, and FontError.
    """
    spec = recipe.field
    if isinstance(spec, LetterSpec | WordSpec):
        style = _styled(spec.style, order)
        made = replace(recipe, field=WordSpec(tuple(order.name.splitlines()), style))
    else:
        texts = [kept for kept in recipe.keep_outs if isinstance(kept, KeepOutText)]
        before = texts[0] if texts else KeepOutText("")
        text = replace(before, text=order.name, style=_styled(before.style, order))
        others = tuple(kept for kept in recipe.keep_outs if kept is not before)
        made = _sized(order, replace(recipe, keep_outs=(text, *others)))
    if not order.motifs:
        return made
    return replace(made, choice=replace(made.choice, query=order.motifs))


def _styled(style: Lettering, order: Order) -> Lettering:
    if order.height is not None:
        style = replace(style, height=order.height)
    return replace(style, font=find_font(order.font)) if order.font else style


def _sized(order: Order, recipe: Recipe) -> Recipe:
    """The recipe at an order's size; the sheet's margin around the field stays the same."""
    spec, size = recipe.field, order.size
    if size is None:
        return recipe
    if isinstance(spec, BorderSpec):
        before = spec.outer
        recipe = replace(recipe, field=replace(spec, outer=size))
    elif isinstance(spec, ShapeSpec):
        before = spec.size
        recipe = replace(recipe, field=replace(spec, size=size))
    else:
        raise UsageError("The size of an outline cannot be set here.", "Leave the column size out.")
    if recipe.sheet is None:
        return recipe
    wide, high = recipe.sheet
    return replace(recipe, sheet=(size[0] + wide - before[0], size[1] + high - before[1]))
