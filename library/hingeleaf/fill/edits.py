"""Edit placements of a panel by their numbers, and find the pockets to refill."""

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NoReturn

import numpy as np
import shapely
from shapely import MultiPolygon

from hingeleaf.errors import UsageError
from hingeleaf.fill.container import Container, Shapes, close_pairs
from hingeleaf.fill.options import SHRINK, Edits
from hingeleaf.geometry.members import area_of
from hingeleaf.model import Field, Motif, Placement, place_all
from hingeleaf.units import format_mm

POCKET_MARGIN = 6.0
"""How far the pocket around an edited motif extends beyond the gap, mm: half the default smallest
size of motifs."""


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
    pocket = shapely.union_all(shapely.buffer(old, gap + POCKET_MARGIN))
    return EditedPlacements(tuple(staying.values()), area_of(pocket))


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
