"""Seeds for bridges: points on cuts that divide parts, with directions across the cut."""

from __future__ import annotations

import math
from collections.abc import Collection
from dataclasses import dataclass
from functools import reduce

import numpy as np
import shapely
from numpy.lib.stride_tricks import sliding_window_view
from shapely import Polygon

from hingeleaf.geometry.ray_casting import Bools, Floats, Ints
from hingeleaf.geometry.symmetry import MirrorAxis, SymmetryGroup
from hingeleaf.paper.arrangement import NO_FACE, CutArrangement
from hingeleaf.paper.strip_probe import TOUCH

AXIS_SPACING = 1.0
"""mm between the strips tried at right angles to a mirror axis."""

MIN_TURN = math.radians(25)
"""Least inward turn of an outline, over a width to either side, that counts as a corner."""

SAMPLES_PER_WIDTH = 10
"""Points tested along an outline, per bridge width."""
SAMPLES = 24, 2_000
"""Least and greatest number of points tested along one outline."""

MAX_STARTS = 3_000
"""Approximate upper limit for the number of seeds."""


@dataclass(frozen=True)
class Seeds:
    """Points (n, 2) on cuts and unit directions (n, 2) across the cut, into the window."""

    points: Floats
    directions: Floats

    def joined(self, other: Seeds) -> Seeds:
        """Both sets of seeds concatenated."""
        return Seeds(
            np.vstack([self.points, other.points]), np.vstack([self.directions, other.directions])
        )

    def take(self, rows: Ints | Bools) -> Seeds:
        """The seeds in the given rows."""
        return Seeds(self.points[rows], self.directions[rows])

    def within(self, symmetry: SymmetryGroup) -> Seeds:
        """The seeds in one sector of a symmetry, its borders included."""
        return self.take(symmetry.in_domain(self.points, -TOUCH))


def all_seeds(
    arrangement: CutArrangement,
    spacing: float,
    width: float,
    axes: Collection[tuple[int, MirrorAxis]] = (),
) -> Seeds:
    """Seeds about `spacing` mm apart along every cut between parts, and at notable places.

    These are the concave corners of parts at the scale of a bridge of `width` mm, and the ends of
    mirror axes: of the artwork, and of single parts in `axes`. If the artwork is symmetric, only
    one sector is seeded, its borders included.
    """
    symmetry = arrangement.symmetry
    divides = dividing(arrangement, arrangement.loose)
    found = edge_seeds(arrangement, spacing, divides)
    corners = [corner_seeds(arrangement, part, width) for part in arrangement.main_parts]
    found = reduce(Seeds.joined, corners, found.take(symmetry.in_domain(found.points, TOUCH)))
    if symmetry.axis is not None:
        found = found.take(symmetry.in_domain(found.points, TOUCH))
    for axis in symmetry.axes:
        found = found.joined(
            line_seeds(arrangement, np.array([axis.point]), axis.along, divides).within(symmetry)
        )
        found = found.joined(square_seeds(arrangement, axis, divides))
    for part, axis in axes:
        own = dividing(arrangement, [part])
        found = found.joined(line_seeds(arrangement, np.array([axis.point]), axis.along, own))
    return found


def corner_seeds(arrangement: CutArrangement, part: int, width: float) -> Seeds:
    """Seeds at the concave corners of a part, away from mirror axes."""
    points, outward = concave_corners(arrangement.part(part), width)
    seeds = Seeds(points, outward)
    return seeds.take(arrangement.symmetry.in_domain(points, width / 4))


