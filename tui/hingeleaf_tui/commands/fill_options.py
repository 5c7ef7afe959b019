"""Options shared by all kinds of fields, and the recipe made from them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue.slugs import short_name
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.field.letters import Lettering
from hingeleaf.field.specs import FieldSpec, KeepOut, KeepOutShape, KeepOutText
from hingeleaf.fill.options import FillOptions
from hingeleaf.model import Card
from hingeleaf.panel.demands import Frame
from hingeleaf.panel.recipe import Choice, Recipe
from hingeleaf_tui.commands.options import (
    FILE_OR_FOLDER,
    OUT_FILE_OR_FOLDER,
    json_option,
    library_option,
    replace_option,
    section,
)
from hingeleaf_tui.commands.sheet_export import SHEET_OPTIONS
from hingeleaf_tui.forms.options import Command, Decorator, add_options, options_of, with_options
from hingeleaf_tui.shared.cards import find_card

DEFAULT_RECIPE = Recipe()
KEEP_OUT_PREFIX = "keep-out-"
KEEP_OUT_NAMES = {"letter_spacing": "--keep-out-spacing", "line_spacing": "--keep-out-leading"}
SAVE_OPTION = click.option(
    "--save",
    "saved_as",
    metavar="NAME",
    help="Save the panel in the library; one whose name differs only in case needs --replace.",
)
RESULT_OPTIONS: tuple[Decorator, ...] = (
    SAVE_OPTION,
    click.option(
        "--out",
        type=OUT_FILE_OR_FOLDER,
        help="Write the cut file (SVG; '-' is standard output; a folder for several panels).",
    ),
    replace_option,
    library_option,
    json_option,
)
LIST_OPTIONS: Decorator = section(
    "Lists of names",
    click.option(
        "--each",
        "names_file",
        type=FILE_OR_FOLDER,
        metavar="FILE",
        help="One panel for each name in FILE: one name per line, or CSV with the columns name, "
        "size, height, font, motifs, copies.",
    ),
    click.option("--resume", is_flag=True, help="Skip names whose panel --save has already saved."),
    *SHEET_OPTIONS,
)


def panel_options(field: str, defaults: Any, *more: Decorator) -> Callable[[Command], Command]:
    """All options of a panel: those of its kind of field with these defaults, then the rest.

    `more` are further options of the field, or further sections.
    """
    return add_options(
        section("The field", options_of(defaults, field=field)),
        *more,
        section(
            "Motifs",
            options_of(Choice(), field=field),
            click.option("--upright", is_flag=True, help="Motifs are not turned."),
        ),
        section("Filling", options_of(FillOptions(), field=field)),
        section(
            "Card, sheet and frame",
            click.option("--card", "card_name", metavar="CARD", help="The card to cut."),
            options_of(Card, only=("grain",)),
            options_of(DEFAULT_RECIPE, only=("sheet", "tile", "cut_outline", "mark_outline")),
            options_of(DEFAULT_RECIPE.frame),
        ),
        section(
            "Keep-out area",
            click.option("--keep-out", metavar="TEXT", help="A name that motifs keep away from."),
            click.option(
                "--keep-out-shape",
                type=FILE_OR_FOLDER,
                metavar="FILE",
                help="A drawing that motifs keep away from.",
            ),
            options_of(KeepOutText(""), prefix=KEEP_OUT_PREFIX),
            options_of(
                KeepOutText("").style,
                prefix=KEEP_OUT_PREFIX,
                only=("height", "widest", "letter_spacing", "line_spacing", "align", "bolder"),
                names=KEEP_OUT_NAMES,
            ),
            options_of(Lettering, prefix=KEEP_OUT_PREFIX, only=("font", "weight", "further")),
            options_of(DEFAULT_RECIPE, only=("cut_keep_outs",)),
        ),
        section("Output", RESULT_OPTIONS),
    )


@dataclass(frozen=True, slots=True)
class Result:
    """Where panels go and how they are reported."""

    library_file: Path
    saved_as: str | None
    out: Path | None
    as_json: bool


def read_result(options: dict[str, Any]) -> Result:
    """Raises UsageError for an empty panel name, or if file and JSON would both go to standard
    output."""
    result = Result(
        options["library_file"], options["saved_as"], options["out"], options["as_json"]
    )
    if result.saved_as is not None:
        short_name(result.saved_as)
    if result.as_json and result.out is not None and str(result.out) == "-":
        raise UsageError(
            "The cut file and the JSON answer cannot both go to standard output.",
            "Give --out a file name.",
        )
    return result


def read_recipe(spec: FieldSpec, options: dict[str, Any], library: Library) -> Recipe:
    """The recipe made from the options.

    Raises UsageError, UnknownNameError, FontError, FieldError.
    """
    choice = with_options(Choice(), options)
    recipe = replace(
        with_options(DEFAULT_RECIPE, options),
        field=spec,
        card=with_options(find_card(library, options["card_name"]), options),
        choice=replace(choice, turn_limit=0.0) if options["upright"] else choice,
        rules=with_options(FillOptions(), options),
        keep_outs=_keep_outs(options),
        frame=with_options(Frame(), options),
    )
    return hl.move_keep_outs(recipe, options["keep_out_middle"])


def _keep_outs(options: dict[str, Any]) -> tuple[KeepOut, ...]:
    """The keep-outs; a name is set in the field's own font by default."""
    kept: list[KeepOut] = []
    if text := options["keep_out"]:
        letters = replace(
            KeepOutText("").style, font=options.get("font"), weight=options.get("weight")
        )
        style = with_options(letters, options, KEEP_OUT_PREFIX)
        kept.append(with_options(KeepOutText(text, style), options, KEEP_OUT_PREFIX))
    if file := options["keep_out_shape"]:
        kept.append(with_options(KeepOutShape(hl.read_outline(file)), options, KEEP_OUT_PREFIX))
    return tuple(kept)
