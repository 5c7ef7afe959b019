"""Clean places for bridges: straight strips of one width that cross one cut from part to part.

What a strip costs grows with its length, with how askew it meets the edges, with how shallow the
paper is that it lands on, and where it leaves a nib of window beside it.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray

from hingeleaf.geometry.symmetry import MirrorAxis
from hingeleaf.model import Bridge
from hingeleaf.paper.arrangement import NO_FACE, CutArrangement
from hingeleaf.paper.candidate_seeds import Seeds
from hingeleaf.paper.ray_casting import Bools, Floats, Ints
from hingeleaf.paper.strip_probe import INNER, LEFT, MIDDLE, RIGHT, Aims, Sweep, aim, sweep

OVERLAP = 1.0
"""mm that a strip reaches into the paper at either end, where there is as much."""

SAME = 0.25
"""mm: strips whose ends lie this near to each other are the same."""

MOST_SKEW = 0.8
"""How askew the edges may run under a strip: rise over width, both ends added."""

LONGEST = 0.6
"""The longest strip, as a share of the artwork's longest side."""

SHORT = 0.2
"""A strip shorter than this, in widths, costs no less."""

SHALLOW = 1.5
"""What it adds to the price to land on paper of no depth, against paper as deep as the width."""

NIB = 0.6
"""What a nib of window beside the strip adds to the price."""


@dataclass(frozen=True)
class BridgeCandidates:
    """Clean strips as columns; one row (of n) is one strip.

    `origin`, `along` and `half_way` are their middle lines, as in `Aims`; `low` and `high` (n,)
    say how far they reach along them, overlap included. `start` and `end` (n, 2) are where the
    middle line leaves one part and lands on the other, `mouths` (n, 2, 2, 2) where the two sides
    do; `parts` (n, 2) are the two. `twin` (n,) is the row of the mirror image: its own if it is
    its own image, -1 without an axis.
    """

    origin: Floats
    along: Floats
    half_way: Floats
    low: Floats
    high: Floats
    start: Floats
    end: Floats
    mouths: Floats
    parts: Ints
    width: Floats
    skew: Floats
    shallow: Floats
    """(n,): 0 where the paper behind both ends is as deep as the strip is wide, 1 for no depth."""
    cost: Floats
    """(n,): the length, made dearer."""
    twin: Ints

    def __len__(self) -> int:
        return len(self.cost)

    @cached_property
    def tree(self) -> shapely.STRtree:
        """The strips by place."""
        return shapely.STRtree(strips(self))

    def take(self, rows: Ints | Bools) -> BridgeCandidates:
        """Some rows; twins are not followed."""
        return BridgeCandidates(*(getattr(self, column.name)[rows] for column in fields(self)))

    def joined(self, other: BridgeCandidates) -> BridgeCandidates:
        """Both, one under the other; twins are not followed."""
        names = [column.name for column in fields(self)]
        return BridgeCandidates(
            *(np.concatenate([getattr(self, n), getattr(other, n)]) for n in names)
        )

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

    def corners(self, part: int) -> Floats:
        """(n, 2, 2): both corners of each strip's mouth on a part, NaN where it has none."""
        here = (self.parts == part)[:, :, None, None]
        found = np.where(here[:, 0], self.mouths[:, 0], np.nan)
        return np.where(here[:, 1], self.mouths[:, 1], found)

    def outward(self, part: int) -> Floats:
        """(n, 2): unit vectors along each strip, out of a part that it ends on."""
        return np.where((self.parts[:, 0] == part)[:, None], self.along, -self.along)

    def other(self, part: int) -> Ints:
        """(n,): the part at the other end from `part`, NO_FACE where the strip does not meet it."""
        other = np.where(self.parts[:, 0] == part, self.parts[:, 1], NO_FACE)
        return np.where(self.parts[:, 1] == part, self.parts[:, 0], other)


def find_candidates(
    arrangement: CutArrangement, starts: Seeds, width: float, *, most_skew: float = MOST_SKEW
) -> BridgeCandidates:
    """The clean strips of `width` mm among those that leave from `starts`, cheapest first.

    If the artwork has a mirror axis every strip comes with its image; strips whose image is not
    clean, or overlaps them, are left out.
    """
    aims, _ = aim(arrangement, starts.points, starts.directions, LONGEST * arrangement.length)
    found, _ = clean_strips(arrangement, aims, np.full(len(aims.half_way), width), most_skew)
    if arrangement.axis is not None:
        return _with_images(arrangement, found, arrangement.axis, most_skew)
    return found.take(np.argsort(found.cost, kind="stable"))


def clean_strips(
    arrangement: CutArrangement, aims: Aims, width: Floats, most_skew: float
) -> tuple[BridgeCandidates, Bools]:
    """The clean ones of these strips, in the same order without images, and which those were."""
    met = sweep(arrangement, aims, width, most_skew)
    table = _table(aims, met, width)
    length = table.high - table.low
    clean = met.clean & (table.skew <= most_skew) & (length < arrangement.length)
    return table.take(clean), clean


