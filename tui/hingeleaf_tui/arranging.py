"""Edits of single placements (move, turn, resize, swap), which also pin them."""

import math
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

from hingeleaf.model import Placement

Placements = tuple[Placement, ...]
MIN_SIZE = 5.0
"""mm: smallest size of a motif that can be set by hand."""


def towards(placements: Sequence[Placement], chosen: int, across: int, down: int) -> int:
    """The number of the nearest placement in a direction; the same one if there is none.

    Distance counts once along the direction and twice across it.
    """
    here = placements[chosen].pose
    best, least = chosen, math.inf
    for number, placement in enumerate(placements):
        x, y = placement.pose.x - here.x, placement.pose.y - here.y
        ahead, beside = x * across + y * down, abs(x * down) + abs(y * across)
        if ahead > 1e-6 and ahead >= beside / 2 and ahead + 2 * beside < least:
            best, least = number, ahead + 2 * beside
    return best


def moved(placements: Placements, chosen: int, across: float, down: float) -> Placements:
    """The placements with the chosen one moved by mm."""
    pose = placements[chosen].pose
    return _with(placements, chosen, x=pose.x + across, y=pose.y + down)


def turned(placements: Placements, chosen: int, by: float) -> Placements:
    """The placements with the chosen one turned by degrees, clockwise as seen."""
    turn = (placements[chosen].pose.turn + by + 180) % 360 - 180
    return _with(placements, chosen, turn=turn)


def resized(placements: Placements, chosen: int, by: float) -> Placements:
    """The placements with the chosen one resized by mm."""
    return _with(placements, chosen, size=max(MIN_SIZE, placements[chosen].pose.size + by))


def mirrored(placements: Placements, chosen: int) -> Placements:
    """The placements with the chosen one mirrored."""
    return _with(placements, chosen, mirrored=not placements[chosen].pose.mirrored)


def pinned(placements: Placements, chosen: int) -> Placements:
    """The placements with the chosen one pinned or unpinned."""
    placement = placements[chosen]
    return _put(placements, chosen, replace(placement, pinned=not placement.pinned))


def others_pinned(placements: Placements, chosen: int) -> Placements:
    """The placements with all but the chosen one pinned."""
    return tuple(
        replace(placement, pinned=number != chosen) for number, placement in enumerate(placements)
    )


def swapped(placements: Placements, chosen: int, motif: str, revision: int) -> Placements:
    """The placements with another motif in the place of the chosen one."""
    other = replace(placements[chosen], motif=motif, revision=revision, pinned=True)
    return _put(placements, chosen, other)


def without(placements: Placements, chosen: int) -> Placements:
    """The placements without the chosen one."""
    return (*placements[:chosen], *placements[chosen + 1 :])


def _with(placements: Placements, chosen: int, **values: Any) -> Placements:
    placement = placements[chosen]
    pose = replace(placement.pose, **values)
    return _put(placements, chosen, replace(placement, pose=pose, pinned=True))


def _put(placements: Placements, chosen: int, placement: Placement) -> Placements:
    return (*placements[:chosen], placement, *placements[chosen + 1 :])
