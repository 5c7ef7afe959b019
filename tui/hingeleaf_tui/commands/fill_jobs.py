"""Fill jobs and their results, made from recipes or from a saved panel that is filled again."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from hingeleaf.catalogue.store import Library
from hingeleaf.fill.edits import Edits
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.mirroring import Axis
from hingeleaf.fill.options import RefillCircle
from hingeleaf.fill.partial_fill import pin, staying
from hingeleaf.model import Field
from hingeleaf.panel.check import Report
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.fit_lettering import fit_recipe, thickening
from hingeleaf.panel.rebuild import corner_of, make_panel
from hingeleaf.panel.recipe import Recipe, recipe_from_data
from hingeleaf.panel.refill import FILL_ALL, PlacedPanel, Refill, circle, edited, fixed
from hingeleaf.session import FilledField, check_panel, make_field


@dataclass(frozen=True, slots=True)
class Job:
    """One panel to be made."""

    name: str
    recipe: Recipe
    field: Field
    refill: Refill = FILL_ALL
    """Which placements stay, and where motifs are placed again."""
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
        """The filling."""
        assert self.filled.filling is not None
        return self.filled.filling


def make_jobs(named: Sequence[tuple[str, Recipe]]) -> list[Job]:
    """The jobs of named recipes; all fields are built first, so that none fails half-way."""
    fitted = [(name, recipe, fit_recipe(recipe)) for name, recipe in named]
    return [
        Job(name, fit, make_field(fit), thickened=thickening(recipe, fit))
        for name, recipe, fit in fitted
    ]


@dataclass(frozen=True, slots=True)
class RefillOptions:
    """Options for refilling a saved panel; lengths in mm."""

    seed: int | None
    pins: tuple[int | str, ...]
    """Numbers of placements, counted from 1, and names of motifs."""
    circle: RefillCircle
    edits: Edits
    fix: bool = False
    """Replace motifs that have a fault which another may not have."""


def refill_job(library: Library, name: str, options: RefillOptions) -> Job:
    """The refill job of a panel. Raises UnknownNameError, UsageError."""
    saved = library.panels.get(name)
    recipe = recipe_from_data(saved.recipe)
    if options.seed is not None:
        recipe = replace(recipe, rules=replace(recipe.rules, seed=options.seed))
    field = saved.field or make_field(recipe)
    mirrored = recipe.rules.symmetric and field.axis is not None
    axis = Axis.through(field.axis) if mirrored and field.axis else None
    placements = pin(saved.placements, options.pins, axis)
    revisions = {each.motif: each.revision for each in placements}
    motifs = {motif: library.motif(motif, revision) for motif, revision in revisions.items()}
    placed = PlacedPanel(recipe, field, placements, motifs)
    return Job(name, recipe, field, _refill(library, name, placed, options))


def _refill(library: Library, name: str, placed: PlacedPanel, options: RefillOptions) -> Refill:
    if options.fix:
        panel = make_panel(name, placed.recipe, placed.field, placed.placements, placed.motifs)
        return fixed(placed, panel, check_panel(library, panel))
    if options.edits:
        return edited(placed, options.edits, lambda motif: library.motif(motif).name)
    if options.circle.at is None:
        return Refill(staying(placed.placements, placed.motifs, None))
    left, top = corner_of(placed.recipe, placed.field)
    at = options.circle.at[0] + left, options.circle.at[1] + top
    return circle(placed, at, options.circle.within)
