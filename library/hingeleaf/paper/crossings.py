"""Clean places for bridges: straight strips of one width that cross one cut from part to part.

A strip is tried as five parallel lines. It is clean if every one of them leaves the same part,
crosses the same cut once, and lands on the same other part. What a strip costs grows with its
length, with how askew it meets the edges, and with how shallow the paper is that it lands on.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace

import numpy as np
import shapely
from numpy.typing import NDArray

from hingeleaf.model import Bridge
from hingeleaf.paper.casting import Bools, Floats, Hits, Ints
from hingeleaf.paper.ground import NOBODY, Ground
from hingeleaf.paper.symmetry import MirrorAxis

LINES = np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
"""Where the lines of a strip run, in half widths off its middle."""

TOUCH = 1e-7
"""mm: an origin this near to a cut lies on it."""

OVERLAP = 1.0
"""mm that a strip reaches into the paper at either end, where there is as much."""

AXIS_SPACING = 1.0
"""mm between the strips that are tried square across a mirror axis."""

SAME = 0.05
"""mm: strips with middles this near, and the same direction, are the same."""

MOST_SKEW = 0.8
"""How askew the edges may run under a strip: rise over width, both ends added."""

LONGEST = 0.6
"""The longest strip, as a share of the artwork's longest side."""


@dataclass(frozen=True)
class Crossings:
    """Clean strips as columns; one row (of n) is one strip.

    `origin` (n, 2) and `along` (n, 2) give its middle line, `low` and `high` (n,) how far it
    reaches along that line, overlap included. `start` and `end` (n, 2) are where the middle line
    leaves one part and lands on the other; `parts` (n, 2) are the two. `twin` is the row of the
    mirror image: its own if it is its own image, -1 without an axis.
    """

    origin: Floats
    along: Floats
    low: Floats
    high: Floats
    start: Floats
    end: Floats
    mouths: Floats
    """(n, 2, 2, 2): where the two side lines leave the first part, and land on the second."""
    parts: Ints
    width: Floats
    depth: Floats
    """(n,): the least depth of paper behind either landing, at most the width."""
    skew: Floats
    cost: Floats
    twin: Ints

    def __len__(self) -> int:
        return len(self.cost)

    def joined(self, other: Crossings) -> Crossings:
        """Both, one under the other; twins are not followed."""
        return Crossings(
            *(
                np.concatenate([getattr(self, f.name), getattr(other, f.name)])
                for f in fields(self)
            )
        )

    def take(self, rows: Ints | Bools) -> Crossings:
        """Some rows; twins are not followed."""
        return Crossings(**{f.name: getattr(self, f.name)[rows] for f in fields(self)})

    def bridge(self, row: int) -> Bridge:
        """One strip as a bridge."""
        along, low, high = self.along[row], self.low[row], self.high[row]
        middle = self.origin[row] + along * (low + high) / 2
        return Bridge(
            (float(middle[0]), float(middle[1])),
            float(np.degrees(np.arctan2(along[1], along[0]))),
            float(high - low),
            float(self.width[row]),
        )

    def mouth(self, part: int) -> Floats:
        """(n, 2): where each strip's middle meets a part, NaN where it does not."""
        here = np.where((self.parts[:, 0] == part)[:, None], self.start, np.nan)
        return np.where((self.parts[:, 1] == part)[:, None], self.end, here)

    def edges(self, part: int) -> Floats:
        """(n, 2, 2): both corners of each strip's mouth on a part, NaN where it has none."""
        here = (self.parts == part)[:, :, None, None]
        found = np.where(here[:, 0], self.mouths[:, 0], np.nan)
        return np.where(here[:, 1], self.mouths[:, 1], found)

    def other(self, part: int) -> Ints:
        """(n,): the part at the other end from `part`, NOBODY where the strip does not meet it."""
        other = np.where(self.parts[:, 0] == part, self.parts[:, 1], NOBODY)
        return np.where(self.parts[:, 1] == part, self.parts[:, 0], other)


@dataclass(frozen=True)
class Starts:
    """Where strips may leave: points (n, 2) on cuts, unit directions (n, 2) across the cut."""

    points: Floats
    directions: Floats

    def joined(self, other: Starts) -> Starts:
        """Both."""
        return Starts(
            np.vstack([self.points, other.points]), np.vstack([self.directions, other.directions])
        )

    def take(self, rows: Ints | Bools) -> Starts:
        """Some of them."""
        return Starts(self.points[rows], self.directions[rows])

    def mirrored(self, axis: MirrorAxis) -> Starts:
        """Their images."""
        return Starts(axis.mirror(self.points), axis.mirror_vectors(self.directions))


