"""Door hold: two bridges on one side of a part, so that the rest of it lifts like a door."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from hingeleaf.model import Bridge
from hingeleaf.paper.bridge_candidates import BridgeCandidates
from hingeleaf.paper.foldable_part import FoldablePart
from hingeleaf.paper.placing import strips_through
from hingeleaf.paper.plan_state import PlanState
from hingeleaf.paper.ray_casting import Floats, Ints
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


def hang_door(state: PlanState, part: int, width: float) -> str:
    """Tie a part by the two strips that make the best door; otherwise say why it cannot be."""
    candidates = state.candidates(width)
    rows = state.rows_to_tied(candidates, part)
    pinned = state.bridges_of(part)
    if len(pinned) > 1:
        return ""  # it hinges where it is pinned
    if pinned:
        return _beside_pinned(state, candidates, part, rows, pinned[0])
    if len(rows) < 2:
        return "there are no two clean places for a bridge"
    leaf = FoldablePart(state.arrangement.part(part))
    choices = spread_out(candidates, part, rows, MOST_CHOICES)
    twins = candidates.twin[choices]
    own = (twins >= 0) & np.isin(candidates.twin[choices], rows)
    if own.any():  # the part is its own mirror image
        mirrored = np.stack([choices[own], twins[own]], axis=1)
        pairs = rated(leaf, candidates, part, mirrored[mirrored[:, 0] != mirrored[:, 1]])
        if _take_best(state, candidates, pairs, images=False):
            return ""
        choices = np.union1d(choices, twins[own])
    first, second = np.triu_indices(len(choices), 1)
    pairs = rated(leaf, candidates, part, np.stack([choices[first], choices[second]], axis=1))
    if _take_best(state, candidates, pairs, images=not own.any()):
        return ""
    return NO_HINGE


def _beside_pinned(
    state: PlanState, candidates: BridgeCandidates, part: int, rows: Ints, pinned: Bridge
) -> str:
    """Take the strip that makes the best door with a pinned bridge."""
    angle = math.radians(pinned.direction)
    along = np.array([[math.cos(angle), math.sin(angle)]])
    there = strips_through(state.arrangement, np.array([pinned.at]), along, pinned.width)
    if len(there) and part in there.parts[0]:
        both = candidates.joined(there)
        fixed = np.full(len(rows), len(candidates))
        pairs = rated(
            FoldablePart(state.arrangement.part(part)), both, part, np.stack([rows, fixed], axis=1)
        )
        for row in pairs.rows[:, 0]:
            if state.sound(candidates, int(row)):
                state.take(candidates, [int(row)])
                return ""
    return NO_HINGE


def rated(leaf: FoldablePart, candidates: BridgeCandidates, part: int, rows: Ints) -> Pairs:
    """The pairs (n, 2) that make a hinge inside the part, best first."""
    start, end = _hinges(candidates.corners(part)[rows])
    length = np.hypot(*(end - start).T)
    able = length > np.maximum(1.6 * candidates.width[rows[:, 0]], SHORT * leaf.size)
    rows, start, end, length = rows[able], start[able], end[able], length[able]
    inside = leaf.holds(start, end) if len(rows) else np.zeros(0, dtype=bool)
    rows, start, end, length = rows[inside], start[inside], end[inside], length[inside]
    left = leaf.share(start, end)
    share = np.maximum(left, 1 - left)
    score = share * np.minimum(1, length / (LONG * leaf.size))
    if len(rows):
        score -= PRICE * candidates.cost[rows].sum(axis=1) / candidates.cost[rows].min()
        score -= SHALLOW * candidates.shallow[rows].mean(axis=1)
        other = candidates.other(part)[rows]
        score -= SPLIT * (other[:, 0] != other[:, 1])
        flat = _flat_side(start, end, left)
        score += BELOW * flat[:, 1]
        score -= ASTRAY * _astray(candidates, part, rows, flat)
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


def _astray(candidates: BridgeCandidates, part: int, rows: Ints, flat: Floats) -> Floats:
    """(n,): how many of a pair's bridges lead to the side that lifts."""
    outward = candidates.outward(part)
    towards = (outward[rows] * flat[:, None, :]).sum(axis=2)
    astray: Floats = (towards < -0.3).sum(axis=1).astype(float)
    return astray


def _take_best(
    state: PlanState, candidates: BridgeCandidates, pairs: Pairs, *, images: bool
) -> bool:
    """Take the best pair whose bridges are sound, apart, and leave no nib if that can be had."""
    fallback: list[int] | None = None
    tries = 0
    for pair in pairs.rows:
        group = [int(row) for row in pair]
        if images:
            group = state.with_images(candidates, group)
        if not all(state.sound(candidates, row) for row in group) or not state.apart(
            candidates, group
        ):
            continue
        if not state.leaves_nibs(candidates, group):
            state.take(candidates, group)
            return True
        fallback = fallback or group
        tries += 1
        if tries == TRIES:
            break
    if fallback is None:
        return False
    state.take(candidates, fallback)
    return True
