"""The paper around a filling: outline, sheet and frame, and what is kept free of motifs."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

from hingeleaf.errors import HingeleafError
from hingeleaf.field.letters import Lettering
from hingeleaf.field.sizes import named_size
from hingeleaf.field.specs import KeptFree, KeptShape, KeptText
from hingeleaf.panel.places import stand_at, standing_at
from hingeleaf.panel.recipe import Recipe
from hingeleaf.units import format_mm, parse_length
from hingeleaf_tui.recipe_lines.field import ANY, style_of
from hingeleaf_tui.recipe_lines.values import (
    YES_NO,
    LineOfForm,
    length,
    or_none,
    place,
    show_size,
    shown_or,
)
from hingeleaf_tui.widgets.form import Entry

AROUND = "around the field"
"""The sheet is as large as the field and a margin ask for."""
OPEN = "no glass"
NOTHING = "nothing"
A_DRAWING = "a drawing"
MIDDLE = "the middle"
OUTLINES = ("left alone", "drawn", "cut")
KEPT_HEIGHT = 30.0
"""mm: how high what is kept free is set at first."""


def _outline(recipe: Recipe) -> str:
    return OUTLINES[2 if recipe.cut_outline else 1 if recipe.mark_outline else 0]


def _change_outline(recipe: Recipe, text: str) -> Recipe:
    return replace(recipe, cut_outline=text == "cut", mark_outline=text == "drawn")


def _change_depth(recipe: Recipe, text: str) -> Recipe:
    return replace(recipe, frame=replace(recipe.frame, depth=or_none(OPEN, length)(text)))


def _kept(recipe: Recipe, kind: type) -> Any:
    """The first of what is kept free that is of this kind, or None."""
    return next((kept for kept in recipe.kept_free if isinstance(kept, kind)), None)


def _keep(recipe: Recipe, kind: type, kept: KeptFree | None) -> Recipe:
    """Something kept free in the place of what there is of its kind."""
    others = [other for other in recipe.kept_free if not isinstance(other, kind)]
    return replace(recipe, kept_free=(*others, *([kept] if kept else [])))


def _change_words(recipe: Recipe, text: str) -> Recipe:
    if text in ("", NOTHING):
        return _keep(recipe, KeptText, None)
    if there := _kept(recipe, KeptText):
        return _keep(recipe, KeptText, replace(there, text=text))
    style = style_of(recipe)
    return _keep(
        recipe, KeptText, KeptText(text, Lettering(KEPT_HEIGHT, font=style.font if style else None))
    )


def _change_drawing(recipe: Recipe, text: str) -> Recipe:
    if text == A_DRAWING:
        return recipe
    if text in ("", NOTHING):
        return _keep(recipe, KeptShape, None)
    from hingeleaf.workshop import read_outline

    shape, there = read_outline(Path(text).expanduser()), _kept(recipe, KeptShape)
    kept = replace(there, shape=shape) if there else KeptShape(shape, KEPT_HEIGHT)
    return _keep(recipe, KeptShape, kept)


def _height(kept: KeptFree) -> float:
    return kept.style.height if isinstance(kept, KeptText) else kept.height


def _set_height(kept: KeptFree, height: float) -> KeptFree:
    if isinstance(kept, KeptText):
        return replace(kept, style=replace(kept.style, height=height))
    return replace(kept, height=height)


def _about_kept(
    entry: Entry, show: Callable[[KeptFree], str], change: Callable[[KeptFree, str], KeptFree]
) -> LineOfForm:
    """A line about all that is kept free, seen where anything is."""

    def changed(recipe: Recipe, text: str) -> Recipe:
        return replace(recipe, kept_free=tuple(change(kept, text) for kept in recipe.kept_free))

    return LineOfForm(
        entry, lambda recipe: show(recipe.kept_free[0]) if recipe.kept_free else None, changed
    )


def _of_words(
    entry: Entry, show: Callable[[Lettering], str], change: Callable[[Lettering, str], Lettering]
) -> LineOfForm:
    """A line about how words that are kept free are set, seen where there are any."""

    def shown(recipe: Recipe) -> str | None:
        kept = _kept(recipe, KeptText)
        return show(kept.style) if kept else None

    def changed(recipe: Recipe, text: str) -> Recipe:
        kept = _kept(recipe, KeptText)
        return _keep(recipe, KeptText, replace(kept, style=change(kept.style, text)))

    return LineOfForm(entry, shown, changed)


def _show_place(recipe: Recipe) -> str | None:
    if not recipe.kept_free:
        return None
    try:
        at = standing_at(recipe)
    except HingeleafError:
        return None  # no sheet to measure on as long as there is no field
    return f"{at[0]:g},{at[1]:g} mm" if at else MIDDLE


SHEET = (
    LineOfForm(
        Entry("outline", "Outline", choices=OUTLINES, says="Of the field: left, drawn or cut."),
        _outline,
        _change_outline,
    ),
    LineOfForm(
        Entry("sheet", "Sheet", pick=True, says="The size the panel is cut to, as for a frame."),
        lambda recipe: show_size(recipe.sheet) if recipe.sheet else AROUND,
        lambda recipe, text: replace(recipe, sheet=or_none(AROUND, named_size)(text)),
    ),
    LineOfForm(
        Entry("rebate", "Rebate", step=1, says="What the frame hides of every edge of the sheet."),
        lambda recipe: format_mm(recipe.frame.rebate),
        lambda recipe, text: replace(
            recipe, frame=replace(recipe.frame, rebate=parse_length(text))
        ),
    ),
    LineOfForm(
        Entry("depth", "Depth", step=1, says="From sheet to glass; lifts are checked against it."),
        lambda recipe: shown_or(OPEN, recipe.frame.depth),
        _change_depth,
    ),
)
"""What the panel is cut from and framed in."""

KEPT_FREE = (
    LineOfForm(
        Entry(
            "words",
            "Words",
            says="A name that motifs keep away from: in the field, or in its opening.",
        ),
        lambda recipe: kept.text if (kept := _kept(recipe, KeptText)) else NOTHING,
        _change_words,
    ),
    LineOfForm(
        Entry("drawing", "Drawing", says="An SVG file whose shape motifs keep away from."),
        lambda recipe: A_DRAWING if _kept(recipe, KeptShape) else NOTHING,
        _change_drawing,
    ),
    _about_kept(
        Entry("kept_height", "Height", step=1, says="How high it is set."),
        lambda kept: format_mm(_height(kept)),
        lambda kept, text: _set_height(kept, length(text)),
    ),
    _of_words(
        Entry("kept_widest", "Widest", step=5, says="Longer words are set smaller, to fit."),
        lambda style: shown_or(ANY, style.widest),
        lambda style, text: replace(style, widest=or_none(ANY, length)(text)),
    ),
    _of_words(
        Entry("kept_spacing", "Spacing", step=0.5, says="Extra space between their letters."),
        lambda style: format_mm(style.letter_spacing),
        lambda style, text: replace(style, letter_spacing=parse_length(text)),
    ),
    _about_kept(
        Entry("kept_margin", "Room", step=0.5, says="How far motifs keep away from it."),
        lambda kept: format_mm(kept.margin),
        lambda kept, text: replace(kept, margin=parse_length(text)),
    ),
    LineOfForm(
        Entry("kept_at", "Place", says="Its middle, from the sheet's top left corner: 60,40mm."),
        _show_place,
        lambda recipe, text: stand_at(recipe, or_none(MIDDLE, place)(text)),
    ),
    LineOfForm(
        Entry("cut_kept", "Cut out", choices=YES_NO, says="Cut as a stencil, its insides tied."),
        lambda recipe: YES_NO[recipe.cut_kept] if recipe.kept_free else None,
        lambda recipe, text: replace(recipe, cut_kept=text == YES_NO[True]),
    ),
)
"""What motifs keep away from."""
