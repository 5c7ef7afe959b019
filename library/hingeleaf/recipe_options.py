"""Make fields and recipes from flat options, as Python code gives them."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import replace
from typing import Any

from hingeleaf.errors import UsageError
from hingeleaf.field.letters import Lettering
from hingeleaf.field.specs import FieldSpec, LetterSpec, WordSpec
from hingeleaf.panel.recipe import Recipe
from hingeleaf.params import parameters


def letter(text: str, **style: Any) -> LetterSpec:
    """One letter, or a few, as a field to fill; `style` as in `Lettering`.

    >>> letter("B", height=160).style.height
    160
    """
    spec = LetterSpec(text)
    return replace(spec, style=_with(spec.style, style))


def word(*lines: str, **style: Any) -> WordSpec:
    """A word, or several lines, as a field to fill; `style` as in `Lettering`."""
    spec = WordSpec(lines)
    return replace(spec, style=_with(spec.style, style))


def make_recipe(field: FieldSpec | Recipe, **options: Any) -> Recipe:
    """Make a recipe for a field, or a changed recipe, from flat options.

    Parameters:
        field: The field to fill, such as `letter("B")`; or a recipe.
        options: Any parameter of `Recipe`, `Choice`, `FillOptions` and `Frame`.

    Returns:
        The recipe.

    Raises:
        UsageError: An option is unknown or out of its bounds.

    >>> recipe = make_recipe(letter("B"), gap=1.5, largest=30, seed=7)
    >>> recipe.rules.gap, recipe.choice.largest
    (1.5, 30)
    >>> make_recipe(recipe, gap=-1)
    Traceback (most recent call last):
    hingeleaf.errors.UsageError: The gap cannot be -1 mm. Give 0 to 1000 mm.
    """
    recipe = field if isinstance(field, Recipe) else Recipe(field)
    parts: dict[str, Any] = {part: getattr(recipe, part) for part in ("choice", "rules", "frame")}
    whole = ("card", "keep_outs", *parameters(recipe))
    check_names(options, *map(parameters, parts.values()), whole)
    for name, part in parts.items():
        given = {key: value for key, value in options.items() if key in parameters(part)}
        parts[name] = replace(part, **given)
    return replace(recipe, **parts, **{name: options[name] for name in whole if name in options})


def _with(style: Lettering, given: Mapping[str, Any]) -> Lettering:
    check_names(given, parameters(style))
    return replace(style, **given)


def check_names(options: Mapping[str, Any], *known: Iterable[str]) -> None:
    """Raise UsageError for an option that is not among the known ones."""
    names = {name for some in known for name in some}
    for name in options:
        if name not in names:
            known_names = ", ".join(sorted(names))
            raise UsageError(f"There is no option {name!r}.", f"The options are {known_names}.")
