"""`fill`: fill a letter, word, border, shape or outline with motifs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import click

import hingeleaf as hl
from hingeleaf.catalogue.slugs import panel_names
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
from hingeleaf.fill.options import Edits, FillOptions, RefillOptions
from hingeleaf.orders.lists import Order, read_orders
from hingeleaf_tui.commands.fill_options import (
    LIST_OPTIONS,
    SAVE_OPTION,
    panel_options,
    read_recipe,
    read_result,
)
from hingeleaf_tui.commands.filling import fill_list, fill_one, fill_several
from hingeleaf_tui.commands.options import (
    FILE_OR_FOLDER,
    OUT_FILE_OR_FOLDER,
    SectionedCommand,
    json_option,
    library_option,
    replace_option,
    section,
)
from hingeleaf_tui.forms.options import add_options, given_options, options_of, with_options
from hingeleaf_tui.shared.file_names import file_names

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
    if apart:
        texts = [order.name.split("\n") for order in _orders(names_file)] if names_file else [lines]
        _fill_letters(texts, style, options)
    else:
        options |= {"names_file": names_file}
        _fill_one(" ".join(lines), WordSpec(lines, style), options)


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
    _fill_one(
        file.stem,
        with_options(OutlineSpec(hl.read_outline(file), file.stem), options),
        options,
    )


@fill.command()
@click.argument("panel")
@add_options(options_of(FillOptions, only=("seed", "budget")))
@add_options(options_of(RefillOptions()), options_of(Edits()))
@click.option(
    "--fix", is_flag=True, help="Replace motifs that have faults which others may not have."
)
@SAVE_OPTION
@click.option("--out", type=OUT_FILE_OR_FOLDER, help="Write the cut file (SVG).")
@replace_option
@library_option
@json_option
def again(panel: str, fix: bool, **options: Any) -> None:
    """Fill a saved PANEL again with its recipe, around pinned motifs.

    With --only-at, motifs that are not wholly within the circle stay. With --drop, --shrink,
    --swap, --nudge, --turn or --pin-all-but only the motifs named are changed, and only the gaps
    around them are filled again; with --fix these are the motifs that have a fault.
    """
    region, edits = with_options(RefillOptions(), options), with_options(Edits(), options)
    if region.at is None and region.within != RefillOptions().within:
        raise UsageError("--within needs a position to refill.", "As in --only-at 60,40mm.")
    if fix and edits:
        raise UsageError(
            "--fix chooses the motifs to replace itself.", "Leave the other edits out."
        )
    if (edits or fix) and (region.at is not None or region.pins):
        raise UsageError(
            "Edits keep all other motifs, so --pin and --only-at have no effect with them.",
            "Leave those out.",
        )
    result = read_result(options)
    with Library.open(result.library_file, create=False) as library:
        rules = given_options(FillOptions, options)
        job = hl.refill_job(library, panel, region, edits=edits, fix=fix, **rules)
        fill_one(library, job, result, refilled=panel)


def _fill_one(name: str, spec: FieldSpec, options: dict[str, Any]) -> None:
    if names_file := options.get("names_file"):
        fill_list(names_file, options, spec)
        return
    result = read_result(options)
    with Library.open(result.library_file, create=False) as library:
        job = hl.make_job(name, read_recipe(spec, options, library))
        fill_one(library, job, result)


def _fill_letters(
    texts: Sequence[Sequence[str]], style: Lettering, options: dict[str, Any]
) -> None:
    """Fill a separate panel for each letter of some texts."""
    style = replace(style, measure=style.measure or Measure.CAPITALS)
    letters = [
        (f"{' '.join(lines)} {number} {letter.text}", LetterSpec(letter.text, style))
        for lines in texts
        for number, letter in enumerate(set_text(lines, style), start=1)
    ]
    result = read_result(options)
    names = [name for name, _ in letters]
    saved = panel_names(f"{result.saved_as} {name}" for name in names)
    with Library.open(result.library_file, create=False) as library:
        jobs = [
            hl.make_job(
                name,
                read_recipe(spec, options, library),
                save_as=saved_as if result.saved_as else "",
                place=place,
            )
            for (name, spec), saved_as, place in zip(letters, saved, file_names(names), strict=True)
        ]
        fill_several(library, jobs, result)


def _orders(names_file: Path) -> Sequence[Order]:
    """The orders of a list. Raises UsageError if any line is invalid."""
    read = read_orders(names_file)
    if read.refusals:
        raise UsageError(read.refusals[0])
    return read.orders
