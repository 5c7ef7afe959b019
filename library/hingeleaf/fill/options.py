"""Options of a filling, of filling again, and edits of placements by their numbers."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar, Self

from shapely import MultiPolygon, Polygon

from hingeleaf.errors import UsageError
from hingeleaf.params import PLACE, SHARE, TIME, Validated, distance, parameter, validate
from hingeleaf.units import parse_length


class Budget(StrEnum):
    """Amount of work, counted in steps, so that a seed gives the same filling again."""

    DRAFT = "draft"
    """A first impression."""
    QUICK = "quick"
    NORMAL = "normal"
    THOROUGH = "thorough"


class Feet(StrEnum):
    """The direction in which the lower side of a motif points in a border."""

    OUTWARDS = "outwards"
    INWARDS = "inwards"


class Spread(StrEnum):
    """How sizes are mixed."""

    FREE = "free"
    """Whatever covers most."""
    VARIED = "varied"
    """A few large, some middle-sized, and small ones between."""
    EVEN = "even"
    """All of about one size."""


@dataclass(frozen=True, slots=True)
class FillOptions:
    """How a field is filled. Raises UsageError for a value out of its bounds."""

    gap: float = distance(2.0, "The least paper between two motifs.", high=1000, step=0.5)
    edge: float | None = distance(
        None,
        "The least paper between motifs and the field's edge.",
        high=1000,
        title="margin to the field's edge",
        label="Edge gap",
        none="as the gap",
        step=0.5,
    )
    seed: int = parameter(1, "Another seed fills the field another way.", low=0, step=1)
    budget: Budget = parameter(Budget.NORMAL, "How long to look for more.", title="effort")
    seconds: float | None = parameter(
        None,
        "A time limit instead of effort; no filling with one repeats exactly.",
        TIME,
        low=0,
        high=86_400,
        above=True,
        title="time limit",
    )
    lifting_share: float | None = parameter(
        None,
        "The share of motifs that lift: 40%, or any.",
        SHARE,
        low=0,
        high=1,
        label="Lifting",
        option="--lifting",
        none="any",
    )
    avoid_neighbours: bool = parameter(
        True,
        "Motifs of one kind may be neighbours.",
        label="Same kind",
        option="--alike",
        words=("side by side", "kept apart"),
    )
    least_kinds: int = parameter(
        1,
        "The least number of different motifs, as far as available.",
        low=1,
        high=10_000,
        title="least number of kinds",
        label="Least kinds",
        step=1,
    )
    spread: Spread = parameter(Spread.VARIED, "How sizes are mixed.", label="Size mix")
    symmetric: bool = parameter(False, "Mirrored about the field's axis.")
    feet: Feet | None = parameter(
        None,
        "Which way the lower sides of motifs point in a border.",
        none="as they stand",
        fields=("border",),
    )
    """Turn limits are then relative to the direction across the border instead of upright."""
    along: bool = parameter(
        False,
        "Long motifs that turn freely lie along the strokes.",
        label="Along stroke",
        fields=("letter", "word", "border"),
    )
    feet_sway: float = 15.0
    """Degrees either way that `feet` allows every motif."""
    region: Polygon | MultiPolygon | None = None
    """The only area to fill; the caller pins placements elsewhere."""

    def __post_init__(self) -> None:
        validate(self)
        if self.along and self.feet is not None:
            raise UsageError(
                "Motifs cannot both stand across the border and lie along it.",
                "Give up either --along or --feet.",
            )

    @property
    def margin(self) -> float:
        """Least distance from a footprint to the field's edge."""
        return self.gap if self.edge is None else self.edge


@dataclass(frozen=True, slots=True)
class RefillOptions(Validated):
    """What stays of a panel that is filled again. Raises UsageError for a value out of bounds."""

    pins: tuple[int | str, ...] = parameter(
        (), "Keep these in place: numbers as in --json, or motifs.", option="--pin"
    )
    at: tuple[float, float] | None = parameter(
        None,
        "Refill only there, as 60,40mm from the sheet's top left corner.",
        PLACE,
        title="place to refill",
        option="--only-at",
        none="everywhere",
    )
    within: float = distance(
        30.0, "How far around that place.", above=True, title="radius to refill"
    )


SHRINK = 0.85
"""Factor on a motif's size when it is shrunk once: about 0.72 of its area. Chosen, no source."""
BEST = "best"
"""Stands for the best-fitting motif in a swap."""
NUMBER = "number of a placement"


@dataclass(frozen=True, slots=True)
class Swap:
    """A placement, and the motif to put there; BEST for any except the present one."""

    number: int
    motif: str
    PATTERN: ClassVar = "NUMBER=MOTIF"

    @classmethod
    def read(cls, text: str) -> Self:
        """Read `7=wren`. Raises UsageError."""
        return cls(*_pair(text, "7=wren"))


@dataclass(frozen=True, slots=True)
class Nudge:
    """A placement, and how far it moves to the right and down, mm."""

    number: int
    right: float
    down: float
    PATTERN: ClassVar = "NUMBER=X,Y"

    @classmethod
    def read(cls, text: str) -> Self:
        """Read `7=1.5,-2mm`. Raises UsageError."""
        number, value = _pair(text, "7=1.5,-2mm")
        right, comma, down = value.partition(",")
        if not comma:
            raise UsageError(f"{value!r} is not a distance right and down.", "Write 7=1.5,-2mm.")
        return cls(number, parse_length(right, signed=True), parse_length(down, signed=True))


@dataclass(frozen=True, slots=True)
class Turn:
    """A placement, and the degrees by which it turns clockwise."""

    number: int
    degrees: float
    PATTERN: ClassVar = "NUMBER=DEGREES"

    @classmethod
    def read(cls, text: str) -> Self:
        """Read `7=15`. Raises UsageError."""
        number, value = _pair(text, "7=15")
        try:
            return cls(number, float(value.removesuffix("°")))
        except ValueError as problem:
            raise UsageError(f"{value!r} is not an angle.", "Give degrees, as in 15.") from problem


def _pair(text: str, example: str) -> tuple[int, str]:
    number, _, value = text.partition("=")
    if not number.strip().isdecimal() or not value.strip():
        raise UsageError(f"{text!r} is not a number with a value.", f"Write {example}.")
    return int(number), value.strip()


@dataclass(frozen=True, slots=True)
class Edits:
    """Edits of placements by number, counted from 1. Lengths in mm."""

    drop: tuple[int, ...] = parameter((), "Remove these.", title=NUMBER, low=1)
    shrink: tuple[int, ...] = parameter(
        (), f"Make these smaller, to {SHRINK:.0%}.", title=NUMBER, low=1
    )
    swap: tuple[Swap, ...] = parameter(
        (), "Replace by another motif, by name; best is the one that fits best."
    )
    nudge: tuple[Nudge, ...] = parameter((), "Move it right and down, as in 3=1.5,-2mm.")
    turn: tuple[Turn, ...] = parameter((), "Turn it clockwise.")
    pin_all_but: tuple[int, ...] = parameter(
        (), "Place these again, and keep all others.", title=NUMBER, low=1
    )

    def __bool__(self) -> bool:
        return bool(self.numbers)

    @property
    def numbers(self) -> list[int]:
        """All numbers, once per edit."""
        swapped = [each.number for each in self.swap]
        return [*self.drop, *self.pin_all_but, *self.shrink, *swapped, *self.moved]

    @property
    def moved(self) -> list[int]:
        """The numbers of placements that are nudged or turned."""
        return [each.number for each in self.nudge] + [each.number for each in self.turn]
