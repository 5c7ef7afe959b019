"""Form for a panel's recipe.

Edits a `Recipe` directly, so that values not shown in the form are preserved.
"""

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

from hingeleaf.errors import HingeleafError, UsageError
from hingeleaf.field.letters import Lettering
from hingeleaf.field.specs import (
    BorderSpec,
    FieldSpec,
    KeepOut,
    KeepOutShape,
    KeepOutText,
    LetterSpec,
    OutlineSpec,
    ShapeSpec,
    WordSpec,
)
from hingeleaf.fill.options import FillOptions
from hingeleaf.model import Card
from hingeleaf.panel.demands import Frame
from hingeleaf.panel.rebuild import keep_outs_at, move_keep_outs
from hingeleaf.panel.recipe import Choice, Recipe
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.params import Parameter, parameters
from hingeleaf_tui.forms import lines
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry, attribute, entry_of, lines_of
from hingeleaf_tui.forms.values import read, show

NO_FILE = "no file yet"
NOTHING = "nothing"
A_DRAWING = "a drawing"
NO_SIZE = {name: parameters(Recipe)[name].none for name in ("sheet", "tile")}
BUILT_IN = parameters(Lettering)["font"].none
KINDS = ("letter", "word", "border", "shape", "outline")
SIZES = ("outer", "inner", "size", "sheet")
"""Entries that can be chosen from common frame sizes."""
COMMON_KEYS = (
    *("kind", "text", "words", "file", "shape", "height", "outer", "size", "inner", "font", "card"),
    *("query", "gap", "smallest", "largest", "seed", "budget"),
)
"""Entries that every panel needs, from top to bottom."""
RecipeLine = EntryBinding[Recipe]


def default_recipe(card: Card = DEFAULT, query: str = "") -> Recipe:
    """The recipe of a new panel."""
    return Recipe(card=card, choice=Choice(query))


def kind_of(field: FieldSpec) -> str:
    """letter, word, border, shape or outline."""
    return type(field).__name__.removesuffix("Spec").lower()


def label(key: str) -> str:
    """The name of an entry for use within a sentence."""
    return next(line.entry.label for line in LINES if line.entry.key == key).lower()


def describe(recipe: Recipe) -> str:
    """A short description of a panel: `letter B, 200 mm`."""
    field = recipe.field
    if isinstance(field, LetterSpec | WordSpec):
        return f"{kind_of(field)} {_text(recipe)}, {field.style.height:g} mm"
    if isinstance(field, OutlineSpec):
        return field.label
    kind, size = (
        ("border", field.outer) if isinstance(field, BorderSpec) else (field.shape, field.size)
    )
    return f"{kind}, {size[0]:g} x {size[1]:g} mm"


def title(recipe: Recipe) -> str:
    """A short name for a panel, fit for a file: `letter-b-200mm`."""
    words = describe(recipe).replace(", ", " ").replace(" x ", "x").replace(" mm", "mm")
    plain = "".join(letter if letter.isalnum() or letter == "." else " " for letter in words)
    return "-".join(plain.lower().split())


# The field


def _text(recipe: Recipe) -> str | None:
    field = recipe.field
    if isinstance(field, LetterSpec):
        return field.text
    return " / ".join(field.lines) if isinstance(field, WordSpec) else None


def _change_text(recipe: Recipe, text: str) -> Recipe:
    parts = tuple(line.strip() for line in text.split("/") if line.strip())
    if not parts:
        raise UsageError("There is no letter to fill.", "Type at least one.")
    if isinstance(recipe.field, WordSpec):
        return replace(recipe, field=replace(recipe.field, lines=parts))
    return replace(recipe, field=LetterSpec(text, _style(recipe) or LetterSpec("").style))


def _style(recipe: Recipe) -> Lettering | None:
    field = recipe.field
    return field.style if isinstance(field, LetterSpec | WordSpec) else None


def _change_kind(recipe: Recipe, kind: str) -> Recipe:
    if kind == kind_of(recipe.field):
        return recipe
    text, style = _text(recipe) or "B", _style(recipe) or LetterSpec("").style
    outside = getattr(recipe.field, "outer", None) or getattr(recipe.field, "size", None)
    size: dict[str, Any] = {"size": outside} if outside else {}
    outer = {"outer": outside} if outside else size
    fields: dict[str, FieldSpec] = {
        "letter": LetterSpec(text, style),
        "word": WordSpec((text,), style),
        "border": BorderSpec(**outer),
        "shape": ShapeSpec(**size),
        "outline": OutlineSpec(label=NO_FILE, height=ShapeSpec().size[1]),
    }
    if kind not in fields:
        raise UsageError(f"There is no field {kind!r}.", f"Choose {', '.join(fields)}.")
    return replace(recipe, field=fields[kind])


