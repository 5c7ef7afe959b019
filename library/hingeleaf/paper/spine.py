"""Spine hold: a bridge at either end of a part's mirror axis; both wings lift."""

from __future__ import annotations

import numpy as np

from hingeleaf.paper.casting import Floats
from hingeleaf.paper.crossings import Crossings, find_crossings
from hingeleaf.paper.draft import Draft
from hingeleaf.paper.foldable_part import FoldablePart
from hingeleaf.paper.ground import Ground
from hingeleaf.paper.starts import dividing, lengthwise_starts
from hingeleaf.paper.symmetry import MirrorAxis, find_axis, overlap

MOST_SKEW = 3.0
"""An axis often ends in a tip or a notch, where both edges run off at an angle."""

LEAST_OVERLAP = 0.95
"""A part this much like its image counts as mirror-symmetric."""

AT_END = 0.35
"""A strip ties an end of the axis if it meets the part this near to it, in lengths of the part."""


def fold_wings(draft: Draft, part: int, width: float) -> str:
    """Tie a part at both ends of its axis; otherwise say why it cannot be."""
    axis = part_axis(draft.ground, part)
    if axis is None:
        return "the part has no mirror axis"
    crossings = find_crossings(
        draft.ground,
        lengthwise_starts(draft.ground, axis, dividing(draft.ground, [part])),
        width,
        most_skew=MOST_SKEW,
    )
    ends = _ends(draft, crossings, part, axis)
    if ends is None:
        return "there is no clean place for a bridge at both ends of its axis"
    if not _wings_fold(draft, crossings, part, axis, ends):
        return "a window or a bay lies across the fold"
    there = draft.rows_there(crossings, part)
    draft.take(crossings, draft.with_images(crossings, [row for row in ends if row not in there]))
    return ""


def part_axis(ground: Ground, part: int) -> MirrorAxis | None:
    """The artwork's mirror axis if it is the part's too, else the part's own."""
    polygon = ground.part(part)
    if ground.axis is not None and overlap(polygon, ground.axis) >= LEAST_OVERLAP:
        return ground.axis
    return find_axis(polygon, least_overlap=LEAST_OVERLAP)


def _ends(draft: Draft, crossings: Crossings, part: int, axis: MirrorAxis) -> list[int] | None:
    """The strips that tie the part nearest to the two ends of its axis."""
    free = draft.rows_to_tied(crossings, part)
    rows = np.union1d(free, draft.rows_there(crossings, part))
    rows = rows[[draft.sound(crossings, int(row)) for row in rows]] if len(rows) else rows
    if len(rows) < 2:
        return None
    reach = (np.array(draft.ground.part(part).exterior.coords) - axis.point) @ axis.along
    low, high = float(reach.min()), float(reach.max())
    place = (crossings.mouth(part)[rows] - axis.point) @ axis.along
    first, last = int(place.argmin()), int(place.argmax())
    if max(place[first] - low, high - place[last]) > AT_END * (high - low):
        return None
    return [int(rows[first]), int(rows[last])]


def _wings_fold(
    draft: Draft, crossings: Crossings, part: int, axis: MirrorAxis, ends: list[int]
) -> bool:
    """Whether both folds, from bridge to bridge beside the axis, run inside the part."""
    corners = crossings.corners(part)[ends]
    right = axis.side(corners)
    row = np.arange(2)
    lefts: Floats = corners[row, right.argmin(axis=1)]
    rights: Floats = corners[row, right.argmax(axis=1)]
    leaf = FoldablePart(draft.ground.part(part))
    folds = leaf.holds(np.stack([lefts[0], rights[0]]), np.stack([lefts[1], rights[1]]))
    return bool(folds.all())
