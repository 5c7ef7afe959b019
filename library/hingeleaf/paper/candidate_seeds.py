"""Where bridges may leave: points on cuts that divide parts, and directions across the cut."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from hingeleaf.geometry.symmetry import MirrorAxis
from hingeleaf.paper.arrangement import NO_FACE, CutArrangement
from hingeleaf.paper.ray_casting import Bools, Floats, Ints
from hingeleaf.paper.strip_probe import TOUCH

AXIS_SPACING = 1.0
"""mm between the strips that are tried square across a mirror axis."""

MOST_STARTS = 3_000
"""However much there is to cut, not many more places than this are tried."""


@dataclass(frozen=True)
class Seeds:
    """Points (n, 2) on cuts and unit directions (n, 2) across the cut, into the window."""

    points: Floats
    directions: Floats

    def joined(self, other: Seeds) -> Seeds:
        """Both."""
        return Seeds(
            np.vstack([self.points, other.points]), np.vstack([self.directions, other.directions])
        )

    def take(self, rows: Ints | Bools) -> Seeds:
        """Some of them."""
        return Seeds(self.points[rows], self.directions[rows])


def all_seeds(arrangement: CutArrangement, spacing: float, parts: Collection[int]) -> Seeds:
    """Seeds about `spacing` mm apart along every cut beside these parts that divides parts.

    If the artwork is its own mirror image, they are those of one half, and on the axis.
    """
    divides = dividing(arrangement, parts)
    starts = edge_seeds(arrangement, spacing, divides)
    if arrangement.axis is None:
        return starts
    half = starts.take(arrangement.axis.side(starts.points) > TOUCH)
    lengthwise = lengthwise_seeds(arrangement, arrangement.axis, divides)
    return half.joined(lengthwise).joined(square_seeds(arrangement, arrangement.axis, divides))


def edge_seeds(arrangement: CutArrangement, spacing: float, divides: Bools) -> Seeds:
    """Seeds square to those edges that divide."""
    cut = arrangement.cut
    step = np.roll(cut.points, -1, axis=0) - cut.points
    length = np.where(divides, np.hypot(step[:, 0], step[:, 1]), 0.0)
    spacing = max(spacing, float(length.sum()) / MOST_STARTS)
    along, place = _spread(length, spacing)
    points = cut.points[along] + step[along] * place[:, None]
    across = np.stack([-step[:, 1], step[:, 0]], axis=1)[along] / length[along, None]
    return Seeds(points, across)


def _spread(length: Floats, spacing: float) -> tuple[Ints, Floats]:
    """Edges and shares of them: places about `spacing` apart, short edges counted together."""
    reach = np.cumsum(length)
    count = np.ceil(reach / spacing).astype(np.intp) - np.ceil((reach - length) / spacing).astype(
        np.intp
    )
    straight = length >= spacing
    count[straight] = np.round(length[straight] / spacing).astype(np.intp)
    edge = np.repeat(np.arange(len(length)), count)
    rank = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    return edge, (rank + 0.5) / count[edge]


def lengthwise_seeds(arrangement: CutArrangement, axis: MirrorAxis, divides: Bools) -> Seeds:
    """Seeds of strips that run along an axis, where it meets an edge that divides."""
    middle, along = np.array([axis.point]), axis.along[None, :]
    hits = arrangement.cut.cast(middle, along, np.inf)
    met = divides[hits.edge]
    edge, place = hits.edge[met], hits.at[met]
    step = arrangement.cut.points[edge + 1] - arrangement.cut.points[edge]
    towards = np.sign(step[:, :1] * along[:, 1:] - step[:, 1:] * along[:, :1])
    directions = along * np.where(towards == 0, 1.0, towards)
    return Seeds(middle + along * place[:, None], directions)


def square_seeds(arrangement: CutArrangement, axis: MirrorAxis, divides: Bools) -> Seeds:
    """Seeds of strips that cross an axis squarely, wherever it runs inside a window."""
    along = axis.along
    hits = arrangement.cut.cast(np.array([axis.point]), along[None, :], np.inf)
    if not len(hits.at):
        return Seeds(np.zeros((0, 2)), np.zeros((0, 2)))
    places = np.arange(hits.at.min(), hits.at.max(), AXIS_SPACING)[:, None]
    points = np.array(axis.point) + along * places
    square = np.broadcast_to(np.array([-along[1], along[0]]), points.shape)
    sideways = arrangement.cut.cast(points, square, np.inf)
    before = sideways.beyond(np.zeros(len(points))) - 1
    back, edge = sideways.distance(before), sideways.edge_of(before)
    inside = np.isfinite(back) & (arrangement.window_of[edge] != NO_FACE) & divides[edge]
    reach = np.where(inside, back, 0.0)[:, None]
    return Seeds(points + square * reach, square).take(inside)


def dividing(arrangement: CutArrangement, parts: Collection[int]) -> Bools:
    """Which edges belong to a window or slit that divides one of these parts from another."""
    left, right = arrangement.edge_faces
    window, joined = arrangement.window_of, arrangement.cut.joined
    wanted = np.zeros(len(arrangement.polygons) + 1, dtype=bool)  # the last one stands for NO_FACE
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
