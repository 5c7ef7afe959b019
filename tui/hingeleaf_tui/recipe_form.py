"""A panel's recipe as lines to fill in: how each shows, and what typing in it changes.

Works on the library's own recipe, so that what the form does not show is left as it is.
"""

from __future__ import annotations

from collections.abc import Iterator

from hingeleaf.field.letters import Lettering, Measure
from hingeleaf.field.specs import BorderSpec, LetterSpec, OutlineSpec
from hingeleaf.fill.options import FillOptions
from hingeleaf.model import Card
from hingeleaf.panel.recipe import Choice, Recipe
from hingeleaf.paper.cards import DEFAULT
from hingeleaf_tui.recipe_lines import field, motifs, paper
from hingeleaf_tui.recipe_lines.field import kind_of, outside_of, shape_of, style_of, text_of
from hingeleaf_tui.recipe_lines.values import LineOfForm
from hingeleaf_tui.widgets.form import Entry

SIZES = ("outer", "inner", "sheet")
"""Lines that are sizes, and can be chosen from those that frames are sold in."""
CARD = LineOfForm(
    Entry("card", "Card", pick=True, says="Enter lists the cards."),
    lambda recipe: recipe.card.name,
    lambda recipe, text: recipe,
)

GROUPS: tuple[tuple[str, tuple[LineOfForm, ...]], ...] = (
    ("", (*field.FIRST, CARD, *motifs.FIRST)),
    ("Mix", motifs.FINER),
    ("Field, finer", field.FINER),
    ("Sheet and frame", paper.SHEET),
    ("Kept free of motifs", paper.KEPT_FREE),
)
"""The form, from the top down: what is told every time, then the rest under its headings."""

LINES = tuple(line for _, lines in GROUPS for line in lines)


def _entries() -> Iterator[Entry | str]:
    for heading, lines in GROUPS:
        if heading:
            yield heading
        yield from (line.entry for line in lines)


ENTRIES = tuple(_entries())


def usual(card: Card = DEFAULT, query: str = "") -> Recipe:
    """What a new panel starts from."""
    return Recipe(
        field=LetterSpec("B", Lettering(200.0, Measure.INK)),
        card=card,
        choice=Choice(query, smallest=12.0, largest=45.0),
        rules=FillOptions(seed=1),
    )


def shown(recipe: Recipe) -> dict[str, str]:
    """The values of all lines that say something about this recipe."""
    values = {line.entry.key: line.show(recipe) for line in LINES}
    return {key: value for key, value in values.items() if value is not None}


def changed(recipe: Recipe, key: str, text: str) -> Recipe:
    """The recipe with one value as it was typed. Raises HingeleafError for what makes no sense."""
    line = next(line for line in LINES if line.entry.key == key)
    return line.change(recipe, text.strip())


def label(key: str) -> str:
    """What a line is called, within a sentence."""
    return next(line.entry.label for line in LINES if line.entry.key == key).lower()


def describe(recipe: Recipe) -> str:
    """A panel in a few words: `letter B, 200 mm`."""
    style, size = style_of(recipe), outside_of(recipe)
    if style is not None:
        return f"{kind_of(recipe.field)} {text_of(recipe)}, {style.height:g} mm"
    if size is not None:
        kind = "border" if isinstance(recipe.field, BorderSpec) else str(shape_of(recipe))
        return f"{kind}, {size[0]:g} x {size[1]:g} mm"
    return recipe.field.label if isinstance(recipe.field, OutlineSpec) else "panel"


def title(recipe: Recipe) -> str:
    """A short name for a panel, fit for a file: `letter-b-200mm`."""
    words = describe(recipe).replace(", ", " ").replace(" x ", "x").replace(" mm", "mm")
    plain = "".join(letter if letter.isalnum() or letter == "." else " " for letter in words)
    return "-".join(plain.lower().split())