def find_crossings(
    ground: Ground, starts: Starts, width: float, *, most_skew: float = MOST_SKEW
) -> Crossings:
    """The clean strips of `width` mm among those that leave from `starts`, cheapest first.

    With a mirror axis every strip comes with its image, and strips whose image is not clean, or
    overlaps them, are left out.
    """
    found = _measured(ground, starts, width)
    found = found.take(found.skew <= most_skew)
    if ground.axis is not None:
        return _with_images(ground, found, ground.axis)
    return found.take(np.argsort(found.cost, kind="stable"))


def all_starts(ground: Ground, spacing: float) -> Starts:
    """Starts about `spacing` mm apart wherever a cut divides parts; of mirror pairs only one."""
    starts = edge_starts(ground, spacing)
    if ground.axis is None:
        return starts
    half = starts.take(ground.axis.side(starts.points) > TOUCH)
    across = square_starts(ground, ground.axis)
    return half.joined(lengthwise_starts(ground, ground.axis)).joined(across)


def edge_starts(ground: Ground, spacing: float) -> Starts:
    """Points about `spacing` mm apart along every cut that has two parts beside it."""
    cut, (left, right) = ground.cut, ground.beside
    step = np.roll(cut.points, -1, axis=0) - cut.points
    length = np.where(cut.joined, np.hypot(step[:, 0], step[:, 1]), 0.0)
    count = np.maximum(1, np.round(length / spacing)).astype(np.intp)
    count[~_dividing(ground) | (length < TOUCH)] = 0
    edge = np.repeat(np.arange(len(count)), count)
    rank = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count)
    points = cut.points[edge] + step[edge] * ((rank + 0.5) / count[edge])[:, None]
    across = np.stack([-step[:, 1], step[:, 0]], axis=1) / np.maximum(length, TOUCH)[:, None]
    return Starts(points, across[edge])


def lengthwise_starts(ground: Ground, axis: MirrorAxis) -> Starts:
    """Starts of strips that run along an axis, from every cut that it meets."""
    middle, along = np.array([axis.point]), axis.along[None, :]
    hits = ground.cut.cast(middle, along)
    step = ground.cut.points[hits.edge + 1] - ground.cut.points[hits.edge]
    towards = np.sign(step[:, :1] * along[:, 1:] - step[:, 1:] * along[:, :1])
    directions = along * np.where(towards == 0, 1.0, towards)
    return Starts(middle + along * hits.at[:, None], directions)


def square_starts(ground: Ground, axis: MirrorAxis) -> Starts:
    """Starts of strips that cross an axis squarely, wherever it runs inside a window."""
    along = axis.along
    hits = ground.cut.cast(np.array([axis.point]), along[None, :])
    if not len(hits.at):
        return Starts(np.zeros((0, 2)), np.zeros((0, 2)))
    places = np.arange(hits.at.min(), hits.at.max(), AXIS_SPACING)[:, None]
    points = np.array(axis.point) + along * places
    square = np.broadcast_to(np.array([-along[1], along[0]]), points.shape)
    sideways = ground.cut.cast(points, square)
    before = sideways.beyond(np.zeros(len(points))) - 1
    back = sideways.distance(before)
    inside = np.isfinite(back) & (ground.window_of[sideways.edge_of(before)] != NOBODY)
    reach = np.where(inside, back, 0.0)[:, None]
    return Starts(points + square * reach, square).take(inside)


def _dividing(ground: Ground) -> Bools:
    """Which edges belong to a window or a slit with more than one part beside it."""
    left, right = ground.beside
    window, joined = ground.window_of, ground.cut.joined
    parts = len(ground.polygons)
    owned = joined & (window != NOBODY) & (right != NOBODY)
    least = np.full(len(ground.window_list) + 1, parts)
    most = np.full(len(ground.window_list) + 1, NOBODY)
    np.minimum.at(least, window[owned], right[owned])
    np.maximum.at(most, window[owned], right[owned])
    slit = (left != right) & (left != NOBODY) & (right != NOBODY)
    return joined & np.where(window == NOBODY, slit, (least < most)[window])


