"""Fill panels for orders: apply an order to the recipe, retry other seeds if the check fails."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

from hingeleaf.errors import UsageError
from hingeleaf.field.letters import Lettering
from hingeleaf.field.specs import BorderSpec, KeepOutText, LetterSpec, ShapeSpec, WordSpec
from hingeleaf.fonts import find_font
from hingeleaf.model import Field
from hingeleaf.orders.lists import Order
from hingeleaf.orders.nesting import SheetOptions, refuse_large
from hingeleaf.panel.check import Report
from hingeleaf.panel.compose import Panel, sheet_around
from hingeleaf.panel.fit_lettering import fit_recipe
from hingeleaf.panel.recipe import Recipe
from hingeleaf.session import FilledField, check_steps, fill_steps, make_field
from hingeleaf.tasks import Task, map_results

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.motif_pool import Pool

SEEDS_MORE = 3
"""Greatest number of further seeds with which a panel that has faults is filled again."""


class CheckedFilling(NamedTuple):
    """A filling with its panel and check report."""

    filled: FilledField
    panel: Panel
    report: Report


class PreparedOrder(NamedTuple):
    """An order ready to be filled: the recipe with fitted lettering, and its field."""

    recipe: Recipe
    field: Field


def prepare_order(
    order: Order,
    recipe: Recipe,
    on: tuple[float, float] | None = None,
    options: SheetOptions | None = None,
) -> PreparedOrder:
    """Prepare an order, checking that it fits on sheets of size `on` if given.

    Raises FieldError, FontError and UsageError for an order that cannot be made.
    """
    fitted = fit_recipe(order_recipe(order, recipe))
    field = make_field(fitted)
    if on is not None:
        left, top, right, bottom = sheet_around(field, fitted.sheet, fitted.margin).bounds
        size = right - left, bottom - top
        refuse_large(size, on, options or SheetOptions(), order.label)
    return PreparedOrder(fitted, field)


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


def fill_order(
    library: Library, recipe: Recipe, name: str, *, field: Field, pool: Pool | None = None
) -> Task[CheckedFilling]:
    """Fill a field, retrying with further seeds while the check finds faults; keep the best.

    Parameters:
        library: The library of motifs.
        recipe: The recipe, with fitted lettering.
        name: The name of the panel.
        field: The recipe's field.
        pool: The recipe's motifs, if already gathered.

    Returns:
        A generator of progress.

    Raises:
        FieldError, UsageError: No motif fits, or none is left to fill with.
    """
    best: CheckedFilling | None = None
    for more in range(SEEDS_MORE + 1):
        rules = replace(recipe.rules, seed=recipe.rules.seed + more)
        seeded = replace(recipe, rules=rules)
        task = fill_steps(library, seeded, field=field, pool=pool)
        filled = yield from map_results(task, lambda _: None)
        pool = filled.pool
        panel = filled.panel(name)
        report = yield from map_results(check_steps(library, panel), lambda _: None)
        if best is None or len(report.faults) < len(best.report.faults):
            best = CheckedFilling(filled, panel, report)
        if not report.faults:
            break
    assert best is not None
    return best
