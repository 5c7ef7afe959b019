"""Points hold: a bridge at every re-entrant corner of a part; each arm between two lifts."""

from __future__ import annotations

import math

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.geometry.symmetry import MirrorAxis, overlap
from hingeleaf.paper.arrangement import CutArrangement
from hingeleaf.paper.bridge_candidates import BridgeCandidates, find_candidates
from hingeleaf.paper.candidate_seeds import Seeds, dividing, lengthwise_seeds
from hingeleaf.paper.plan_state import PlanState
from hingeleaf.paper.ray_casting import Bools, Floats
from hingeleaf.paper.spine import LEAST_OVERLAP

MOST_SKEW = 2.5
"""A re-entrant corner is a notch: the sides of a strip meet it later than its middle."""

LEAST_TURN = math.radians(25)
"""How far an outline must turn inwards, over a width either way, to count as a corner."""

ON_CORNER = 2.0
"""How far from a corner near the axis the axis may meet the cut, as a share of how near it is."""

SAMPLES_PER_WIDTH = 10
SAMPLES = 24, 2_000
"""The least and the most points looked at along one outline."""


def free_arms(state: PlanState, part: int, width: float) -> str:
    """Tie a part at its re-entrant corners; otherwise say why it cannot be."""
    corners = corner_starts(state.arrangement, part, width)
    if not len(corners.points):
        return "the part has no re-entrant corner"
    candidates = find_candidates(state.arrangement, corners, width, most_skew=MOST_SKEW)
    chosen = _apart(state, candidates, part)
    if len(chosen) + state.ties_of(part) < 2:
        return "fewer than two of its re-entrant corners have room for a bridge"
    state.take(candidates, chosen)
    return ""


def corner_starts(arrangement: CutArrangement, part: int, width: float) -> Seeds:
    """Where bridges may leave from the re-entrant corners of a part, sharpest first.

    If the part is its own image about the artwork's axis, corners near the axis are moved onto
    it, and of the others those on one side of it are given.
    """
    polygon = arrangement.part(part)
    points, outward, turn = reentrant_corners(polygon, width)
    order = np.argsort(-turn, kind="stable")
    starts = Seeds(points[order], outward[order])
    axis = arrangement.axis
    if axis is None or overlap(polygon, axis) < LEAST_OVERLAP:
        return starts
    return _one_side(arrangement, part, starts, axis, width / 4)


def _one_side(
    arrangement: CutArrangement, part: int, starts: Seeds, axis: MirrorAxis, near: float
) -> Seeds:
    """The corners on one side of an axis, and in place of those near it, where it meets the cut."""
    off = axis.side(starts.points)
    beside = starts.take(off >= near)
    on_axis = starts.take(np.abs(off) < near)
    ends = lengthwise_seeds(arrangement, axis, dividing(arrangement, [part]))
    away = np.hypot(*(ends.points[:, None] - on_axis.points).transpose(2, 0, 1))
    return beside.joined(ends.take(away.min(axis=1, initial=np.inf) < ON_CORNER * near))


def reentrant_corners(polygon: Polygon, width: float) -> tuple[Floats, Floats, Floats]:
    """Points (n, 2) where an outline turns inwards most, unit vectors out of them, turns (n,)."""
    ring = shapely.orient_polygons(polygon, exterior_cw=False).exterior
    pitch = width / SAMPLES_PER_WIDTH
    count = int(np.clip(ring.length / pitch, *SAMPLES))
    points = _samples(ring, count)
    arm = max(1, min(count // 8, round(0.6 * width / (ring.length / count))))
    before, after = points - np.roll(points, arm, axis=0), np.roll(points, -arm, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = -np.arctan2(cross, (before * after).sum(axis=1))
    found = np.flatnonzero(_peaks(turn, arm) & (turn > LEAST_TURN))
    chord = (after - before)[found]
    length = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-12)[:, None]
    return points[found], chord / length, turn[found]


def _samples(ring: shapely.LinearRing, count: int) -> Floats:
    places = np.arange(count) / count
    points: Floats = shapely.get_coordinates(
        shapely.line_interpolate_point(ring, places, normalized=True)
    )
    return points


def _peaks(values: Floats, reach: int) -> Bools:
    """Which values of a closed sequence are the largest within `reach` places either way."""
    peak = np.ones(len(values), dtype=bool)
    for step in range(1, reach + 1):
        peak &= values >= np.roll(values, step)
        peak &= values > np.roll(values, -step)
    return peak


def _apart(state: PlanState, candidates: BridgeCandidates, part: int) -> list[int]:
    """The sound strips, with their images, that keep apart from each other; dearest dropped."""
    rows = state.rows_to_tied(candidates, part)
    chosen: list[int] = []
    for row in rows:
        group = [one for one in state.with_images(candidates, [int(row)]) if one not in chosen]
        if all(state.sound(candidates, one) for one in group) and state.apart(
            candidates, [*chosen, *group]
        ):
            chosen += group
    return chosen
