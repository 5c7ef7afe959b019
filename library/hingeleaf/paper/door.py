"""Door hold: two bridges on one side of a part, so that the rest of it lifts like a door."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from hingeleaf.model import Bridge
from hingeleaf.paper.casting import Floats, Ints
from hingeleaf.paper.crossings import Crossings
from hingeleaf.paper.draft import Draft
from hingeleaf.paper.foldable_part import FoldablePart
from hingeleaf.paper.placing import strips_through
from hingeleaf.paper.rigid import spread_out

MOST_CHOICES = 36
"""Places looked at for one part."""

TRIES = 12
"""Pairs looked at exactly before a leftover nib is put up with."""

LONG = 0.9
"""A hinge this long, in square roots of the part's area, is as good as any longer one."""

SHORT = 0.3
"""A hinge shorter than this, in square roots of the part's area, is no door."""

PRICE = 0.02
"""Weight of a pair's cost, in costs of the part's cheapest strip."""

SHALLOW = 0.4
"""Weight of landing on shallow paper, which would tear beside the bridge."""

BELOW = 0.04
"""What a hinge along the lower edge counts for: doors on one sheet open the same way."""

NO_HINGE = "no straight hinge between two clean places runs inside the part"

ASTRAY = 0.3
"""What a bridge on the side that lifts counts against a pair."""

SPLIT = 0.2
"""What it counts against a pair that its bridges end on different parts."""


@dataclass(frozen=True)
class Pairs:
    """Pairs of strips for one part with the hinge between them, best first.

    `rows` (n, 2) are the strips, `start` and `end` (n, 2) the hinge, `score` (n,) its worth.
    """

    rows: Ints
    start: Floats
    end: Floats
    score: Floats


def hang_door(draft: Draft, part: int, width: float) -> str:
    """Tie a part by the two strips that make the best door; otherwise say why it cannot be."""
    crossings = draft.crossings(width)
    rows = draft.rows_to_tied(crossings, part)
    pinned = draft.bridges_of(part)
    if len(pinned) > 1:
        return ""  # it hinges where it is pinned
    if pinned:
        return _beside_pinned(draft, crossings, part, rows, pinned[0])
    if len(rows) < 2:
        return "there are no two clean places for a bridge"
    leaf = FoldablePart(draft.ground.part(part))
    choices = spread_out(crossings, part, rows, MOST_CHOICES)
    twins = crossings.twin[choices]
    own = (twins >= 0) & np.isin(crossings.twin[choices], rows)
    if own.any():  # the part is its own mirror image
        mirrored = np.stack([choices[own], twins[own]], axis=1)
        pairs = rated(leaf, crossings, part, mirrored[mirrored[:, 0] != mirrored[:, 1]])
        if _take_best(draft, crossings, pairs, images=False):
            return ""
        choices = np.union1d(choices, twins[own])
    first, second = np.triu_indices(len(choices), 1)
    pairs = rated(leaf, crossings, part, np.stack([choices[first], choices[second]], axis=1))
    if _take_best(draft, crossings, pairs, images=not own.any()):
        return ""
    return NO_HINGE


def _beside_pinned(
    draft: Draft, crossings: Crossings, part: int, rows: Ints, pinned: Bridge
) -> str:
    """Take the strip that makes the best door with a pinned bridge."""
    angle = math.radians(pinned.direction)
    along = np.array([[math.cos(angle), math.sin(angle)]])
    there = strips_through(draft.ground, np.array([pinned.at]), along, pinned.width)
    if len(there) and part in there.parts[0]:
        both = crossings.joined(there)
        fixed = np.full(len(rows), len(crossings))
        pairs = rated(
            FoldablePart(draft.ground.part(part)), both, part, np.stack([rows, fixed], axis=1)
        )
        for row in pairs.rows[:, 0]:
            if draft.sound(crossings, int(row)):
                draft.take(crossings, [int(row)])
                return ""
    return NO_HINGE


def rated(leaf: FoldablePart, crossings: Crossings, part: int, rows: Ints) -> Pairs:
    """The pairs (n, 2) that make a hinge inside the part, best first."""
    start, end = _hinges(crossings.corners(part)[rows])
    length = np.hypot(*(end - start).T)
    able = length > np.maximum(1.6 * crossings.width[rows[:, 0]], SHORT * leaf.size)
    rows, start, end, length = rows[able], start[able], end[able], length[able]
    inside = leaf.holds(start, end) if len(rows) else np.zeros(0, dtype=bool)
    rows, start, end, length = rows[inside], start[inside], end[inside], length[inside]
    left = leaf.share(start, end)
    share = np.maximum(left, 1 - left)
    score = share * np.minimum(1, length / (LONG * leaf.size))
    if len(rows):
        score -= PRICE * crossings.cost[rows].sum(axis=1) / crossings.cost[rows].min()
        score -= SHALLOW * crossings.shallow[rows].mean(axis=1)
        other = crossings.other(part)[rows]
        score -= SPLIT * (other[:, 0] != other[:, 1])
        flat = _flat_side(start, end, left)
        score += BELOW * flat[:, 1]
        score -= ASTRAY * _astray(crossings, part, rows, flat)
    order = np.argsort(-score, kind="stable")
    return Pairs(rows[order], start[order], end[order], score[order])


def _hinges(edges: Floats) -> tuple[Floats, Floats]:
    """The line between the far corners of two mouths each, (n, 2, 2, 2) to (n, 2) twice."""
    middle = edges.mean(axis=2)
    step = middle[:, 1] - middle[:, 0]
    ahead = (edges * step[:, None, None, :]).sum(axis=3)
    row = np.arange(len(edges))
    return edges[row, 0, ahead[:, 0].argmin(axis=1)], edges[row, 1, ahead[:, 1].argmax(axis=1)]


def _flat_side(start: Floats, end: Floats, left: Floats) -> Floats:
    """Unit vectors (n, 2) from the hinge away from what lifts."""
    step = end - start
    length = np.maximum(np.hypot(step[:, 0], step[:, 1]), 1e-12)[:, None]
    rightward = np.stack([-step[:, 1], step[:, 0]], axis=1) / length
    return np.where((left >= 0.5)[:, None], rightward, -rightward)


def _astray(crossings: Crossings, part: int, rows: Ints, flat: Floats) -> Floats:
    """(n,): how many of a pair's bridges lead to the side that lifts."""
    outward = crossings.outward(part)
    towards = (outward[rows] * flat[:, None, :]).sum(axis=2)
    astray: Floats = (towards < -0.3).sum(axis=1).astype(float)
    return astray


def _take_best(draft: Draft, crossings: Crossings, pairs: Pairs, *, images: bool) -> bool:
    """Take the best pair whose bridges are sound, apart, and leave no nib if that can be had."""
    fallback: list[int] | None = None
    tries = 0
    for pair in pairs.rows:
        group = [int(row) for row in pair]
        if images:
            group = draft.with_images(crossings, group)
        if not all(draft.sound(crossings, row) for row in group) or not draft.apart(
            crossings, group
        ):
            continue
        if not draft.leaves_nibs(crossings, group):
            draft.take(crossings, group)
            return True
        fallback = fallback or group
        tries += 1
        if tries == TRIES:
            break
    if fallback is None:
        return False
    draft.take(crossings, fallback)
    return True