def concave_corners(polygon: Polygon, width: float) -> tuple[Floats, Floats]:
    """Points (n, 2) where an outline turns inwards most, and unit vectors out of them."""
    ring = shapely.orient_polygons(polygon, exterior_cw=False).exterior
    pitch = width / SAMPLES_PER_WIDTH
    count = int(np.clip(ring.length / pitch, *SAMPLES))
    points = _outline_points(ring, count)
    arm = max(1, min(count // 8, round(0.6 * width / (ring.length / count))))
    before, after = points - np.roll(points, arm, axis=0), np.roll(points, -arm, axis=0) - points
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    turn = -np.arctan2(cross, (before * after).sum(axis=1))
    found = np.flatnonzero(_peaks(turn, arm) & (turn > MIN_TURN))
    chord = (after - before)[found]
    length = np.maximum(np.hypot(chord[:, 0], chord[:, 1]), 1e-12)[:, None]
    return _sharpened(ring, points[found], 2 * ring.length / count), chord / length


def _sharpened(ring: shapely.LinearRing, points: Floats, near: float) -> Floats:
    """Each point moved to a vertex of the outline within `near` mm that turns inwards, if any."""
    corners = shapely.get_coordinates(ring)[:-1]
    before, after = corners - np.roll(corners, 1, axis=0), np.roll(corners, -1, axis=0) - corners
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    inward = corners[-np.arctan2(cross, (before * after).sum(axis=1)) > MIN_TURN]
    if not len(inward) or not len(points):
        return points
    away = np.hypot(*(points[:, None] - inward).transpose(2, 0, 1))
    nearest = away.argmin(axis=1)
    return np.where((away.min(axis=1) < near)[:, None], inward[nearest], points)


def _outline_points(ring: shapely.LinearRing, count: int) -> Floats:
    places = np.arange(count) / count
    points: Floats = shapely.get_coordinates(
        shapely.line_interpolate_point(ring, places, normalized=True)
    )
    return points


def _peaks(values: Floats, reach: int) -> Bools:
    """Mask of the local maxima of a cyclic sequence, within `reach` entries to either side."""
    around = sliding_window_view(np.pad(values, reach, mode="wrap"), 2 * reach + 1)
    before, behind = around[:, :reach].max(axis=1), around[:, reach + 1 :].max(axis=1)
    peaks: Bools = (values >= before) & (values > behind)
    return peaks


def edge_seeds(arrangement: CutArrangement, spacing: float, divides: Bools) -> Seeds:
    """Seeds at right angles to the edges that divide parts."""
    cut = arrangement.cut
    step = np.roll(cut.points, -1, axis=0) - cut.points
    length = np.where(divides, np.hypot(step[:, 0], step[:, 1]), 0.0)
    spacing = max(spacing, float(length.sum()) / MAX_STARTS)
    along, place = _spread(length, spacing)
    points = cut.points[along] + step[along] * place[:, None]
    across = np.stack([-step[:, 1], step[:, 0]], axis=1)[along] / length[along, None]
    return Seeds(points, across)


def _spread(length: Floats, spacing: float) -> tuple[Ints, Floats]:
    """Edge indices and fractions along them, about `spacing` apart, counted across short edges."""
    reach = np.cumsum(length)
    count = np.ceil(reach / spacing).astype(np.intp) - np.ceil((reach - length) / spacing).astype(
        np.intp
    )
    straight = length >= spacing
    count[straight] = np.round(length[straight] / spacing).astype(np.intp)
    edge = np.repeat(np.arange(len(length)), count)
    rank = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return edge, (rank + 0.5) / count[edge]


def line_seeds(arrangement: CutArrangement, points: Floats, along: Floats, divides: Bools) -> Seeds:
    """Seeds along parallel lines through points (n, 2), where they meet the `divides` edges."""
    hits = arrangement.cut.cast(points, np.broadcast_to(along, points.shape))
    met = np.flatnonzero(divides[hits.edge])
    edge = hits.edge[met]
    step = arrangement.cut.points[edge + 1] - arrangement.cut.points[edge]
    forward = step[:, 0] * along[1] - step[:, 1] * along[0] >= 0
    starts = points[hits.line[met]] + along * hits.at[met, None]
    return Seeds(starts, np.where(forward[:, None], along, -along))


def square_seeds(arrangement: CutArrangement, axis: MirrorAxis, divides: Bools) -> Seeds:
    """Seeds of strips at right angles to an axis, wherever it runs inside a window."""
    along = axis.along
    hits = arrangement.cut.cast(np.array([axis.point]), along[None, :])
    if not len(hits.at):
        return Seeds(np.zeros((0, 2)), np.zeros((0, 2)))
    places = np.arange(hits.at.min(), hits.at.max(), AXIS_SPACING)[:, None]
    points = np.array(axis.point) + along * places
    points = points[arrangement.symmetry.in_domain(points, -TOUCH)]
    square = np.broadcast_to(np.array([-along[1], along[0]]), points.shape)
    sideways = arrangement.cut.cast(points, square)
    before = sideways.beyond(np.zeros(len(points))) - 1
    back, edge = sideways.distance(before), sideways.edge_of(before)
    inside = np.isfinite(back) & (arrangement.window_of[edge] != NO_FACE) & divides[edge]
    reach = np.where(inside, back, 0.0)[:, None]
    return Seeds(points + square * reach, square).take(inside)


def dividing(arrangement: CutArrangement, parts: Collection[int]) -> Bools:
    """Mask of the edges of windows and slits that divide one of these parts from another."""
    left, right = arrangement.edge_faces
    window, joined = arrangement.window_of, arrangement.cut.joined
    wanted = np.zeros(len(arrangement.polygons) + 1, dtype=bool)  # the last one is for NO_FACE
    wanted[list(parts)] = True
    owned = joined & (window != NO_FACE) & (right != NO_FACE)
    least = np.full(len(arrangement.window_list) + 1, len(arrangement.polygons))
    most = np.full(len(arrangement.window_list) + 1, NO_FACE)
    np.minimum.at(least, window[owned], right[owned])
    np.maximum.at(most, window[owned], right[owned])
    asked = np.zeros(len(arrangement.window_list) + 1, dtype=bool)
    asked[window[owned & wanted[right]]] = True
    slit = (left != right) & (left != NO_FACE) & (right != NO_FACE)
    slit &= wanted[left] | wanted[right]
    return joined & np.where(window == NO_FACE, slit, ((least < most) & asked)[window])
