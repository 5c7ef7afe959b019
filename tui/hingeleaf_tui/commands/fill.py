"""`fill`: fill a letter, word, border, shape or outline with motifs."""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.field.letters import Lettering, Measure, set_text
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import (
    BorderSpec,
    FieldSpec,
    LetterSpec,
    OutlineSpec,
    ShapeSpec,
    WordSpec,
)
from hingeleaf.fill.options import FillOptions, RefillCircle
from hingeleaf.orders.lists import Order, read_orders
from hingeleaf.params import parameters
from hingeleaf.session import read_outline
from hingeleaf_tui.commands.fill_jobs import RefillOptions, make_jobs, refill_job
from hingeleaf_tui.commands.fill_list import fill_list
from hingeleaf_tui.commands.fill_options import (
    LIST_OPTIONS,
    SAVE_OPTION,
    panel_options,
    read_recipe,
    read_result,
)
from hingeleaf_tui.commands.filling import fill_all
from hingeleaf_tui.commands.options import (
    FILE_OR_FOLDER,
    OUT_FILE_OR_FOLDER,
    Pins,
    SectionedCommand,
    json_option,
    library_option,
    replace_option,
    section,
)
from hingeleaf_tui.forms.options import ParameterType, add_options, options_of, with_options
from hingeleaf_tui.shared.edit_words import EDITS, read_edits

SHAPES = tuple(map(str, Outline))


@click.group()
def fill() -> None:
    """Fill a field with motifs, evenly and at least a gap apart, and check the panel.

    Lengths are in mm unless a unit is given: 200, 20cm, 8in.
    """


@fill.command(cls=SectionedCommand)
@click.argument("text")
@panel_options("letter", LetterSpec("").style)
def letter(text: str, **options: Any) -> None:
    """Fill one letter, or a few as one field: `fill letter B --height 200mm --out b.svg`."""
    spec = LetterSpec(text)
    _fill_one(text.strip(), replace(spec, style=with_options(spec.style, options)), options)


@fill.command(cls=SectionedCommand)
@click.argument("lines", nargs=-1, metavar="[LINE]...")
@panel_options(
    "word",
    WordSpec(()).style,
    section(
        "The field",
        click.option("--apart", is_flag=True, help="Make a separate panel for each letter."),
    ),
    LIST_OPTIONS,
)
def word(lines: tuple[str, ...], names_file: Path | None, apart: bool, **options: Any) -> None:
    """Fill a word or a name; each LINE is set on a new line: `fill word Oak Harbour`.

    With --each names.txt one panel is made for each line of the list, and --out is a folder.
    """
    if (names_file is None) == (not lines):
        raise UsageError("Give either a word or a list of names.", "As in --each names.txt.")
    style = with_options(WordSpec(()).style, options)
    if names_file is not None and not apart:
        fill_list(names_file, options, WordSpec((), style))
        return
    texts = [order.name.split("\n") for order in _orders(names_file)] if names_file else [lines]
    _fill_words(texts, style, apart, options)


@fill.command(cls=SectionedCommand)
@panel_options("border", BorderSpec(), LIST_OPTIONS)
def border(**options: Any) -> None:
    """Fill the border around an opening: `fill border --outer 8x10in --inner 4x6in`.

    With --each names.txt one panel is made for each line of the list, and --out is a folder.
    """
    _fill_one("border", with_options(BorderSpec(), options), options)


@fill.command(cls=SectionedCommand)
@click.argument("form", type=click.Choice(SHAPES), metavar="FORM")
@panel_options("shape", ShapeSpec(), LIST_OPTIONS)
def shape(form: str, **options: Any) -> None:
    """Fill a plain shape (rectangle, rounded, oval, circle, heart, arch): `fill shape heart`.

    With --each names.txt one panel is made for each line of the list, and --out is a folder.
    """
    _fill_one(form, with_options(ShapeSpec(Outline(form)), options), options)