def _table(aims: Aims, met: Sweep, width: Floats) -> BridgeCandidates:
    enter, leave = _finite(met.enter), _finite(met.leave)
    inner_enter, inner_leave = enter[:, INNER], leave[:, INNER]
    length = (inner_leave - inner_enter).max(axis=1)
    skew = (np.ptp(inner_enter, axis=1) + np.ptp(inner_leave, axis=1)) / width
    shallow = 1 - np.clip(met.depth / width, 0.0, 1.0)
    cost = np.maximum(length, SHORT * width) * (1 + skew)
    cost *= (1 + SHALLOW * shallow) * np.where(met.beside, 1.0, 1 + NIB)
    across = np.stack([-aims.along[:, 1], aims.along[:, 0]], axis=1) * (width / 2)[:, None]
    sides = aims.origin[:, None] + across[:, None] * np.array([[-1.0], [1.0]])
    reach = np.stack([enter[:, [LEFT, RIGHT]], leave[:, [LEFT, RIGHT]]], axis=1)
    return BridgeCandidates(
        origin=aims.origin,
        along=aims.along,
        half_way=aims.half_way,
        low=inner_enter.min(axis=1) - np.clip(met.hold_back / 2, 0, OVERLAP),
        high=inner_leave.max(axis=1) + np.clip(met.hold_ahead / 2, 0, OVERLAP),
        start=aims.origin + aims.along * enter[:, [MIDDLE]],
        end=aims.origin + aims.along * leave[:, [MIDDLE]],
        mouths=sides[:, None] + aims.along[:, None, None] * reach[..., None],
        parts=np.stack([met.from_part[:, MIDDLE], met.to_part[:, MIDDLE]], axis=1),
        width=width,
        skew=skew,
        shallow=shallow,
        cost=cost,
        twin=np.full(len(width), -1),
    )


def _finite(places: Floats) -> Floats:
    return np.where(np.isfinite(places), places, 0.0)


def _with_images(
    arrangement: CutArrangement, found: BridgeCandidates, axis: MirrorAxis, most_skew: float
) -> BridgeCandidates:
    """The strips and their images, as long as both are clean, cheapest first."""
    aims = Aims(axis.mirror(found.origin), axis.mirror_vectors(found.along), found.half_way)
    images, clean = clean_strips(arrangement, aims, found.width, most_skew)
    found, images = _as_long(found.take(clean), images)
    own, apart = _overlaps(found, images, axis, arrangement.card.least_window)
    found, images = found.take(own | apart), images.take(apart)
    both = found.joined(images)
    rows, paired = np.arange(len(found)), np.flatnonzero(apart[own | apart])
    both.twin[rows] = rows
    both.twin[paired] = len(found) + np.arange(len(images))
    both.twin[len(found) :] = paired
    order = np.argsort(both.cost, kind="stable")
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    return replace(both.take(order), twin=place[both.twin[order]])


def _as_long(
    found: BridgeCandidates, images: BridgeCandidates
) -> tuple[BridgeCandidates, BridgeCandidates]:
    """Both with the same reach and cost where the artwork is mirrored but for a hair."""
    near = (np.abs(found.low - images.low) < SAME) & (np.abs(found.high - images.high) < SAME)
    low, high = np.minimum(found.low, images.low), np.maximum(found.high, images.high)
    cost = np.maximum(found.cost, images.cost)
    one, two = (
        replace(
            strips,
            low=np.where(near, low, strips.low),
            high=np.where(near, high, strips.high),
            cost=cost,
        )
        for strips in (found, images)
    )
    return one, two


def _overlaps(
    found: BridgeCandidates, images: BridgeCandidates, axis: MirrorAxis, least_gap: float
) -> tuple[Bools, Bools]:
    """Which strips are their own images, and which lie apart from them."""
    middle = (found.start + found.end) / 2 - (images.start + images.end) / 2
    turned = found.along[:, 0] * images.along[:, 1] - found.along[:, 1] * images.along[:, 0]
    own = (np.hypot(middle[:, 0], middle[:, 1]) < SAME) & (np.abs(turned) < 1e-6)
    off = axis.side(strip_corners(found))
    one_side = (off > 0).all(axis=1) | (off < 0).all(axis=1)
    apart = (np.abs(off).min(axis=1) >= least_gap / 2) & one_side
    return own, apart & ~own


def strips(candidates: BridgeCandidates) -> NDArray[np.object_]:
    """The strips as rectangles (n,)."""
    rectangles: NDArray[np.object_] = shapely.polygons(strip_corners(candidates))
    return rectangles


def strip_corners(candidates: BridgeCandidates) -> Floats:
    """(n, 4, 2): the corners of every strip."""
    across = np.stack([-candidates.along[:, 1], candidates.along[:, 0]], axis=1)
    side = across * (candidates.width / 2)[:, None]
    low = candidates.origin + candidates.along * candidates.low[:, None]
    high = candidates.origin + candidates.along * candidates.high[:, None]
    return np.stack([low - side, low + side, high + side, high - side], axis=1)
