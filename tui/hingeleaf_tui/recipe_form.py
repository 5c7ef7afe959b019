"""A panel's recipe as lines to fill in: how each shows, and what typing in it changes.

Works on the library's own recipe, so that what the form does not show is left as it is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from shapely import MultiPolygon

from hingeleaf.errors import UsageError
from hingeleaf.field.letters import Lettering, Measure
from hingeleaf.field.shapes import Outline
from hingeleaf.field.sizes import named_size
from hingeleaf.field.specs import (
    BorderSpec,
    FieldSpec,
    LetterSpec,
    OutlineSpec,
    ShapeSpec,
    WordSpec,
)
from hingeleaf.fill.rules import Budget, Rules, Spread
from hingeleaf.fonts import find_font
from hingeleaf.model import Card
from hingeleaf.panel.recipe import Choice, Recipe
from hingeleaf.paper.cards import DEFAULT
from hingeleaf.units import MM_PER_INCH, format_mm, parse_length
from hingeleaf_tui.widgets.form import Entry

BUILT_IN = "built-in"
"""What stands for the letter face that comes with Hingeleaf."""
ALL = "all"
FREE = "as they allow"
NO_FILE = "no file yet"
AROUND = "around the field"
"""The sheet is as large as the field and a margin ask for."""
OPEN = "no glass"
TRUST = ("reckoned sizes", "proven sizes")
SIZES = ("outer", "inner", "sheet")
"""Lines that are sizes, and can be chosen from those that frames are sold in."""
OUTSIDE, OPENING = (8 * MM_PER_INCH, 10 * MM_PER_INCH), (4 * MM_PER_INCH, 6 * MM_PER_INCH)


@dataclass(frozen=True, slots=True)
class LineOfForm:
    """One line: its entry, how a recipe shows in it, and the recipe after typing."""

    entry: Entry
    show: Callable[[Recipe], str | None]
    """None where the line says nothing about this kind of field."""
    change: Callable[[Recipe, str], Recipe]


def usual(card: Card = DEFAULT, query: str = "") -> Recipe:
    """What a new panel starts from."""
    return Recipe(
        field=LetterSpec("B", Lettering(200.0, Measure.INK)),
        card=card,
        choice=Choice(query, smallest=12.0, largest=45.0),
        rules=Rules(seed=1),
    )


def shown(recipe: Recipe) -> dict[str, str]:
    """The values of all lines that say something about this recipe."""
    values = {line.entry.key: line.show(recipe) for line in LINES}
    return {key: value for key, value in values.items() if value is not None}


def changed(recipe: Recipe, key: str, text: str) -> Recipe:
    """The recipe with one value as it was typed. Raises HingeleafError for what makes no sense."""
    line = next(line for line in LINES if line.entry.key == key)
    return line.change(recipe, text.strip())


def kind_of(field: FieldSpec) -> str:
    """letter, word, border, shape or outline."""
    return type(field).__name__.removesuffix("Spec").lower()


def _change_kind(recipe: Recipe, kind: str) -> Recipe:
    if kind == kind_of(recipe.field):
        return recipe
    text, style = _text(recipe) or "B", _style(recipe) or Lettering(200.0)
    size = _outside(recipe) or OUTSIDE
    fields: dict[str, FieldSpec] = {
        "outline": OutlineSpec(MultiPolygon(), NO_FILE, height=size[1]),
        "letter": LetterSpec(text, replace(style, measure=Measure.INK)),
        "word": WordSpec((text,), replace(style, measure=Measure.CAPITALS)),
        "border": BorderSpec(size, OPENING),
        "shape": ShapeSpec(Outline.HEART, size),
    }
    if kind not in fields:
        raise UsageError(f"There is no field {kind!r}.", f"Choose {', '.join(fields)}.")
    return replace(recipe, field=fields[kind])


def _text(recipe: Recipe) -> str | None:
    if isinstance(recipe.field, LetterSpec):
        return recipe.field.text
    return " / ".join(recipe.field.lines) if isinstance(recipe.field, WordSpec) else None


def _change_text(recipe: Recipe, text: str) -> Recipe:
    if not text:
        raise UsageError("There is no letter to fill.", "Type at least one.")
    if isinstance(recipe.field, WordSpec):
        lines = tuple(line.strip() for line in text.split("/") if line.strip())
        return replace(recipe, field=replace(recipe.field, lines=lines))
    return replace(recipe, field=LetterSpec(text, _style(recipe) or Lettering(200.0)))


def _style(recipe: Recipe) -> Lettering | None:
    field = recipe.field
    return field.style if isinstance(field, LetterSpec | WordSpec) else None


def _restyle(recipe: Recipe, **values: Any) -> Recipe:
    field = recipe.field
    if not isinstance(field, LetterSpec | WordSpec):
        return recipe
    return replace(recipe, field=replace(field, style=replace(field.style, **values)))


def _font(recipe: Recipe) -> str | None:
    style = _style(recipe)
    if style is None:
        return None
    return BUILT_IN if style.font is None else style.font.name


def _change_font(recipe: Recipe, text: str) -> Recipe:
    return _restyle(recipe, font=None if text in ("", BUILT_IN) else find_font(text))


def _outside(recipe: Recipe) -> tuple[float, float] | None:
    if isinstance(recipe.field, BorderSpec):
        return recipe.field.outer
    return recipe.field.size if isinstance(recipe.field, ShapeSpec) else None


def _change_outside(recipe: Recipe, text: str) -> Recipe:
    size = named_size(text)
    if isinstance(recipe.field, BorderSpec):
        return replace(recipe, field=replace(recipe.field, outer=size))
    if isinstance(recipe.field, ShapeSpec):
        return replace(recipe, field=replace(recipe.field, size=size))
    return recipe


def _opening(recipe: Recipe) -> str | None:
    return _size(recipe.field.inner) if isinstance(recipe.field, BorderSpec) else None


def _change_opening(recipe: Recipe, text: str) -> Recipe:
    if isinstance(recipe.field, BorderSpec):
        return replace(recipe, field=replace(recipe.field, inner=named_size(text)))
    return recipe


def _shape(recipe: Recipe) -> str | None:
    if isinstance(recipe.field, BorderSpec | ShapeSpec):
        return str(recipe.field.shape)
    return None


def _change_shape(recipe: Recipe, text: str) -> Recipe:
    if text not in SHAPES:
        raise UsageError(f"There is no shape {text!r}.", f"Choose {', '.join(SHAPES)}.")
    if isinstance(recipe.field, BorderSpec | ShapeSpec):
        return replace(recipe, field=replace(recipe.field, shape=Outline(text)))
    return recipe


def _outline_file(recipe: Recipe) -> str | None:
    return recipe.field.label if isinstance(recipe.field, OutlineSpec) else None


def _change_outline_file(recipe: Recipe, text: str) -> Recipe:
    if not isinstance(recipe.field, OutlineSpec):
        return recipe
    from hingeleaf.workshop import read_outline

    file = Path(text).expanduser()
    return replace(recipe, field=replace(recipe.field, shape=read_outline(file), label=file.stem))


def _height(recipe: Recipe) -> str | None:
    style = _style(recipe)
    if style is not None:
        return format_mm(style.height)
    if isinstance(recipe.field, OutlineSpec):
        return format_mm(recipe.field.height) if recipe.field.height else "as drawn"
    return None


def _change_height(recipe: Recipe, text: str) -> Recipe:
    if isinstance(recipe.field, OutlineSpec):
        height = None if text in ("", "as drawn") else _length(text)
        return replace(recipe, field=replace(recipe.field, height=height))
    return _restyle(recipe, height=_length(text))


def _change_sheet(recipe: Recipe, text: str) -> Recipe:
    return replace(recipe, sheet=None if text in ("", AROUND) else named_size(text))


def _change_depth(recipe: Recipe, text: str) -> Recipe:
    depth = None if text in ("", OPEN) else _length(text)
    return replace(recipe, frame=replace(recipe.frame, depth=depth))


def _kinds(text: str) -> int:
    if not text.isdecimal() or not 1 <= int(text) <= 10_000:
        raise UsageError(f"{text!r} is not a number of motifs.", "Type 1 or more.")
    return int(text)


def _change_size(name: str) -> Callable[[Recipe, str], Recipe]:
    def change(recipe: Recipe, text: str) -> Recipe:
        length = None if text in ("", FREE) else _length(text)
        limit: dict[str, Any] = {name: length}
        choice = replace(recipe.choice, **limit)
        low, high = choice.smallest, choice.largest
        if low is not None and high is not None and low > high:
            raise UsageError(
                f"From {format_mm(low)} to {format_mm(high)} leaves no size.",
                "The smallest size must not be above the largest.",
            )
        return replace(recipe, choice=choice)

    return change


def _rule(name: str, read: Callable[[str], Any]) -> Callable[[Recipe, str], Recipe]:
    def change(recipe: Recipe, text: str) -> Recipe:
        return replace(recipe, rules=replace(recipe.rules, **{name: read(text)}))

    return change


def _length(text: str) -> float:
    value = parse_length(text)
    if value <= 0:
        raise UsageError("A length of 0 is none.", "Write for example 60mm, 6cm or 2.5in.")
    return value


def _seed(text: str) -> int:
    if not text.isdecimal() or int(text) >= 2**63:
        raise UsageError(f"{text!r} is not a seed.", "Type a whole number, such as 7.")
    return int(text)


def _share(text: str) -> float | None:
    if text in ("", "any"):
        return None
    number = text.removesuffix("%").strip()
    if not number.isdecimal() or int(number) > 100:
        raise UsageError(f"{text!r} is not a share.", "Type a percentage, such as 40%, or any.")
    return int(number) / 100


def _size(size: tuple[float, float]) -> str:
    return f"{format_mm(size[0]).removesuffix(' mm')}x{format_mm(size[1])}"


def _optional(length: float | None) -> str:
    return FREE if length is None else format_mm(length)


KINDS = ("letter", "word", "border", "shape", "outline")
SHAPES = tuple(str(shape) for shape in Outline)

LINES = (
    LineOfForm(
        Entry("kind", "Field", choices=KINDS, says="What is to be filled."),
        lambda recipe: kind_of(recipe.field),
        _change_kind,
    ),
    LineOfForm(
        Entry("text", "Letters", says="Type the letter or the word; / begins another line."),
        _text,
        _change_text,
    ),
    LineOfForm(
        Entry("shape", "Shape", choices=SHAPES, says="The outer shape."), _shape, _change_shape
    ),
    LineOfForm(
        Entry("file", "Outline", says="An SVG file whose outer shape is to be filled."),
        _outline_file,
        _change_outline_file,
    ),
    LineOfForm(
        Entry("height", "Height", step=5, says="How high the field is: 200, 20cm or 8in."),
        _height,
        _change_height,
    ),
    LineOfForm(
        Entry("outer", "Outside", pick=True, says="Enter lists frames; any width x height too."),
        lambda recipe: _size(size) if (size := _outside(recipe)) else None,
        _change_outside,
    ),
    LineOfForm(
        Entry("inner", "Opening", pick=True, says="The hole in the border; Enter lists sizes."),
        _opening,
        _change_opening,
    ),
    LineOfForm(
        Entry("font", "Font", pick=True, says="Enter lists the fonts of this machine."),
        _font,
        _change_font,
    ),
    LineOfForm(
        Entry("card", "Card", pick=True, says="Enter lists the cards."),
        lambda recipe: recipe.card.name,
        lambda recipe, text: recipe,
    ),
    LineOfForm(
        Entry("motifs", "Motifs", says="Which motifs to use, as in a search; empty for all."),
        lambda recipe: recipe.choice.query or ALL,
        lambda recipe, text: replace(
            recipe, choice=replace(recipe.choice, query="" if text == ALL else text)
        ),
    ),
    LineOfForm(
        Entry("gap", "Gap", step=0.5, says="The least paper between two motifs."),
        lambda recipe: format_mm(recipe.rules.gap),
        _rule("gap", parse_length),
    ),
    LineOfForm(
        Entry("smallest", "From", step=1, says="The smallest size a motif may have."),
        lambda recipe: _optional(recipe.choice.smallest),
        _change_size("smallest"),
    ),
    LineOfForm(
        Entry("largest", "To", step=1, says="The largest size a motif may have."),
        lambda recipe: _optional(recipe.choice.largest),
        _change_size("largest"),
    ),
    LineOfForm(
        Entry("seed", "Seed", step=1, says="Another seed fills it another way; n does the same."),
        lambda recipe: str(recipe.rules.seed),
        _rule("seed", _seed),
    ),
    LineOfForm(
        Entry("budget", "Effort", choices=tuple(Budget), says="How long to look for more."),
        lambda recipe: str(recipe.rules.budget),
        _rule("budget", Budget),
    ),
    LineOfForm(
        Entry("outline", "Edge", choices=("not cut", "cut"), says="Whether its edge is cut too."),
        lambda recipe: "cut" if recipe.cut_outline else "not cut",
        lambda recipe, text: replace(recipe, cut_outline=text == "cut"),
    ),
    LineOfForm(
        Entry("spread", "Sizes", choices=tuple(Spread), says="How the sizes are mixed."),
        lambda recipe: str(recipe.rules.spread),
        _rule("spread", Spread),
    ),
    LineOfForm(
        Entry("lifting", "Lifting", says="The share of motifs that lift: 40%, or any."),
        lambda recipe: "any" if (s := recipe.rules.lifting_share) is None else f"{s:.0%}",
        _rule("lifting_share", _share),
    ),
    LineOfForm(
        Entry("mirror", "Mirrored", choices=("no", "yes"), says="Both halves alike."),
        lambda recipe: "yes" if recipe.rules.symmetric else "no",
        _rule("symmetric", lambda text: text == "yes"),
    ),
    LineOfForm(
        Entry("kinds", "Kinds", step=1, says="At most so many different motifs, by the seed."),
        lambda recipe: str(recipe.choice.kinds),
        lambda recipe, text: replace(recipe, choice=replace(recipe.choice, kinds=_kinds(text))),
    ),
    LineOfForm(
        Entry("proven", "Trust", choices=TRUST, says="Reckoned sizes, or only proven by trials."),
        lambda recipe: TRUST[recipe.choice.proven],
        lambda recipe, text: replace(
            recipe, choice=replace(recipe.choice, proven=text == TRUST[True])
        ),
    ),
    LineOfForm(
        Entry("sheet", "Sheet", pick=True, says="The size the panel is cut to, as for a frame."),
        lambda recipe: _size(recipe.sheet) if recipe.sheet else AROUND,
        _change_sheet,
    ),
    LineOfForm(
        Entry("depth", "Depth", step=1, says="From sheet to glass; lifts are checked against it."),
        lambda recipe: OPEN if recipe.frame.depth is None else format_mm(recipe.frame.depth),
        _change_depth,
    ),
)
"""The form, from the top down."""

ENTRIES = tuple(line.entry for line in LINES)


def title(recipe: Recipe) -> str:
    """A short name for a panel, fit for a file: `letter-b-200mm`."""
    style, size = _style(recipe), _outside(recipe)
    if style is not None:
        words = f"{kind_of(recipe.field)} {_text(recipe)} {style.height:g}mm"
    elif size is not None:
        kind = "border" if isinstance(recipe.field, BorderSpec) else str(_shape(recipe))
        words = f"{kind} {size[0]:g}x{size[1]:g}mm"
    else:
        words = recipe.field.label if isinstance(recipe.field, OutlineSpec) else "panel"
    plain = "".join(letter if letter.isalnum() or letter == "." else " " for letter in words)
    return "-".join(plain.lower().split())