def _measured(ground: Ground, starts: Starts, width: float) -> Crossings:
    """The clean strips from these starts, in the same order, without images."""
    middles, clean = _aim(ground, starts)
    starts, middles = starts.take(clean), middles[clean]
    return _swept(ground, starts, middles, np.full(len(middles), width))[0]


def _aim(ground: Ground, starts: Starts) -> tuple[Floats, Bools]:
    """Half way over the cut along each start's own line, and whether it leads to another part."""
    hits = ground.cut.cast(starts.points, starts.directions)
    here = hits.beyond(np.full(len(starts.points), TOUCH)) - 1
    leaving = hits.edge_of(here)
    slit = ground.window_of[leaving] == NOBODY
    there = np.where(slit, here, here + 1)
    landing = hits.edge_of(there)
    length = hits.distance(there) - hits.distance(here)
    from_part, to_part = _parts_of(ground, leaving, landing, starts.directions)
    clean = (leaving >= 0) & (landing >= 0) & (np.abs(hits.distance(here)) < TOUCH)
    clean &= (from_part != to_part) & (from_part != NOBODY) & (to_part != NOBODY)
    with np.errstate(invalid="ignore"):
        clean &= length < LONGEST * ground.length
    middles = np.where(clean, length, 0.0) / 2
    return middles, clean


def _parts_of(ground: Ground, leaving: Ints, landing: Ints, along: Floats) -> tuple[Ints, Ints]:
    """The part before the edge where each line leaves, and behind the edge where it lands."""
    return _side(ground, leaving, -along), _side(ground, landing, along)


def _side(ground: Ground, edge: Ints, towards: Floats) -> Ints:
    """The part beside each edge on the side that a direction points to."""
    left, right = ground.beside
    points = ground.cut.points
    step = points[(edge + 1) % len(points)] - points[edge]
    leftward = step[:, 0] * towards[:, 1] - step[:, 1] * towards[:, 0] > 0
    return np.where(edge < 0, NOBODY, np.where(leftward, left[edge], right[edge]))


def _swept(
    ground: Ground, starts: Starts, middles: Floats, width: Floats
) -> tuple[Crossings, Bools]:
    """The strips whose five lines all cross as their middle line does, and which those were."""
    lines = len(LINES)
    across = np.stack([-starts.directions[:, 1], starts.directions[:, 0]], axis=1)
    shift = across[:, None, :] * (LINES * width[:, None] / 2)[:, :, None]
    origins = (starts.points[:, None, :] + shift).reshape(-1, 2)
    along = np.repeat(starts.directions, lines, axis=0)
    hits = ground.cut.cast(origins, along)
    beyond = hits.beyond(np.repeat(middles, lines) + np.where(middles > 0, 0, TOUCH).repeat(lines))
    before = beyond - 1
    slit = np.repeat(middles == 0, lines)
    if slit.any():
        nearest = _nearest(hits, before)
        before = np.where(slit, nearest, before)
        beyond = np.where(slit, nearest, beyond)
    return _rows(ground, starts, origins, hits, (before, beyond), width)


def _nearest(hits: Hits, before: Ints) -> Ints:
    """Of the hits about each line's origin, the nearer one."""
    behind, ahead = hits.distance(before), hits.distance(before + 1)
    return np.where(np.abs(ahead) < np.abs(behind), before + 1, before)