@fill.command(cls=SectionedCommand)
@click.argument("file", type=FILE_OR_FOLDER)
@panel_options("outline", OutlineSpec(), LIST_OPTIONS)
def outline(file: Path, **options: Any) -> None:
    """Fill the shapes of an SVG file; holes stay free: `fill outline boat.svg`.

    With --each names.txt one panel is made for each line of the list, and --out is a folder.
    """
    _fill_one(file.stem, with_options(OutlineSpec(read_outline(file), file.stem), options), options)


@fill.command()
@click.argument("panel")
@click.option(
    "--seed",
    type=ParameterType(parameters(FillOptions)["seed"]),
    help="Use another seed than that of the panel.",
)
@click.option(
    "--pin",
    "pins",
    type=Pins(),
    multiple=True,
    metavar="NUMBER|MOTIF,...",
    help="Keep these in place: numbers as in --json, or motifs.",
)
@add_options(options_of(RefillCircle()))
@add_options(
    [
        click.option(f"--{name}", multiple=True, metavar=metavar, help=message)
        for name, metavar, message in EDITS
    ]
)
@click.option(
    "--fix", is_flag=True, help="Replace motifs that have faults which others may not have."
)
@SAVE_OPTION
@click.option("--out", type=OUT_FILE_OR_FOLDER, help="Write the cut file (SVG).")
@replace_option
@library_option
@json_option
def again(
    panel: str,
    seed: int | None,
    pins: tuple[tuple[int | str, ...], ...],
    **options: Any,
) -> None:
    """Fill a saved PANEL again with its recipe, around pinned motifs.

    With --only-at, motifs that are not wholly within the circle stay. With --drop, --shrink,
    --swap, --nudge, --turn or --pin-all-but only the motifs named are changed, and only the gaps
    around them are filled again; with --fix these are the motifs that have a fault.
    """
    circle = with_options(RefillCircle(), {name: options.pop(name) for name in ("at", "within")})
    if circle.at is None and circle != RefillCircle():
        raise UsageError("--within needs a position to refill.", "As in --only-at 60,40mm.")
    result = read_result(options)
    edits, fix = read_edits(options), options.pop("fix")
    if fix and edits:
        raise UsageError(
            "--fix chooses the motifs to replace itself.", "Leave the other edits out."
        )
    pinned = tuple(each for some in pins for each in some)
    if (edits or fix) and (circle.at is not None or pinned):
        raise UsageError(
            "Edits keep all other motifs, so --pin and --only-at have no effect with them.",
            "Leave those out.",
        )
    refill_options = RefillOptions(seed, pinned, circle, edits, fix)
    with Library.open(result.library_file, create=False) as library:
        job = refill_job(library, panel, refill_options)
        fill_all(library, [job], result, several=False, refilled=panel)


def _fill_one(name: str, spec: FieldSpec, options: dict[str, Any]) -> None:
    if names_file := options.get("names_file"):
        fill_list(names_file, options, spec)
        return
    result = read_result(options)
    with Library.open(result.library_file, create=False) as library:
        recipe = read_recipe(spec, options, library)
        fill_all(library, make_jobs([(name, recipe)]), result, several=False)


def _orders(names_file: Path) -> Sequence[Order]:
    """The orders of a list. Raises UsageError if any line is invalid."""
    read = read_orders(names_file)
    if read.refusals:
        raise UsageError(read.refusals[0])
    return read.orders


def _fill_words(
    texts: Sequence[Sequence[str]],
    style: Lettering,
    apart: bool,
    options: dict[str, Any],
) -> None:
    named: list[tuple[str, FieldSpec]] = []
    for lines in texts:
        name = " ".join(lines)
        if apart:
            style = replace(style, measure=style.measure or Measure.CAPITALS)
            letters = [letter.text for letter in set_text(lines, style)]
            named += [
                (f"{name} {number} {text}", LetterSpec(text, style))
                for number, text in enumerate(letters, start=1)
            ]
        else:
            named.append((name, WordSpec(tuple(lines), style)))
    result = read_result(options)
    with Library.open(result.library_file, create=False) as library:
        recipes = [(name, read_recipe(spec, options, library)) for name, spec in named]
        fill_all(library, make_jobs(recipes), result, several=apart)
