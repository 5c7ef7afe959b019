"""A panel of the library as work to be done anew: what stays, and where it is refilled."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from hingeleaf_tui.commands.filling import Job

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.geometry.drawable import Area
    from hingeleaf.model import XY, Field
    from hingeleaf.panel.recipe import Recipe


WITHIN = 30.0
"""How far around a place is refilled where nobody says, mm."""


@dataclass(frozen=True, slots=True)
class Wanted:
    """What is wanted of a panel that is filled anew; lengths in mm."""

    seed: int | None
    pins: tuple[int | str, ...]
    """Numbers of placements, counted from 1, and names of motifs."""
    only_at: XY | None
    """The middle of the circle to refill, from the sheet's top left corner."""
    within: float | None


def make_job(library: Library, name: str, wanted: Wanted) -> Job:
    """The job of a panel. Raises UnknownNameError, UsageError."""
    from hingeleaf.fill.mirroring import Axis
    from hingeleaf.fill.partial_fill import pin, staying
    from hingeleaf.panel.recipe import recipe_from_data
    from hingeleaf.session import make_field

    saved = library.panel(name)
    recipe = recipe_from_data(saved.recipe)
    if wanted.seed is not None:
        recipe = replace(recipe, rules=replace(recipe.rules, seed=wanted.seed))
    field = saved.field or make_field(recipe)
    mirrored = recipe.rules.symmetric and field.axis is not None
    axis = Axis.through(field.axis) if mirrored and field.axis else None
    placements = pin(saved.placements, wanted.pins, axis)
    region = None if wanted.only_at is None else _region(recipe, field, wanted)
    revisions = {each.motif: each.revision for each in placements}
    motifs = {motif: library.motif(motif, revision) for motif, revision in revisions.items()}
    return Job(name, recipe, field, staying(placements, motifs, region), region)


def _region(recipe: Recipe, field: Field, wanted: Wanted) -> Area:
    from hingeleaf.fill.partial_fill import refill_region
    from hingeleaf.panel.sheet_coordinates import corner_of

    assert wanted.only_at is not None
    left, top = corner_of(recipe, field)
    at = wanted.only_at[0] + left, wanted.only_at[1] + top
    within = WITHIN if wanted.within is None else wanted.within
    return refill_region(field, at, within, symmetric=recipe.rules.symmetric)
