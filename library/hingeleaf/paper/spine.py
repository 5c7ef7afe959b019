"""Spine hold: a bridge at either end of a part's mirror axis; both wings lift."""

from __future__ import annotations

import numpy as np

from hingeleaf.geometry.symmetry import MirrorAxis, find_axis, overlap
from hingeleaf.paper.arrangement import CutArrangement
from hingeleaf.paper.bridge_candidates import BridgeCandidates, find_candidates
from hingeleaf.paper.candidate_seeds import dividing, lengthwise_seeds
from hingeleaf.paper.foldable_part import FoldablePart
from hingeleaf.paper.plan_state import PlanState
from hingeleaf.paper.ray_casting import Floats

MOST_SKEW = 3.0
"""An axis often ends in a tip or a notch, where both edges run off at an angle."""

LEAST_OVERLAP = 0.95
"""A part this much like its image counts as mirror-symmetric."""

AT_END = 0.35
"""A strip ties an end of the axis if it meets the part this near to it, in lengths of the part."""


def fold_wings(state: PlanState, part: int, width: float) -> str:
    """Tie a part at both ends of its axis; otherwise say why it cannot be."""
    axis = part_axis(state.arrangement, part)
    if axis is None:
        return "the part has no mirror axis"
    candidates = find_candidates(
        state.arrangement,
        lengthwise_seeds(state.arrangement, axis, dividing(state.arrangement, [part])),
        width,
        most_skew=MOST_SKEW,
    )
    ends = _ends(state, candidates, part, axis)
    if ends is None:
        return "there is no clean place for a bridge at both ends of its axis"
    if not _wings_fold(state, candidates, part, axis, ends):
        return "a window or a bay lies across the fold"
    there = state.rows_there(candidates, part)
    state.take(candidates, state.with_images(candidates, [row for row in ends if row not in there]))
    return ""


def part_axis(arrangement: CutArrangement, part: int) -> MirrorAxis | None:
    """The artwork's mirror axis if it is the part's too, else the part's own."""
    polygon = arrangement.part(part)
    if arrangement.axis is not None and overlap(polygon, arrangement.axis) >= LEAST_OVERLAP:
        return arrangement.axis
    return find_axis(polygon, least_overlap=LEAST_OVERLAP)


def _ends(
    state: PlanState, candidates: BridgeCandidates, part: int, axis: MirrorAxis
) -> list[int] | None:
    """The strips that tie the part nearest to the two ends of its axis."""
    free = state.rows_to_tied(candidates, part)
    rows = np.union1d(free, state.rows_there(candidates, part))
    rows = rows[[state.sound(candidates, int(row)) for row in rows]] if len(rows) else rows
    if len(rows) < 2:
        return None
    reach = (np.array(state.arrangement.part(part).exterior.coords) - axis.point) @ axis.along
    low, high = float(reach.min()), float(reach.max())
    place = (candidates.mouth(part)[rows] - axis.point) @ axis.along
    first, last = int(place.argmin()), int(place.argmax())
    if max(place[first] - low, high - place[last]) > AT_END * (high - low):
        return None
    return [int(rows[first]), int(rows[last])]


def _wings_fold(
    state: PlanState, candidates: BridgeCandidates, part: int, axis: MirrorAxis, ends: list[int]
) -> bool:
    """Whether both folds, from bridge to bridge beside the axis, run inside the part."""
    corners = candidates.corners(part)[ends]
    right = axis.side(corners)
    row = np.arange(2)
    lefts: Floats = corners[row, right.argmin(axis=1)]
    rights: Floats = corners[row, right.argmax(axis=1)]
    leaf = FoldablePart(state.arrangement.part(part))
    folds = leaf.holds(np.stack([lefts[0], rights[0]]), np.stack([lefts[1], rights[1]]))
    return bool(folds.all())
