"""Recipes: everything that is needed to make a panel again, their JSON form, and flat options."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING, Annotated, Any, Self

from hingeleaf.errors import UsageError
from hingeleaf.field.letters import Lettering, substitutes
from hingeleaf.field.specs import FieldSpec, KeepOut, KeepOutText, LetterSpec, WordSpec
from hingeleaf.fill.options import FillOptions
from hingeleaf.fonts import may_embed
from hingeleaf.model import Card, SizeRange
from hingeleaf.panel.demands import MARGIN, Frame
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.params import (
    ANY_TURN,
    MIRROR,
    SIZE,
    TURN,
    Parameter,
    Validated,
    distance,
    parameter,
    parameters,
    validate,
)
from hingeleaf.structured import from_data, strict_converter, to_data

if TYPE_CHECKING:
    from cattrs import Converter

STORED_NAMES = {"keep_outs": "kept_free", "cut_keep_outs": "cut_kept"}
"""Fields of a recipe that are stored under their original names."""
VERSION = 1
"""Increased when an older program could not read what a newer one writes."""

DEFAULT_FIELD = LetterSpec("B")
"""The field to fill until another is chosen."""


class Bending(StrEnum):
    """Which motifs are bent to fit their places."""

    NEVER = "never"
    ALLOWED = "allowed"
    """Only motifs that allow it."""
    ALL = "all"


@dataclass(frozen=True, slots=True)
class Favour(Validated):
    """A query, and a factor on the frequency of the motifs that match it."""

    query: str
    times: Annotated[
        float,
        Parameter("How many times as often.", low=0, high=1000, title="number of times as often"),
    ]

    def __str__(self) -> str:
        return f"{self.query}={self.times:g}"

    @classmethod
    def read(cls, text: str) -> Self:
        """Read `tag:moth=3`. Raises UsageError."""
        query, _, times = text.rpartition("=")
        try:
            return cls(query, float(times))
        except ValueError as problem:
            raise UsageError(
                f"{text!r} is not a query and a number.", "Write for example tag:moth=3."
            ) from problem


@dataclass(frozen=True, slots=True)
class Count(Validated):
    """A motif, and the exact number of its placements."""

    motif: str
    times: Annotated[
        int, Parameter("How many of it.", low=1, high=1000, title="number of placements")
    ]

    def __str__(self) -> str:
        return f"{self.motif}={self.times}"

    @classmethod
    def read(cls, text: str) -> Self:
        """Read `moth=3`. Raises UsageError."""
        motif, _, times = text.rpartition("=")
        if not motif or not times.strip().isdecimal():
            raise UsageError(
                f"{text!r} is not a motif and its number.", "Write for example moth=3."
            )
        return cls(motif.strip(), int(times))


@dataclass(frozen=True, slots=True)
class Choice:
    """Which motifs a panel may use and how. Raises UsageError for a value out of its bounds."""

    query: str = parameter(
        "",
        "Which motifs to use: a search, or names such as moth,wren; all by default.",
        label="Motifs",
        option="--with",
        none="all",
    )
    favours: tuple[Favour, ...] = parameter(
        (),
        "How many times as often they are used: tag:moth=3, hull=0.5.",
        label="Favour",
        option="--favour",
    )
    kinds: int = parameter(
        40,
        "The greatest number of different motifs, drawn by the seed.",
        low=1,
        high=10_000,
        title="number of kinds",
        label="Most kinds",
        step=1,
    )
    smallest: float | None = distance(
        12.0,
        "No motif smaller than this.",
        above=True,
        title="smallest size",
        label="Smallest",
        option="--min",
        none="as they allow",
        step=1,
    )
    largest: float | None = distance(
        45.0,
        "No motif larger than this.",
        above=True,
        title="largest size",
        label="Largest",
        option="--max",
        none="as drawn",
        step=1,
    )
    """Without it, no motif is used larger than it is drawn."""
    proven: bool = parameter(
        False,
        "Only sizes between test cuts that held.",
        label="Sizes",
        words=("computed", "proven"),
    )
    turn_limit: Annotated[
        float, replace(TURN, help="How far motifs may be turned either way; 0 is upright.")
    ] = ANY_TURN
    """Applies where a motif's own limit is not stricter."""
    may_mirror: Annotated[
        bool,
        replace(
            MIRROR,
            help="Motifs are never mirrored, even where they allow it.",
            words=("never", "may be"),
        ),
    ] = True
    bend: Bending = parameter(
        Bending.NEVER,
        "Which motifs are bent to fit: never any, those that are allowed to, or all.",
        title="bending",
        label="Bend",
    )
    exactly: tuple[Count, ...] = parameter((), "The exact number of placements: moth=3.")

    def __post_init__(self) -> None:
        validate(self)
        SizeRange.between(self.smallest, self.largest)


