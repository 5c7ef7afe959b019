"""Tongue hold: one wide bridge, the mouth that a part hinges across."""

from __future__ import annotations

import numpy as np

from hingeleaf.paper.bridge_candidates import MOST_SKEW, BridgeCandidates
from hingeleaf.paper.foldable_part import FoldablePart
from hingeleaf.paper.plan_state import PlanState
from hingeleaf.paper.ray_casting import Floats, Ints

MOUTHS = (0.5, 0.4, 0.3, 0.22)
"""Widths of the mouth that are tried, in square roots of the part's area."""

TIP = 3.0
"""The most skew of a plain mouth: it may run across a tip, where the edges run off at an angle."""

TILT = 0.3
"""The most that a mouth may slant, in widths: then its fold is square to the bridge."""

TRIES = 12

BELOW = 0.05
"""What a mouth at the lower edge counts for: tongues on one sheet open the same way."""

PRICE = 0.02
"""Weight of a strip's length, in widths."""


def cut_tongue(state: PlanState, part: int, width: float) -> str:
    """Tie a part by one mouth, the widest that is clean; otherwise say why it cannot be."""
    if state.ties_of(part):
        return ""  # it hinges on the bridge that is pinned
    leaf = FoldablePart(state.arrangement.part(part))
    if width > leaf.size:
        return "a mouth of that width leaves nothing to lift"
    wide = [share * leaf.size for share in MOUTHS if share * leaf.size > width]
    mouths = [(mouth, MOST_SKEW) for mouth in wide if width == state.width]
    for mouth, most_skew in (*mouths, (width, TIP)):
        candidates = state.candidates_of([part], mouth, most_skew)
        row = _best(state, candidates, part, leaf)
        if row is not None:
            state.take(candidates, state.with_images(candidates, [row]))
            return ""
    return "there is no clean place for a mouth"


def _best(
    state: PlanState, candidates: BridgeCandidates, part: int, leaf: FoldablePart
) -> int | None:
    rows = state.rows_to_tied(candidates, part)
    corners = candidates.corners(part)[rows]
    square = np.abs(_slant(candidates, part, rows)) <= TILT
    rows, corners = rows[square], corners[square]
    held = leaf.holds(corners[:, 0], corners[:, 1]) if len(rows) else np.zeros(0, dtype=bool)
    rows, corners = rows[held], corners[held]
    own = np.isin(candidates.twin[rows], rows) & (candidates.twin[rows] != rows)
    rows, corners = rows[~own], corners[~own]  # a mirror pair would be two mouths
    if not len(rows):
        return None
    order = rows[np.argsort(-_worth(candidates, part, leaf, rows, corners), kind="stable")]
    for row in order[:TRIES]:
        group = state.with_images(candidates, [int(row)])
        if all(state.sound(candidates, one) for one in group) and not state.leaves_nibs(
            candidates, group
        ):
            return int(row)
    return None


def _slant(candidates: BridgeCandidates, part: int, rows: Ints) -> Floats:
    """(n,): how much farther one corner of a mouth lies along its strip, in widths."""
    corners = candidates.corners(part)[rows]
    step = corners[:, 1] - corners[:, 0]
    slant: Floats = (step * candidates.along[rows]).sum(axis=1) / candidates.width[rows]
    return slant


def _worth(
    candidates: BridgeCandidates, part: int, leaf: FoldablePart, rows: Ints, corners: Floats
) -> Floats:
    left = leaf.share(corners[:, 0], corners[:, 1])
    outward = candidates.outward(part)[rows]
    price = PRICE * candidates.cost[rows] / candidates.width[rows]
    worth: Floats = np.maximum(left, 1 - left) + BELOW * outward[:, 1] - price
    return worth
