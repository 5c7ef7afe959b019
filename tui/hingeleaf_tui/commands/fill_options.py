"""The options that all kinds of fields share, and what they say as data."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from hingeleaf.errors import UsageError
from hingeleaf.units import parse_length
from hingeleaf_tui.commands.options import (
    FILE_OR_FOLDER,
    LENGTH,
    OUT_FILE_OR_FOLDER,
    json_option,
    library_option,
    replace_option,
)

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.field.letters import Lettering
    from hingeleaf.field.specs import FieldSpec, KeptFree
    from hingeleaf.fill.options import FillOptions
    from hingeleaf.panel.recipe import Choice, Favour, Recipe

Command = TypeVar("Command", bound=Callable[..., Any])
Decorator = Callable[[Any], Any]


class FrameSize(click.ParamType[tuple[float, float]]):
    """A width and a height, or the name of a common size."""

    name = "size"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[float, float]:
        """Millimetres of what was typed."""
        from hingeleaf.field.sizes import named_size

        return value if isinstance(value, tuple) else named_size(str(value))


class Share(click.ParamType[float]):
    """A share from 0 to 1, as 0.4 or 40%."""

    name = "share"

    def convert(self, value: Any, param: Any, ctx: Any) -> float:
        """The share as a number."""
        text = str(value).strip()
        try:
            share = float(text.removesuffix("%")) / (100 if text.endswith("%") else 1)
        except ValueError:
            share = -1.0
        if not 0 <= share <= 1:
            raise UsageError(f"{text!r} is not a share.", "Write for example 0.4 or 40%.")
        return share


class Place(click.ParamType[tuple[float, float]]):
    """A place on the sheet: from its left and from its top."""

    name = "place"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[float, float]:
        """Millimetres of what was typed."""
        x, comma, y = str(value).partition(",")
        if not comma:
            raise UsageError(f"{str(value)!r} is not a place.", "Write for example 60,40mm.")
        return parse_length(x), parse_length(y)


class Pins(click.ParamType[tuple[int | str, ...]]):
    """Numbers of placements and names of motifs, with commas between."""

    name = "pins"

    def convert(self, value: Any, param: Any, ctx: Any) -> tuple[int | str, ...]:
        """Numbers as numbers, names as names."""
        if isinstance(value, tuple):
            return value
        words = [word.strip() for word in str(value).split(",")]
        if not all(words):
            raise UsageError(f"{str(value)!r} pins nothing.", "Write for example 3,7 or acorn.")
        return tuple(int(word) if word.isdecimal() else word for word in words)


FRAME_SIZE = FrameSize()

MOTIF_OPTIONS: Sequence[Decorator] = (
    click.option("--with", "query", default="", metavar="QUERY", help="Motifs that QUERY finds."),
    click.option(
        "--favour",
        "favours",
        multiple=True,
        metavar="QUERY=TIMES",
        help="Motifs wanted so many times as often, as in 'tag:moth=3'.",
    ),
    click.option("--kinds", default=40, show_default=True, help="Different motifs, at most."),
    click.option("--min", "smallest", type=LENGTH, help="No motif smaller than this."),
    click.option("--max", "largest", type=LENGTH, help="No motif larger than this (than drawn)."),
    click.option("--proven", is_flag=True, help="Only sizes between trials that held."),
    click.option("--turn", type=float, default=180, metavar="DEGREES", help="Turned at most."),
    click.option("--upright", is_flag=True, help="Not turned at all."),
    click.option("--no-mirror", is_flag=True, help="Never mirrored."),
)
RULE_OPTIONS: Sequence[Decorator] = (
    click.option("--gap", type=LENGTH, default="2mm", help="Least distance between two motifs."),
    click.option("--edge", type=LENGTH, help="Least distance to the field's edge (the gap)."),
    click.option("--lifting", type=Share(), help="Share of lifting motifs to keep near."),
    click.option(
        "--spread",
        type=click.Choice(["varied", "free", "even"]),
        default="varied",
        help="How sizes are mixed.",
    ),
    click.option("--alike", is_flag=True, help="Motifs of one kind may be neighbours."),
    click.option("--symmetric", is_flag=True, help="Mirrored about the field's axis."),
    click.option(
        "--feet",
        type=click.Choice(["outwards", "inwards"]),
        help="Where motifs in a border have their feet.",
    ),
    click.option("--seed", default=0, help="Another seed gives another filling."),
    click.option(
        "--budget",
        type=click.Choice(["quick", "normal", "thorough"]),
        default="normal",
        help="How much work to spend. Ctrl-C ends it early, with what is filled by then.",
    ),
    click.option("--seconds", type=float, help="A time limit instead of a budget."),
)
PAPER_OPTIONS: Sequence[Decorator] = (
    click.option("--card", "card_name", metavar="CARD", help="The card to cut."),
    click.option("--sheet", type=FRAME_SIZE, help="Size of the sheet, as 8x10in or A4."),
    click.option("--rebate", type=LENGTH, default="0", help="What a frame hides of every edge."),
    click.option("--frame-depth", type=LENGTH, help="From the sheet to the glass."),
    click.option("--cut-outline", is_flag=True, help="Cut the field's own outline too."),
    click.option("--mark-outline", is_flag=True, help="Draw the outline without cutting it."),
    click.option("--keep-out", metavar="TEXT", help="A name kept free of motifs, in the middle."),
    click.option(
        "--keep-out-shape",
        type=FILE_OR_FOLDER,
        metavar="FILE",
        help="A drawing kept free of motifs, in the middle.",
    ),
    click.option(
        "--keep-out-at",
        type=Place(),
        help="Its middle there instead, as 60,40mm from the sheet's top left corner. "
        "The middle of a border is its opening.",
    ),
    click.option("--keep-out-height", type=LENGTH, default="30mm", help="How high it is set."),
    click.option(
        "--keep-out-widest",
        type=LENGTH,
        help="Set smaller where it would be wider than this.",
    ),
    click.option(
        "--keep-out-spacing", type=LENGTH, default="0", help="Extra space between its letters."
    ),
    click.option("--keep-out-margin", type=LENGTH, default="3mm", help="Room around it."),
    click.option("--cut-kept", is_flag=True, help="Cut it out as a stencil, its insides tied."),
)
RESULT_OPTIONS: Sequence[Decorator] = (
    click.option("--save", "saved_as", metavar="NAME", help="Keep the panel in the library."),
    click.option(
        "--out",
        type=OUT_FILE_OR_FOLDER,
        help="Write the cut file (SVG; '-' is standard output; a folder for several panels).",
    ),
    replace_option,
    library_option,
    json_option,
)
EACH_OPTION = click.option(
    "--each",
    "names_file",
    type=FILE_OR_FOLDER,
    metavar="FILE",
    help="One panel for each line of FILE, that name kept free in its middle.",
)
FONT_OPTIONS: Sequence[Decorator] = (
    click.option("--font", metavar="NAME|FILE", help="A font of this machine, or a font file."),
    click.option("--weight", type=float, help="Weight of the font, 1 to 1000."),
    click.option("--bolder", type=LENGTH, default="0", help="Thicken strokes on either side."),
)


def options(*groups: Sequence[Decorator]) -> Callable[[Command], Command]:
    """A decorator that adds groups of options, listed in help in the order given."""

    def decorate(command: Command) -> Command:
        for option in reversed([option for group in groups for option in group]):
            command = option(command)
        return command

    return decorate


def font_options(command: Command) -> Command:
    """What letters look like."""
    return options(FONT_OPTIONS)(command)


def panel_options(command: Command) -> Command:
    """Everything about a panel but its field."""
    return options(MOTIF_OPTIONS, RULE_OPTIONS, PAPER_OPTIONS, RESULT_OPTIONS)(command)


@dataclass(frozen=True, slots=True)
class Result:
    """Where panels go and how they are told."""

    library_file: Path
    saved_as: str | None
    out: Path | None
    as_json: bool


def read_result(said: dict[str, Any]) -> Result:
    """Raises UsageError if a panel gets no name, or a file and an answer mix on standard output."""
    from hingeleaf.catalogue.names import short_name

    result = Result(said["library_file"], said["saved_as"], said["out"], said["as_json"])
    if result.saved_as is not None:
        short_name(result.saved_as)
    if result.as_json and result.out is not None and str(result.out) == "-":
        raise UsageError(
            "The cut file and the JSON answer cannot both go to standard output.",
            "Give --out a file name.",
        )
    return result


def read_recipe(spec: FieldSpec, said: dict[str, Any], library: Library) -> Recipe:
    """The recipe that the options describe.

    Raises UsageError, UnknownNameError, FontError, FieldError.
    """
    from hingeleaf.panel.compose import Frame
    from hingeleaf.panel.places import stand_at
    from hingeleaf.panel.recipe import Recipe
    from hingeleaf_tui.commands.stock import find_card

    recipe = Recipe(
        field=spec,
        card=find_card(library, said["card_name"]),
        choice=_choice(said),
        rules=_rules(said),
        kept_free=_kept_free(said),
        cut_outline=said["cut_outline"],
        mark_outline=said["mark_outline"],
        cut_kept=said["cut_kept"],
        sheet=said["sheet"],
        frame=Frame(said["rebate"], said["frame_depth"]),
    )
    return stand_at(recipe, said["keep_out_at"])


def read_lettering(height: float, said: dict[str, Any], **more: Any) -> Lettering:
    """The lettering that the font options describe. Raises FontError."""
    from hingeleaf.field.letters import Lettering
    from hingeleaf.fonts import find_font

    font = find_font(said["font"], said["weight"]) if said.get("font") else None
    bolder = said.get("bolder", 0.0)
    return Lettering(height, font=font, weight=said["weight"], bolder=bolder, **more)


def _choice(said: dict[str, Any]) -> Choice:
    from hingeleaf.panel.recipe import Choice

    turn = 0.0 if said["upright"] else said["turn"]
    if not 0 <= turn <= 180:
        raise UsageError(f"Motifs cannot be turned by {turn:g} degrees.", "Give 0 to 180.")
    return Choice(
        query=said["query"],
        favours=read_favours(said["favours"]),
        kinds=said["kinds"],
        smallest=said["smallest"],
        largest=said["largest"],
        proven=said["proven"],
        turn_limit=turn,
        may_mirror=not said["no_mirror"],
    )


def read_favours(texts: Sequence[str]) -> tuple[Favour, ...]:
    """What is wanted how many times as often, each as in `tag:moth=3`. Raises UsageError."""
    from hingeleaf.panel.recipe import Favour

    favours = []
    for text in texts:
        query, _, times = text.strip().rpartition("=")
        try:
            favours.append(Favour(query, float(times)))
        except ValueError as problem:
            raise UsageError(f"{text!r} favours nothing.", "Write as in tag:moth=3.") from problem
    return tuple(favours)


def _rules(said: dict[str, Any]) -> FillOptions:
    from hingeleaf.fill.options import Budget, Feet, FillOptions, Spread

    return FillOptions(
        gap=said["gap"],
        edge=said["edge"],
        seed=said["seed"],
        budget=Budget(said["budget"]),
        seconds=said["seconds"],
        lifting_share=said["lifting"],
        avoid_neighbours=not said["alike"],
        spread=Spread(said["spread"]),
        symmetric=said["symmetric"],
        feet=Feet(said["feet"]) if said["feet"] else None,
    )


def _kept_free(said: dict[str, Any]) -> tuple[KeptFree, ...]:
    from hingeleaf.field.specs import KeptShape, KeptText
    from hingeleaf.workshop import read_outline

    height, margin = said["keep_out_height"], said["keep_out_margin"]
    kept: list[KeptFree] = []
    if said["keep_out"]:
        font = {name: said.get(name) for name in ("font", "weight")}
        style = read_lettering(
            height,
            font,
            widest=said["keep_out_widest"],
            letter_spacing=said["keep_out_spacing"],
        )
        kept.append(KeptText(said["keep_out"], style, margin))
    if said["keep_out_shape"]:
        shape = read_outline(said["keep_out_shape"])
        kept.append(KeptShape(shape, height, margin))
    return tuple(kept)