def _change_file(recipe: Recipe, text: str) -> Recipe:
    if not isinstance(recipe.field, OutlineSpec):
        return recipe
    from hingeleaf.artwork.preparing import read_outline

    file = Path(text).expanduser()
    return replace(recipe, field=replace(recipe.field, shape=read_outline(file), label=file.stem))


def _holder(recipe: Recipe, name: str) -> Any:
    """The field or its letter style, whichever has the parameter; None if neither."""
    parts = (recipe.field, _style(recipe))
    return next((part for part in parts if part is not None and name in parameters(part)), None)


def _show_of_field(recipe: Recipe, name: str) -> str | None:
    if (holder := _holder(recipe, name)) is None:
        return None
    parameter = parameters(holder)[name]
    if parameter.fields and kind_of(recipe.field) not in parameter.fields:
        return None
    return show(parameter, getattr(holder, name))


def _change_of_field(recipe: Recipe, text: str, name: str) -> Recipe:
    if (holder := _holder(recipe, name)) is None:
        return recipe
    changed = replace(holder, **{name: read(parameters(holder)[name], text)})
    field: Any = recipe.field
    return replace(recipe, field=changed if holder is field else replace(field, style=changed))


def _field_lines() -> Iterator[RecipeLine]:
    """One entry for each parameter name of any kind of field."""
    yield EntryBinding(
        FormEntry("kind", "Field", choices=KINDS, help="What is to be filled."),
        lambda recipe: kind_of(recipe.field),
        _change_kind,
    )
    yield EntryBinding(
        FormEntry("text", "Letters", help="The letter or word; / begins a new line."),
        _text,
        _change_text,
    )
    yield EntryBinding(
        FormEntry("file", "File", help="An SVG file whose outer shape is filled.", is_path=True),
        lambda recipe: recipe.field.label if isinstance(recipe.field, OutlineSpec) else None,
        _change_file,
    )
    kinds = (Lettering, BorderSpec, ShapeSpec, OutlineSpec)
    named: dict[str, Parameter] = {}
    for kind in kinds:
        named = {**parameters(kind), **named}
    for name, parameter in named.items():
        if parameter.label != "-":
            yield EntryBinding(
                entry_of(parameter),
                partial(_show_of_field, name=name),
                partial(_change_of_field, name=name),
            )


# Keep-out areas


def _keep_out(recipe: Recipe, kind: type) -> Any:
    """The first keep-out of a kind, or None."""
    return next((kept for kept in recipe.keep_outs if isinstance(kept, kind)), None)


def _with_keep_out(recipe: Recipe, kept: KeepOut | None, kind: type) -> Recipe:
    """The recipe with the keep-outs of a kind replaced by another one or removed."""
    others = [other for other in recipe.keep_outs if not isinstance(other, kind)]
    return replace(recipe, keep_outs=(*others, *([kept] if kept else [])))


def _change_words(recipe: Recipe, text: str) -> Recipe:
    if text in ("", NOTHING):
        return _with_keep_out(recipe, None, KeepOutText)
    there = _keep_out(recipe, KeepOutText)
    if there is None:
        style = _style(recipe)
        letters = replace(KeepOutText("").style, font=style.font if style else None)
        there = KeepOutText(text, letters)
    return _with_keep_out(recipe, replace(there, text=text), KeepOutText)


def _change_drawing(recipe: Recipe, text: str) -> Recipe:
    if text == A_DRAWING:
        return recipe
    if text in ("", NOTHING):
        return _with_keep_out(recipe, None, KeepOutShape)
    from hingeleaf.artwork.preparing import read_outline

    shape = read_outline(Path(text).expanduser())
    return _with_keep_out(
        recipe,
        replace(_keep_out(recipe, KeepOutShape) or KeepOutShape(), shape=shape),
        KeepOutShape,
    )


def _common_style(recipe: Recipe) -> KeepOutShape | None:
    """Height and margin common to all keep-outs; None if there are none."""
    if not recipe.keep_outs:
        return None
    first = recipe.keep_outs[0]
    height = first.style.height if isinstance(first, KeepOutText) else first.height
    return KeepOutShape(height=height, margin=first.margin)