@dataclass(frozen=True, slots=True)
class Recipe(Validated):
    """A panel's field, motifs, rules and paper. Equal recipes, motifs and program versions give
    equal panels, unless a time limit ended the filling."""

    field: FieldSpec = DEFAULT_FIELD
    card: Card = DEFAULT
    choice: Choice = dataclasses.field(default_factory=Choice)
    rules: FillOptions = dataclasses.field(default_factory=FillOptions)
    keep_outs: tuple[KeepOut, ...] = ()
    cut_outline: bool = parameter(False, "Cut the field's own outline too.")
    mark_outline: bool = parameter(
        False, "Draw the outline without cutting it.", label="Draw outline"
    )
    cut_keep_outs: bool = parameter(
        False,
        "Keep-out areas are cut out as a stencil, their counters tied.",
        label="Cut out",
        option="--cut-kept",
        when=lambda recipe: bool(recipe.keep_outs),
    )
    sheet: tuple[float, float] | None = parameter(
        None,
        "The size the panel is cut to, as 8x10in or A4.",
        SIZE,
        none="around the field",
        pick=True,
    )
    tile: tuple[float, float] | None = parameter(
        None,
        "Cut as several sheets of this size; motifs avoid the seams.",
        SIZE,
        title="size of tiles",
        label="Tile size",
        none="one sheet",
        pick=True,
    )
    margin: float = distance(
        MARGIN, "Paper around the field where no sheet is named.", option="-", label="-"
    )
    frame: Frame = dataclasses.field(default_factory=Frame)

    @property
    def texts(self) -> list[tuple[tuple[str, ...], Lettering]]:
        """The lines of every text, of the field and within it, with how they are set."""
        found = [
            (tuple(kept.text.splitlines()), kept.style)
            for kept in self.keep_outs
            if isinstance(kept, KeepOutText)
        ]
        if isinstance(self.field, LetterSpec):
            found.insert(0, ((self.field.text,), self.field.style))
        elif isinstance(self.field, WordSpec):
            found.insert(0, (self.field.lines, self.field.style))
        return found

    @property
    def substitutes(self) -> dict[str, str]:
        """The letters of its texts that their font lacks, with the faces that they are set in."""
        found: dict[str, str] = {}
        for lines, style in self.texts:
            found |= substitutes(lines, style)
        return found

    @property
    def restricted_fonts(self) -> list[str]:
        """The fonts of its texts that may not be embedded in documents."""
        faces = dict.fromkeys(style.font for _, style in self.texts if style.font is not None)
        return [face.name for face in faces if not may_embed(face)]

    @property
    def outlined(self) -> bool:
        """Whether its field needs an outline, to be cut or to be drawn."""
        return self.cut_outline or self.mark_outline


def recipe_to_data(recipe: Recipe) -> dict[str, Any]:
    """The recipe as JSON data."""
    return {"recipe": VERSION, **to_data(_converter(), recipe)}


def recipe_from_data(data: object) -> Recipe:
    """The recipe of data from `recipe_to_data`.

    Raises UsageError for anything else, naming the place.
    """
    if not (isinstance(data, Mapping) and isinstance(data.get("recipe"), int)):
        raise UsageError("This is not a recipe.")
    if data["recipe"] != VERSION:
        raise UsageError(
            f"This recipe is of another version; this program reads version {VERSION}.",
            "Update Hingeleaf and try again.",
        )
    for name in ("field", "card"):
        if name not in data:
            raise UsageError(f"The recipe cannot be read: {name} is missing.")
    given = {name: value for name, value in data.items() if name != "recipe"}
    return from_data(_converter(), given, Recipe, "recipe")


@lru_cache(maxsize=1)
def _converter() -> Converter:
    """A converter that keeps the keys of the first version."""
    from cattrs.gen import make_dict_structure_fn, make_dict_unstructure_fn, override
    from cattrs.strategies import configure_tagged_union

    converter = strict_converter()
    # Unknown facts of a card are left out, so that older programs can read it.
    unstructure_card = make_dict_unstructure_fn(
        Card,
        converter,
        grain=override(omit_if_default=True),
        material=override(omit_if_default=True),
    )
    converter.register_unstructure_hook(Card, unstructure_card)
    omitted = override(omit_if_default=True)
    unstructure_style = make_dict_unstructure_fn(
        Lettering, converter, further=omitted, least_gap=omitted
    )
    converter.register_unstructure_hook(Lettering, unstructure_style)
    structure_text: Any = make_dict_structure_fn(
        KeepOutText, converter, _cattrs_forbid_extra_keys=True
    )
    # Texts saved before fitting existed stay unfitted.
    converter.register_structure_hook(
        KeepOutText, lambda value, kind: structure_text({"fit": False, **value}, kind)
    )
    for union in (FieldSpec, KeepOut):
        configure_tagged_union(
            union, converter, tag_name="kind", tag_generator=lambda kind: _kind(kind.__name__)
        )
    renamed: dict[str, Any] = {name: override(rename=key) for name, key in STORED_NAMES.items()}
    whole: Any = make_dict_structure_fn(
        Recipe, converter, _cattrs_forbid_extra_keys=True, **renamed
    )
    converter.register_structure_hook(Recipe, whole)
    renamed["tile"] = override(
        omit_if_default=True
    )  # so that older programs can read other recipes
    parts: Any = make_dict_unstructure_fn(Recipe, converter, **renamed)
    converter.register_unstructure_hook(Recipe, parts)
    return converter


def _kind(name: str) -> str:
    """`letter` for LetterSpec, `text` for KeepOutText."""
    return name.removesuffix("Spec").removeprefix("KeepOut").lower()


def letter(text: str, **style: Any) -> LetterSpec:
    """One letter, or a few, as a field to fill; `style` as in `Lettering`.

    >>> letter("B", height=160).style.height
    160
    """
    spec = LetterSpec(text)
    return replace(spec, style=_with_options(spec.style, style))


def word(*lines: str, **style: Any) -> WordSpec:
    """A word, or several lines, as a field to fill; `style` as in `Lettering`."""
    spec = WordSpec(lines)
    return replace(spec, style=_with_options(spec.style, style))


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


def _with_options(style: Lettering, given: Mapping[str, Any]) -> Lettering:
    check_names(given, parameters(style))
    return replace(style, **given)


def check_names(options: Mapping[str, Any], *known: Iterable[str]) -> None:
    """Raise UsageError for an option that is not among the known ones."""
    names = {name for some in known for name in some}
    for name in options:
        if name not in names:
            known_names = ", ".join(sorted(names))
            raise UsageError(f"There is no option {name!r}.", f"The options are {known_names}.")
