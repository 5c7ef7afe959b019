"""Edit placements of a panel by their numbers, and find the pockets to refill."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import ClassVar, NoReturn, Self

import numpy as np
import shapely
from shapely import MultiPolygon

from hingeleaf.errors import UsageError
from hingeleaf.fill.container import Container, Shapes, close_pairs
from hingeleaf.model import Field, Motif, Placement, place_all
from hingeleaf.params import parameter
from hingeleaf.units import format_mm, parse_length

SHRINK = 0.85
"""Factor on a motif's size when it is shrunk once: about 0.72 of its area."""
POCKET = 6.0
"""How far the pocket around an edited motif extends beyond the gap, mm: half the default smallest
size of motifs."""
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


@dataclass(frozen=True, slots=True)
class EditedPlacements:
    """Placements that stay after edits, and pockets to refill."""

    placements: tuple[Placement, ...]
    pocket: MultiPolygon


def apply_edits(
    placements: Sequence[Placement],
    edits: Edits,
    motifs: Mapping[str, Motif],
    field: Field,
    *,
    gap: float,
    margin: float,
) -> EditedPlacements:
    """Edit placements; all others stay unchanged, in their order.

    Raises UsageError for a number that does not exist or has two edits, and if a motif that was
    moved or turned is nearer to others than `gap` or to the field's edge than `margin`.
    """
    _refuse_numbers(edits.numbers, len(placements))
    gone = {*edits.drop, *edits.pin_all_but, *(each.number for each in edits.swap)}
    changed = dict(enumerate(placements, 1))
    for number in edits.shrink:
        pose = changed[number].pose
        changed[number] = changed[number].moved(replace(pose, size=SHRINK * pose.size))
    for nudge in edits.nudge:
        pose = changed[nudge.number].pose
        moved = replace(pose, x=pose.x + nudge.right, y=pose.y + nudge.down)
        changed[nudge.number] = changed[nudge.number].moved(moved)
    for turn in edits.turn:
        pose = changed[turn.number].pose
        turned = (pose.turn + turn.degrees + 180) % 360 - 180
        changed[turn.number] = changed[turn.number].moved(replace(pose, turn=turned))
    staying = {number: each for number, each in changed.items() if number not in gone}
    _refuse_clash(staying, set(edits.moved), motifs, Container(field.area, margin, gap))
    old = _footprints([placements[number - 1] for number in edits.numbers], motifs)
    pocket = shapely.union_all(shapely.buffer(old, gap + POCKET))
    return EditedPlacements(
        tuple(staying.values()), MultiPolygon(shapely.get_parts(pocket).tolist())
    )


def _footprints(placements: Sequence[Placement], motifs: Mapping[str, Motif]) -> Shapes:
    kinds = [motifs[each.motif] for each in placements]
    footprints = np.array([kind.footprint for kind in kinds], dtype=object)
    sizes = np.array([kind.size for kind in kinds])
    return place_all(footprints, sizes, [each.pose for each in placements])


def _refuse_numbers(numbers: Sequence[int], count: int) -> None:
    for number, times in Counter(numbers).items():
        if not 1 <= number <= count:
            raise UsageError(
                f"There is no placement {number}: the panel has {count}.",
                "Their numbers are in the answer of --json.",
            )
        if times > 1:
            raise UsageError(
                f"There are two edits for placement {number}.", "Make one of them, then the other."
            )


def _refuse_clash(
    placements: Mapping[int, Placement],
    moved: set[int],
    motifs: Mapping[str, Motif],
    container: Container,
) -> None:
    numbers = list(placements)
    some = np.array([index for index, number in enumerate(numbers) if number in moved], np.int64)
    if not len(some):
        return
    shapes = _footprints(list(placements.values()), motifs)
    for index, violation in zip(some, container.violation(shapes[some]), strict=True):
        if violation > 0:
            _refuse(numbers[index], "the field's edge", container.margin)
    for first, second, _ in close_pairs(shapes, container.gap, some):
        mine, other = (first, second) if numbers[first] in moved else (second, first)
        _refuse(numbers[mine], f"placement {numbers[other]}", container.gap)


def _refuse(number: int, what: str, least: float) -> NoReturn:
    raise UsageError(
        f"Placement {number} would lie less than {format_mm(least)} from {what}.",
        "Move it less far, or shrink or drop what is in its way first.",
    )
