"""What is filled: a letter, a word, a border, a plain shape or an outline of one's own."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from shapely import MultiPolygon

from hingeleaf.errors import UsageError
from hingeleaf.field.letters import Align, Lettering, Measure
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
from hingeleaf.fonts import find_font
from hingeleaf.panel.recipe import Recipe
from hingeleaf.units import MM_PER_INCH, format_mm, parse_length
from hingeleaf_tui.recipe_lines.values import (
    LineOfForm,
    length,
    number,
    or_none,
    show_size,
    shown_or,
)
from hingeleaf_tui.widgets.form import Entry

BUILT_IN = "built-in"
"""What stands for the letter face that comes with Hingeleaf."""
NO_FILE = "no file yet"
AS_DRAWN = "as drawn"
ANY = "any"
AS_OUTSIDE = "as outside"
OUTSIDE, OPENING = (8 * MM_PER_INCH, 10 * MM_PER_INCH), (4 * MM_PER_INCH, 6 * MM_PER_INCH)
KINDS = ("letter", "word", "border", "shape", "outline")
SHAPES = tuple(str(shape) for shape in Outline)
Change = Callable[[Recipe, str], Recipe]


def kind_of(field: FieldSpec) -> str:
    """letter, word, border, shape or outline."""
    return type(field).__name__.removesuffix("Spec").lower()


def text_of(recipe: Recipe) -> str | None:
    """The letter, or the lines of a word."""
    if isinstance(recipe.field, LetterSpec):
        return recipe.field.text
    return " / ".join(recipe.field.lines) if isinstance(recipe.field, WordSpec) else None


def style_of(recipe: Recipe) -> Lettering | None:
    """How letters are set, where there are any."""
    field = recipe.field
    return field.style if isinstance(field, LetterSpec | WordSpec) else None


def outside_of(recipe: Recipe) -> tuple[float, float] | None:
    """The size of a border or a plain shape."""
    if isinstance(recipe.field, BorderSpec):
        return recipe.field.outer
    return recipe.field.size if isinstance(recipe.field, ShapeSpec) else None


def shape_of(recipe: Recipe) -> str | None:
    """The form of a border or a plain shape."""
    if isinstance(recipe.field, BorderSpec | ShapeSpec):
        return str(recipe.field.shape)
    return None


def _change_kind(recipe: Recipe, kind: str) -> Recipe:
    if kind == kind_of(recipe.field):
        return recipe
    text, style = text_of(recipe) or "B", style_of(recipe) or Lettering(200.0)
    size = outside_of(recipe) or OUTSIDE
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


def _change_text(recipe: Recipe, text: str) -> Recipe:
    if not text:
        raise UsageError("There is no letter to fill.", "Type at least one.")
    if isinstance(recipe.field, WordSpec):
        lines = tuple(line.strip() for line in text.split("/") if line.strip())
        return replace(recipe, field=replace(recipe.field, lines=lines))
    return replace(recipe, field=LetterSpec(text, style_of(recipe) or Lettering(200.0)))


def _restyle(recipe: Recipe, **values: Any) -> Recipe:
    field = recipe.field
    if not isinstance(field, LetterSpec | WordSpec):
        return recipe
    return replace(recipe, field=replace(field, style=replace(field.style, **values)))


def _font(style: Lettering) -> str:
    return BUILT_IN if style.font is None else style.font.name


def _change_font(recipe: Recipe, text: str) -> Recipe:
    return _restyle(recipe, font=None if text in ("", BUILT_IN) else find_font(text))


def _change_outside(recipe: Recipe, text: str) -> Recipe:
    size = named_size(text)
    if isinstance(recipe.field, BorderSpec):
        return replace(recipe, field=replace(recipe.field, outer=size))
    if isinstance(recipe.field, ShapeSpec):
        return replace(recipe, field=replace(recipe.field, size=size))
    return recipe


def _change_shape(recipe: Recipe, text: str) -> Recipe:
    if isinstance(recipe.field, BorderSpec | ShapeSpec):
        return replace(recipe, field=replace(recipe.field, shape=_outline(text)))
    return recipe


def _outline(text: str) -> Outline:
    if text not in SHAPES:
        raise UsageError(f"There is no shape {text!r}.", f"Choose {', '.join(SHAPES)}.")
    return Outline(text)


def _file(recipe: Recipe) -> str | None:
    return recipe.field.label if isinstance(recipe.field, OutlineSpec) else None


def _change_file(recipe: Recipe, text: str) -> Recipe:
    if not isinstance(recipe.field, OutlineSpec):
        return recipe
    from hingeleaf.workshop import read_outline

    file = Path(text).expanduser()
    return replace(recipe, field=replace(recipe.field, shape=read_outline(file), label=file.stem))


def _height(recipe: Recipe) -> str | None:
    style = style_of(recipe)
    if style is not None:
        return format_mm(style.height)
    if isinstance(recipe.field, OutlineSpec):
        return shown_or(AS_DRAWN, recipe.field.height)
    return None


def _change_height(recipe: Recipe, text: str) -> Recipe:
    if isinstance(recipe.field, OutlineSpec):
        height = or_none(AS_DRAWN, length)(text)
        return replace(recipe, field=replace(recipe.field, height=height))
    return _restyle(recipe, height=length(text))


def _lettering(
    entry: Entry,
    show: Callable[[Lettering], str],
    read: Callable[[str], Any],
    *,
    word: bool = False,
) -> LineOfForm:
    """A line about letters, or about words only; its key is the name in the lettering."""

    def shown(recipe: Recipe) -> str | None:
        style = style_of(recipe)
        hidden = style is None or (word and isinstance(recipe.field, LetterSpec))
        return None if hidden or style is None else show(style)

    def change(recipe: Recipe, text: str) -> Recipe:
        return _restyle(recipe, **{entry.key: read(text)})

    return LineOfForm(entry, shown, change)


def _of(
    kinds: type | tuple[type, ...],
    entry: Entry,
    name: str,
    show: Callable[[Any], str],
    read: Callable[[str], Any],
) -> LineOfForm:
    """A line about fields of some kinds, which all have a value of that name."""

    def shown(recipe: Recipe) -> str | None:
        field: Any = recipe.field
        return show(getattr(field, name)) if isinstance(field, kinds) else None

    def change(recipe: Recipe, text: str) -> Recipe:
        field: Any = recipe.field
        if not isinstance(field, kinds):
            return recipe
        changed: Any = replace(field, **{name: read(text)})  # type: ignore[type-var]
        return replace(recipe, field=changed)

    return LineOfForm(entry, shown, change)


FIRST = (
    LineOfForm(
        Entry("kind", "Field", choices=KINDS, says="What is to be filled."),
        lambda recipe: kind_of(recipe.field),
        _change_kind,
    ),
    LineOfForm(
        Entry("text", "Letters", says="Type the letter or the word; / begins another line."),
        text_of,
        _change_text,
    ),
    LineOfForm(
        Entry("shape", "Shape", choices=SHAPES, says="The outer shape."), shape_of, _change_shape
    ),
    LineOfForm(
        Entry("file", "File", says="An SVG file whose outer shape is to be filled."),
        _file,
        _change_file,
    ),
    LineOfForm(
        Entry("height", "Height", step=5, says="How high the field is: 200, 20cm or 8in."),
        _height,
        _change_height,
    ),
    LineOfForm(
        Entry("outer", "Outside", pick=True, says="Enter lists frames; any width x height too."),
        lambda recipe: show_size(size) if (size := outside_of(recipe)) else None,
        _change_outside,
    ),
    _of(
        BorderSpec,
        Entry("inner", "Opening", pick=True, says="The hole in the border; Enter lists sizes."),
        "inner",
        show_size,
        named_size,
    ),
    LineOfForm(
        Entry("font", "Font", pick=True, says="Enter lists the fonts of this machine."),
        lambda recipe: _font(style) if (style := style_of(recipe)) else None,
        _change_font,
    ),
)
"""What every field is told by."""

FINER = (
    _lettering(
        Entry(
            "measure",
            "Measured",
            choices=("ink", "capitals"),
            says="Whether the height is that of what is drawn, or of the font's capitals.",
        ),
        lambda style: str(style.measure),
        Measure,
    ),
    _lettering(
        Entry("weight", "Weight", step=100, says="Of a variable font: 400 is regular, 700 bold."),
        lambda style: "as the font" if style.weight is None else f"{style.weight:g}",
        or_none("as the font", number("a weight", 1, 1000, "1 to 1000")),
    ),
    _lettering(
        Entry("bolder", "Bolder", step=0.5, says="How much every stroke is thickened, each side."),
        lambda style: format_mm(style.bolder),
        parse_length,
    ),
    _lettering(
        Entry("align", "Lines", choices=tuple(map(str, Align)), says="How lines of a word stand."),
        lambda style: str(style.align),
        Align,
        word=True,
    ),
    _lettering(
        Entry("line_spacing", "Leading", step=0.1, says="Baselines apart, in heights."),
        lambda style: f"{style.line_spacing:g}",
        number("a line spacing", 0.1, 10, "for example 1.4"),
        word=True,
    ),
    _lettering(
        Entry("letter_spacing", "Spacing", step=0.5, says="Extra space between letters."),
        lambda style: format_mm(style.letter_spacing),
        parse_length,
        word=True,
    ),
    _lettering(
        Entry("widest", "Widest", step=5, says="A longer word is set smaller, to fit into this."),
        lambda style: shown_or(ANY, style.widest),
        or_none(ANY, length),
        word=True,
    ),
    _of(
        BorderSpec,
        Entry(
            "inner_shape",
            "Hole",
            choices=(AS_OUTSIDE, *SHAPES),
            says="The shape of the opening.",
        ),
        "inner_shape",
        lambda shape: AS_OUTSIDE if shape is None else str(shape),
        or_none(AS_OUTSIDE, _outline),
    ),
    _of(
        (BorderSpec, ShapeSpec),
        Entry("corner", "Corner", step=1, says="The radius of rounded corners."),
        "corner",
        format_mm,
        parse_length,
    ),
    _of(
        BorderSpec,
        Entry("raised", "Raised", step=1, says="How far the opening stands above the middle."),
        "raised",
        format_mm,
        parse_length,
    ),
    _of(
        OutlineSpec,
        Entry("width", "Width", step=5, says="Scaled to this width; with both, fitted into them."),
        "width",
        lambda width: shown_or(AS_DRAWN, width),
        or_none(AS_DRAWN, length),
    ),
    _of(
        OutlineSpec,
        Entry("margin", "Margin", step=1, says="Kept free along all its edges."),
        "margin",
        format_mm,
        parse_length,
    ),
)
"""What few fields need to be told."""
