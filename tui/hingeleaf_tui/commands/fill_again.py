"""A panel of the library as work to be done anew: what stays, and where it is refilled."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from hingeleaf.errors import UsageError
from hingeleaf_tui.commands.filling import Job

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from hingeleaf.catalogue.store import Library
    from hingeleaf.fill.edits import Edits
    from hingeleaf.geometry.drawable import Area
    from hingeleaf.model import XY, Field, Motif, Placement
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
    edits: Edits
    fix: bool = False
    """Replace what has a fault that another motif need not have."""


def make_job(library: Library, name: str, wanted: Wanted) -> Job:
    """The job of a panel. Raises UnknownNameError, UsageError."""
    from hingeleaf.fill.mirroring import Axis
    from hingeleaf.fill.partial_fill import pin, staying
    from hingeleaf.panel.recipe import recipe_from_data
    from hingeleaf.session import make_field

    saved = library.panels.get(name)
    recipe = recipe_from_data(saved.recipe)
    if wanted.seed is not None:
        recipe = replace(recipe, rules=replace(recipe.rules, seed=wanted.seed))
    field = saved.field or make_field(recipe)
    mirrored = recipe.rules.symmetric and field.axis is not None
    axis = Axis.through(field.axis) if mirrored and field.axis else None
    placements = pin(saved.placements, wanted.pins, axis)
    revisions = {each.motif: each.revision for each in placements}
    motifs = {motif: library.motif(motif, revision) for motif, revision in revisions.items()}
    if wanted.fix:
        return _fixed(Job(name, recipe, field), library, placements, motifs)
    if wanted.edits:
        return _edited(Job(name, recipe, field), library, placements, motifs, wanted.edits)
    region = None if wanted.only_at is None else _region(recipe, field, wanted)
    return Job(name, recipe, field, staying(placements, motifs, region), region)


def _fixed(
    job: Job, library: Library, placements: Sequence[Placement], motifs: Mapping[str, Motif]
) -> Job:
    """The job of replacing what has a fault. Raises UsageError where nothing has."""
    from hingeleaf.fill.edits import Edits
    from hingeleaf.panel.mending import to_replace
    from hingeleaf.panel.rebuild import make_panel
    from hingeleaf.session import check_panel

    panel = make_panel(job.name, job.recipe, job.field, placements, motifs)
    going = to_replace(panel, check_panel(library, panel))
    if not going:
        raise UsageError(
            f"{job.name} has no fault that another motif could mend.",
            f"`hingeleaf check {job.name}` tells all that was found.",
        )
    mended = _edited(job, library, placements, motifs, Edits(drop=tuple(going)))
    fixed = [
        f"Replaced {placements[number - 1].motif} ({number}): {finding.message}"
        for number, finding in going.items()
    ]
    return replace(mended, fixed=tuple(fixed))


def _edited(
    job: Job,
    library: Library,
    placements: Sequence[Placement],
    motifs: Mapping[str, Motif],
    edits: Edits,
) -> Job:
    """The job of refilling what some edits leave. Raises UsageError, UnknownNameError."""
    from hingeleaf.fill.edits import BEST, apply_edits
    from hingeleaf.panel.recipe import Count

    rules = job.recipe.rules
    if rules.symmetric:
        raise UsageError(
            "The panel is symmetric: an edit of one motif would leave its mirror image.",
            "Pin what is to stay and fill it again, or fill it without symmetry.",
        )
    edited = apply_edits(placements, edits, motifs, job.field, gap=rules.gap, margin=rules.margin)
    stand = Counter(each.motif for each in edited.placements)
    wanted = Counter(library.motif(name).name for _, name in edits.swap if name != BEST)
    counts = tuple(Count(name, stand[name] + times) for name, times in wanted.items())
    gone = {placements[number - 1].motif for number, name in edits.swap if name == BEST}
    return replace(
        job,
        held=edited.placements,
        region=edited.pocket,
        exactly=counts,
        without=frozenset(gone),
    )


def _region(recipe: Recipe, field: Field, wanted: Wanted) -> Area:
    from hingeleaf.fill.partial_fill import refill_region
    from hingeleaf.panel.sheet_coordinates import corner_of

    assert wanted.only_at is not None
    left, top = corner_of(recipe, field)
    at = wanted.only_at[0] + left, wanted.only_at[1] + top
    within = WITHIN if wanted.within is None else wanted.within
    return refill_region(field, at, within, symmetric=recipe.rules.symmetric)