def _rows(
    ground: Ground,
    starts: Starts,
    origins: Floats,
    hits: Hits,
    crossing: tuple[Ints, Ints],
    width: Floats,
) -> tuple[Crossings, Bools]:
    before, beyond = crossing
    shape = len(width), len(LINES)
    along = np.repeat(starts.directions, shape[1], axis=0)
    leaving, landing = hits.edge_of(before), hits.edge_of(beyond)
    from_part, to_part = (
        part.reshape(shape) for part in _parts_of(ground, leaving, landing, along)
    )
    window = ground.window_of[leaving].reshape(shape)
    other_window = ground.window_of[landing].reshape(shape)
    enter, leave = (hits.distance(index).reshape(shape) for index in (before, beyond))
    back, ahead = (
        hits.distance(index).reshape(shape) for index in (before - 1, beyond + 1)
    )
    same = (from_part == from_part[:, 2:3]) & (to_part == to_part[:, 2:3])
    same &= (window == window[:, 2:3]) & (other_window == window[:, 2:3])
    same &= (from_part != NOBODY) & (to_part != NOBODY) & (from_part != to_part)
    clean = same.all(axis=1)
    with np.errstate(invalid="ignore"):
        low_paper = enter.min(axis=1) - back.max(axis=1)
        high_paper = ahead.min(axis=1) - leave.max(axis=1)
        skew = (np.ptp(enter, axis=1) + np.ptp(leave, axis=1)) / width
        depth = np.minimum((enter - back).min(axis=1), (ahead - leave).min(axis=1))
        length = (leave - enter).max(axis=1)
        clean &= (low_paper > 0.1) & (high_paper > 0.1)
        clean &= length < LONGEST * ground.length
    depth = np.minimum(depth, width)
    shallow = 1 - depth / width
    cost = np.maximum(length, 0.2 * width) * (1 + skew) * (1 + 1.5 * shallow)
    middle = shape[1] // 2
    sides = origins.reshape(*shape, 2)[:, None, [0, -1]]
    reached = np.stack([enter[:, [0, -1]], leave[:, [0, -1]]], axis=1)
    parts = np.stack([from_part[:, middle], to_part[:, middle]], axis=1)
    table = Crossings(
        starts.points,
        starts.directions,
        enter.min(axis=1) - np.clip(low_paper / 2, 0, OVERLAP),
        leave.max(axis=1) + np.clip(high_paper / 2, 0, OVERLAP),
        starts.points + starts.directions * _finite(enter[:, middle])[:, None],
        starts.points + starts.directions * _finite(leave[:, middle])[:, None],
        sides + starts.directions[:, None, None, :] * _finite(reached)[..., None],
        parts,
        width,
        depth,
        skew,
        cost,
        np.full(shape[0], -1),
    )
    return table.take(clean), clean


def _finite(values: Floats) -> Floats:
    return np.where(np.isfinite(values), values, 0.0)


def _with_images(ground: Ground, found: Crossings, axis: MirrorAxis) -> Crossings:
    """The strips of one half and their images, as long as both are clean, cheapest first."""
    starts = Starts(found.origin, found.along).mirrored(axis)
    middles = (((found.start + found.end) / 2 - found.origin) * found.along).sum(axis=1)
    images, clean = _swept(ground, starts, middles, found.width)
    found = found.take(clean)
    own, apart = _overlaps(found, images, axis, ground.card.least_window)
    kept, shown = found.take(own | apart), images.take(apart)
    both = kept.joined(shown)
    rows = np.arange(len(kept))
    two = apart[own | apart]
    both.twin[: len(kept)] = rows
    both.twin[: len(kept)][two] = len(kept) + np.arange(len(shown))
    both.twin[len(kept) :] = rows[two]
    order = np.argsort(both.cost, kind="stable")
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    return replace(both.take(order), twin=place[both.twin[order]])


def _overlaps(
    found: Crossings, images: Crossings, axis: MirrorAxis, least_gap: float
) -> tuple[Bools, Bools]:
    """Which strips are their own images, and which lie apart from them."""
    middle = (found.start + found.end) / 2 - (images.start + images.end) / 2
    turned = found.along[:, 0] * images.along[:, 1] - found.along[:, 1] * images.along[:, 0]
    own = (np.hypot(middle[:, 0], middle[:, 1]) < SAME) & (np.abs(turned) < 1e-6)
    off = axis.side(strip_corners(found))
    apart = np.abs(off).min(axis=1) >= least_gap / 2
    one_side = (off > 0).all(axis=1) | (off < 0).all(axis=1)
    return own, apart & one_side & ~own


def strips(crossings: Crossings) -> NDArray[np.object_]:
    """The strips as rectangles (n,)."""
    rectangles: NDArray[np.object_] = shapely.polygons(strip_corners(crossings))
    return rectangles


def strip_corners(crossings: Crossings) -> Floats:
    """(n, 4, 2): the corners of every strip."""
    across = np.stack([-crossings.along[:, 1], crossings.along[:, 0]], axis=1)
    side = across * (crossings.width / 2)[:, None]
    low = crossings.origin + crossings.along * crossings.low[:, None]
    high = crossings.origin + crossings.along * crossings.high[:, None]
    return np.stack([low - side, low + side, high + side, high - side], axis=1)
