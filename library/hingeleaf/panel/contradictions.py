"""Refuse contradictory fill options, naming the two and which to give up."""

from collections.abc import Sequence

from shapely import MultiPolygon

from hingeleaf.errors import UsageError
from hingeleaf.field.specs import KeepOut, KeepOutText, with_middle
from hingeleaf.fill.pool import PoolItem
from hingeleaf.model import Field, Motif, Placement
from hingeleaf.panel.recipe import Recipe
from hingeleaf.units import format_mm

MAX_COVERAGE = 0.85
"""Upper bound for the covered share of a field: our best fillings reach three quarters."""


def refuse_contradictions(
    recipe: Recipe,
    field: Field,
    items: Sequence[PoolItem],
    pinned: Sequence[tuple[Placement, Motif]] = (),
) -> None:
    """Raise UsageError for the first two options that cannot both be satisfied."""
    _refuse_too_many(recipe, field, items)
    _refuse_kinds(recipe, items)
    _refuse_lifting(recipe, items)
    _refuse_pinned(recipe, pinned)


def _refuse_too_many(recipe: Recipe, field: Field, items: Sequence[PoolItem]) -> None:
    """Refuse more of the named motifs than fit the field at their smallest sizes."""
    named = [item for item in items if item.least > 0 and item.weight > 0]
    needs = [item.least * _least_area(item) for item in named]
    room = MAX_COVERAGE * field.area.area
    if sum(needs) <= room:
        return
    most = max(range(len(named)), key=needs.__getitem__)
    item, others = named[most], sum(needs) - needs[most]
    fit = int(max(0.0, room - others) / _least_area(item))
    one = item.least == 1
    raise UsageError(
        f"{item.least} {item.name} and none smaller than {format_mm(item.sizes.smallest)} exclude "
        f"each other: {'it needs' if one else 'they need'} {needs[most] / 100:.0f} cm² and "
        f"{field.label} has {room / 100:.0f} cm² for motifs.",
        f"Ask for {fit} at most, allow smaller ones, or make the field larger."
        if fit
        else "Leave it out, allow smaller ones, or make the field larger.",
    )


def _least_area(item: PoolItem) -> float:
    return float(item.footprint.area) * (item.sizes.smallest / item.drawn_size) ** 2


def _refuse_kinds(recipe: Recipe, items: Sequence[PoolItem]) -> None:
    """Refuse fewer motifs named or allowed than the number of different ones requested."""
    least, most = recipe.rules.least_kinds, recipe.choice.kinds
    if least > most:
        raise UsageError(
            f"At least {least} kinds and at most {most} exclude each other.",
            "Change --least-kinds or --kinds.",
        )
    named = [item for item in items if item.weight > 0 and item.least > 0]
    if 0 < len(named) < least and len(named) == sum(item.weight > 0 for item in items):
        raise UsageError(
            f"{len(named)} motifs are named, and {least} kinds are asked for.",
            f"Name {least - len(named)} more, or ask for fewer kinds with --least-kinds.",
        )


def _refuse_lifting(recipe: Recipe, items: Sequence[PoolItem]) -> None:
    """Refuse a named motif that lifts where none may, or stays flat where all must lift."""
    share = recipe.rules.lifting_share
    if share not in (0.0, 1.0):
        return
    for item in items:
        if item.least > 0 and item.weight > 0 and item.lifts != bool(share):
            raise UsageError(
                f"{item.name} is asked for and {'lifts' if item.lifts else 'stays flat'}, but "
                f"{'every motif is' if share else 'no motif is'} to lift.",
                f"Leave {item.name} out, or change --lifting.",
            )


def _refuse_pinned(recipe: Recipe, pinned: Sequence[tuple[Placement, Motif]]) -> None:
    """Refuse a pinned motif on a keep-out."""
    if not (pinned and recipe.keep_outs):
        return
    bare = recipe.field.build()
    for keep_out in recipe.keep_outs:
        shape = with_middle(keep_out, recipe.field).shape_in(bare)
        for placement, motif in pinned:
            if placement.pose.place(motif.footprint, motif.size).intersects(shape):
                raise UsageError(
                    f"{placement.motif} is pinned where {_describe(keep_out, shape)} is kept free.",
                    "Unpin or move the motif, or keep another place free.",
                )


def _describe(keep_out: KeepOut, shape: MultiPolygon) -> str:
    if isinstance(keep_out, KeepOutText):
        return repr(" ".join(keep_out.text.split()))
    left, top, right, bottom = shape.bounds
    return f"a drawing of {right - left:.0f} x {bottom - top:.0f} mm"