def _with_common_style(recipe: Recipe, common: KeepOutShape) -> Recipe:
    def one(kept: KeepOut) -> KeepOut:
        if isinstance(kept, KeepOutShape):
            return replace(kept, height=common.height, margin=common.margin)
        style = replace(kept.style, height=common.height)
        return replace(kept, style=style, margin=common.margin)

    return replace(recipe, keep_outs=tuple(one(kept) for kept in recipe.keep_outs))


def _show_place(recipe: Recipe) -> str | None:
    if not recipe.keep_outs:
        return None
    try:
        return show(KEEP_OUT_PLACE, keep_outs_at(recipe))
    except HingeleafError:
        return None  # without a field there is no sheet


KEEP_OUT_PLACE = parameters(KeepOutText)["middle"]


def _keep_out_lines() -> Iterator[RecipeLine]:
    yield EntryBinding(
        FormEntry(
            "words",
            "Name",
            help="Text that motifs keep away from, in the field or in its opening.",
        ),
        lambda recipe: kept.text if (kept := _keep_out(recipe, KeepOutText)) else NOTHING,
        _change_words,
    )
    yield EntryBinding(
        FormEntry(
            "drawing",
            "Drawing",
            help="An SVG file whose shape motifs keep away from.",
            is_path=True,
        ),
        lambda recipe: A_DRAWING if _keep_out(recipe, KeepOutShape) else NOTHING,
        _change_drawing,
    )
    prefix = "keep_out_"
    yield from lines_of(
        KeepOutShape, _common_style, _with_common_style, prefix=prefix, only=("height", "margin")
    )
    yield EntryBinding(
        entry_of(KEEP_OUT_PLACE, prefix + "middle"),
        _show_place,
        lambda recipe, text: move_keep_outs(recipe, read(KEEP_OUT_PLACE, text)),
    )
    keep = partial(_with_keep_out, kind=KeepOutText)
    yield from lines_of(
        KeepOutText,
        lambda recipe: _keep_out(recipe, KeepOutText),
        keep,
        prefix=prefix,
        only=("counters", "fit", "most_lines"),
    )
    yield from lines_of(
        Lettering,
        lambda recipe: text.style if (text := _keep_out(recipe, KeepOutText)) else None,
        lambda recipe, style: keep(recipe, replace(_keep_out(recipe, KeepOutText), style=style)),
        prefix=prefix,
        only=(
            *("font", "weight", "further", "bolder", "align"),
            *("line_spacing", "letter_spacing", "widest"),
        ),
        field=lambda _: "word",
    )
    yield from lines_of(Recipe, only=("cut_keep_outs",))


# The whole form


def _groups() -> dict[str, list[RecipeLine]]:
    """Headings and their entries; those that every panel needs come first, without a heading."""
    card: RecipeLine = EntryBinding(
        FormEntry("card", "Card", pick=True, help="Enter lists the cards."),
        lambda recipe: recipe.card.name,
        lambda recipe, text: recipe,
    )
    grain: list[RecipeLine] = lines_of(Card, *attribute("card"), only=("grain",))
    field: list[RecipeLine] = [*_field_lines(), *grain]
    mix: list[RecipeLine] = [
        *lines_of(Choice, *attribute("choice")),
        *lines_of(FillOptions, *attribute("rules"), field=lambda recipe: kind_of(recipe.field)),
    ]
    kept_free = [*_keep_out_lines()]
    every = {line.entry.key: line for line in (card, *field, *mix, *kept_free)}
    return {
        "": [every[key] for key in COMMON_KEYS],
        "More about motifs": [line for line in mix if line.entry.key not in COMMON_KEYS],
        "More about the field": [line for line in field if line.entry.key not in COMMON_KEYS],
        "Sheet and frame": [
            *lines_of(Recipe, only=("cut_outline", "mark_outline", "sheet", "tile")),
            *lines_of(Frame, *attribute("frame")),
        ],
        "Keep-out area": [line for line in kept_free if line.entry.key not in COMMON_KEYS],
    }


GROUPS = _groups()
LINES = tuple(line for group in GROUPS.values() for line in group)
ENTRIES = tuple(
    each
    for heading, group in GROUPS.items()
    for each in ([heading] if heading else []) + [line.entry for line in group]
)
values_of = partial(lines.values_of, LINES)
with_value = partial(lines.with_value, LINES)
