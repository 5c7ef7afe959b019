"""Tongue hold: one wide bridge, the mouth that a part hinges across."""

from __future__ import annotations

import numpy as np

from hingeleaf.paper.casting import Floats, Ints
from hingeleaf.paper.crossings import MOST_SKEW, Crossings
from hingeleaf.paper.draft import Draft
from hingeleaf.paper.foldable_part import FoldablePart

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


def cut_tongue(draft: Draft, part: int, width: float) -> str:
    """Tie a part by one mouth, the widest that is clean; otherwise say why it cannot be."""
    if draft.ties_of(part):
        return ""  # it hinges on the bridge that is pinned
    leaf = FoldablePart(draft.ground.part(part))
    if width > leaf.size:
        return "a mouth of that width leaves nothing to lift"
    wide = [share * leaf.size for share in MOUTHS if share * leaf.size > width]
    mouths = [(mouth, MOST_SKEW) for mouth in wide if width == draft.width]
    for mouth, most_skew in (*mouths, (width, TIP)):
        crossings = draft.crossings_of([part], mouth, most_skew)
        row = _best(draft, crossings, part, leaf)
        if row is not None:
            draft.take(crossings, draft.with_images(crossings, [row]))
            return ""
    return "there is no clean place for a mouth"


def _best(draft: Draft, crossings: Crossings, part: int, leaf: FoldablePart) -> int | None:
    rows = draft.rows_to_tied(crossings, part)
    corners = crossings.corners(part)[rows]
    square = np.abs(_slant(crossings, part, rows)) <= TILT
    rows, corners = rows[square], corners[square]
    held = leaf.holds(corners[:, 0], corners[:, 1]) if len(rows) else np.zeros(0, dtype=bool)
    rows, corners = rows[held], corners[held]
    own = np.isin(crossings.twin[rows], rows) & (crossings.twin[rows] != rows)
    rows, corners = rows[~own], corners[~own]  # a mirror pair would be two mouths
    if not len(rows):
        return None
    order = rows[np.argsort(-_worth(crossings, part, leaf, rows, corners), kind="stable")]
    for row in order[:TRIES]:
        group = draft.with_images(crossings, [int(row)])
        if all(draft.sound(crossings, one) for one in group) and not draft.leaves_nibs(
            crossings, group
        ):
            return int(row)
    return None


def _slant(crossings: Crossings, part: int, rows: Ints) -> Floats:
    """(n,): how much farther one corner of a mouth lies along its strip, in widths."""
    corners = crossings.corners(part)[rows]
    step = corners[:, 1] - corners[:, 0]
    slant: Floats = (step * crossings.along[rows]).sum(axis=1) / crossings.width[rows]
    return slant


def _worth(
    crossings: Crossings, part: int, leaf: FoldablePart, rows: Ints, corners: Floats
) -> Floats:
    left = leaf.share(corners[:, 0], corners[:, 1])
    outward = crossings.outward(part)[rows]
    price = PRICE * crossings.cost[rows] / crossings.width[rows]
    worth: Floats = np.maximum(left, 1 - left) + BELOW * outward[:, 1] - price
    return worth
