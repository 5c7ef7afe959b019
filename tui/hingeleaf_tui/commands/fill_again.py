"""Make the job of `fill again`: what stays of a saved panel, and where it is refilled."""

from __future__ import annotations

from dataclasses import dataclass, replace

from hingeleaf.catalogue.store import Library
from hingeleaf.fill.edits import Edits
from hingeleaf.fill.mirroring import Axis
from hingeleaf.fill.options import RefillCircle
from hingeleaf.fill.partial_fill import pin, staying
from hingeleaf.panel.rebuild import make_panel
from hingeleaf.panel.recipe import recipe_from_data
from hingeleaf.panel.sheet_coordinates import corner_of
from hingeleaf.session import check_panel, make_field
from hingeleaf_tui.commands.filling import Job
from hingeleaf_tui.shared.refill import PlacedPanel, Refill, circle, edited, fixed


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


def make_job(library: Library, name: str, options: RefillOptions) -> Job:
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
