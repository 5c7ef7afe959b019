"""Clean candidate strips for bridges: straight, of one width, crossing one cut between two parts.

The cost of a strip grows with its length and skew, with how shallow the paper at its ends is, and
if it leaves a nib of window beside it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property, reduce

import numpy as np
import shapely

from hingeleaf.geometry.members import Geometries
from hingeleaf.geometry.ray_casting import Bools, Floats, Ints
from hingeleaf.geometry.symmetry import SymmetryGroup
from hingeleaf.model import Bridge
from hingeleaf.paper.arrangement import NO_FACE, CutArrangement
from hingeleaf.paper.bridges import SAME_PLACE, rectangles
from hingeleaf.paper.candidate_seeds import Seeds
from hingeleaf.paper.strip_probe import INNER, LEFT, MIDDLE, RIGHT, Aims, Sweep, aim, sweep

OVERLAP = 1.0
"""mm that a strip extends into the paper at either end, where there is that much."""

MAX_SKEW = 5.0
"""Greatest skew of the edges under a strip (rise over width, both ends added) at tips and
notches."""

MAX_PLAIN_SKEW = 0.8
"""Greatest skew of the edges under a strip that crosses a plain stretch of window."""

MAX_LENGTH_SHARE = 0.6
"""Greatest strip length, as a share of the artwork's longest side."""

FREE_LENGTH = 0.2
"""Strips shorter than this, in widths, cost the same."""

SHALLOW_COST = 1.5
"""Cost factor added for landing on paper of no depth; 0 for paper as deep as the width."""

NIB_COST = 0.6
"""Cost factor added if a nib of window is left beside the strip."""


@dataclass(frozen=True)
class BridgeCandidates:
    """Clean strips as columns; each of the n rows is one strip.

    `origin`, `along` and `half_way` are their centre lines, as in `Aims`; `low` and `high` (n,) are
    the ends along them, overlap included. `start` and `end` (n, 2) are where the centre line leaves
    one part and lands on the other, `mouths` (n, 2, 2, 2) where the two sides do; `parts` (n, 2)
    are the two parts. `images` (n, g) are the rows of each strip's images under the artwork's
    symmetry, its own row where it is its own image.
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
    """(n,): 0 where the paper at both ends is as deep as the strip is wide, 1 where it has no
    depth."""
    cost: Floats
    """(n,): length times the penalty factors."""
    images: Ints

    def __len__(self) -> int:
        return len(self.cost)

    @cached_property
    def tree(self) -> shapely.STRtree:
        """Spatial index of the strips, from edge to edge of the cuts they cross."""
        return shapely.STRtree(self.crossings())

    def take(self, rows: Ints | Bools) -> BridgeCandidates:
        """The given rows; `images` is not remapped."""
        return BridgeCandidates(*(getattr(self, column.name)[rows] for column in fields(self)))

    def joined(self, other: BridgeCandidates) -> BridgeCandidates:
        """Both tables concatenated; the rows of `other` get only themselves as images."""
        names = [column.name for column in fields(self)][:-1]
        own = np.arange(len(self), len(self) + len(other))[:, None]
        images = np.concatenate([self.images, np.repeat(own, self.images.shape[1], axis=1)])
        columns = {
            name: np.concatenate([getattr(self, name), getattr(other, name)]) for name in names
        }
        return BridgeCandidates(**columns, images=images)

    def bridge(self, row: int) -> Bridge:
        """One row as a `Bridge`."""
        along, low, high = self.along[row], self.low[row], self.high[row]
        middle = self.origin[row] + along * (low + high) / 2
        return Bridge(
            (float(middle[0]), float(middle[1])),
            float(np.degrees(np.arctan2(along[1], along[0]))),
            float(high - low),
            float(self.width[row]),
        )

    def strips(self, rows: Sequence[int] | Ints) -> Geometries:
        """The strips in these rows as rectangles."""
        rows = np.asarray(rows, dtype=np.intp)
        along, origin = self.along[rows], self.origin[rows]
        start, end = (origin + along * place[rows, None] for place in (self.low, self.high))
        return rectangles(start, end, along, self.width[rows, None])

    def crossings(self, rows: Sequence[int] | Ints | None = None) -> Geometries:
        """The same from edge to edge of the cut, without overlap on the parts; of all rows by
        default."""
        mouths = self.mouths if rows is None else self.mouths[np.asarray(rows, dtype=np.intp)]
        quadrangles: Geometries = shapely.polygons(mouths.reshape(-1, 4, 2)[:, [0, 1, 3, 2]])
        return quadrangles

    def mouth(self, part: int) -> Floats:
        """(n, 2): midpoint of each strip's mouth on a part, NaN where it does not meet it."""
        here = np.where((self.parts[:, 0] == part)[:, None], self.start, np.nan)
        return np.where((self.parts[:, 1] == part)[:, None], self.end, here)

    def corners(self, part: int) -> Floats:
        """(n, 2, 2): corners of each strip's mouth on a part, NaN where it does not meet it."""
        here = (self.parts == part)[:, :, None, None]
        found = np.where(here[:, 0], self.mouths[:, 0], np.nan)
        return np.where(here[:, 1], self.mouths[:, 1], found)

    def outward(self, part: int) -> Floats:
        """(n, 2): unit vectors along each strip, pointing out of the part."""
        return np.where((self.parts[:, 0] == part)[:, None], self.along, -self.along)

    def other(self, part: int) -> Ints:
        """(n,): the part at the other end from `part`, NO_FACE where the strip does not meet it."""
        other = np.where(self.parts[:, 0] == part, self.parts[:, 1], NO_FACE)
        return np.where(self.parts[:, 1] == part, self.parts[:, 0], other)


def aim_strips(arrangement: CutArrangement, seeds: Seeds) -> tuple[Aims, Ints]:
    """Centre lines of strips from seeds across the cut to another part, and the parts (n, 2)."""
    return aim(arrangement, seeds.points, seeds.directions, MAX_LENGTH_SHARE * arrangement.length)


def find_candidates(
    arrangement: CutArrangement, aims: Aims, width: float, *, most_skew: float = MAX_SKEW
) -> BridgeCandidates:
    """The clean strips of `width` mm among those aimed at, cheapest first.

    If the artwork is symmetric every strip comes with its images. Strips with an image that is not
    clean, or that overlaps the strip, are left out.
    """
    found, _ = clean_strips(arrangement, aims, np.full(len(aims.half_way), width), most_skew)
    if len(arrangement.symmetry) > 1:
        found = _with_images(arrangement, found, most_skew)
    order = np.argsort(found.cost, kind="stable")
    place = np.empty_like(order)
    place[order] = np.arange(len(order))
    return replace(found.take(order), images=place[found.images[order]])


def clean_strips(
    arrangement: CutArrangement, aims: Aims, width: Floats, most_skew: float
) -> tuple[BridgeCandidates, Bools]:
    """The clean strips, in the given order and without images, and a mask of which were clean."""
    met = sweep(arrangement, aims, width)
    table = _table(aims, met, width)
    length = table.high - table.low
    clean = met.clean & (table.skew <= most_skew) & (length < arrangement.length)
    found = table.take(clean)
    return replace(found, images=np.arange(len(found))[:, None]), clean


def _table(aims: Aims, met: Sweep, width: Floats) -> BridgeCandidates:
    enter, leave = _finite(met.enter), _finite(met.leave)
    inner_enter, inner_leave = enter[:, INNER], leave[:, INNER]
    length = (inner_leave - inner_enter).max(axis=1)
    skew = (np.ptp(inner_enter, axis=1) + np.ptp(inner_leave, axis=1)) / width
    shallow = 1 - np.clip(met.depth / width, 0.0, 1.0)
    cost = np.maximum(length, FREE_LENGTH * width) * (1 + skew)
    cost *= (1 + SHALLOW_COST * shallow) * np.where(met.beside, 1.0, 1 + NIB_COST)
    across = np.stack([-aims.along[:, 1], aims.along[:, 0]], axis=1) * (width / 2)[:, None]
    sides = aims.origin[:, None] + across[:, None] * np.array([[-1.0], [1.0]])
    reach = np.stack([enter[:, [LEFT, RIGHT]], leave[:, [LEFT, RIGHT]]], axis=1)
    return BridgeCandidates(
        origin=aims.origin,
        along=aims.along,
        half_way=aims.half_way,
        low=inner_enter.min(axis=1) - np.clip(met.start_depth / 2, 0, OVERLAP),
        high=inner_leave.max(axis=1) + np.clip(met.end_depth / 2, 0, OVERLAP),
        start=aims.origin + aims.along * enter[:, [MIDDLE]],
        end=aims.origin + aims.along * leave[:, [MIDDLE]],
        mouths=sides[:, None] + aims.along[:, None, None] * reach[..., None],
        parts=np.stack([met.from_part[:, MIDDLE], met.to_part[:, MIDDLE]], axis=1),
        width=width,
        skew=skew,
        shallow=shallow,
        cost=cost,
        images=np.arange(len(width))[:, None],
    )


def _finite(places: Floats) -> Floats:
    return np.where(np.isfinite(places), places, 0.0)


def _with_images(
    arrangement: CutArrangement, found: BridgeCandidates, most_skew: float
) -> BridgeCandidates:
    """The strips and their images, where all are clean and none overlaps another."""
    symmetry = arrangement.symmetry
    tables = [found]
    for element in range(1, len(symmetry)):
        first = tables[0]
        aims = Aims(
            symmetry.apply(element, first.origin),
            symmetry.apply_vectors(element, first.along),
            first.half_way,
        )
        image, clean = clean_strips(arrangement, aims, first.width, most_skew)
        tables = [*(table.take(clean) for table in tables), image]
    tables = _equalized(tables)
    own, apart = _overlaps(tables, arrangement.card.least_window)
    kept = np.flatnonzero((own | apart).all(axis=1))
    return _merge_images([table.take(kept) for table in tables], own[kept], symmetry)


def _merge_images(
    tables: list[BridgeCandidates], own: Bools, symmetry: SymmetryGroup
) -> BridgeCandidates:
    """One table of all distinct strips, each with the rows of its images.

    `own` (n, g) is True for the elements that map a strip of the first table onto itself; of
    elements that lead to the same strip the lowest stands for all.
    """
    products = symmetry.products
    count, size = own.shape
    first = np.where(own[:, None, :], products[None], size).min(axis=2)
    while (np.take_along_axis(first, first, axis=1) != first).any():  # within a tolerance
        first = np.take_along_axis(first, first, axis=1)
    distinct = first == np.arange(size)
    rows = np.cumsum(distinct.T.ravel()).reshape(size, count).T - 1
    row_of = np.take_along_axis(rows, first, axis=1)
    images = [row_of[distinct[:, element]][:, products[:, element]] for element in range(size)]
    pieces = [table.take(distinct[:, element]) for element, table in enumerate(tables)]
    joined = reduce(BridgeCandidates.joined, pieces)
    return replace(joined, images=np.concatenate(images))


def _equalized(tables: list[BridgeCandidates]) -> list[BridgeCandidates]:
    """All tables with equal ends and costs, where they differ by less than a tolerance."""
    lows = np.array([table.low for table in tables])
    highs = np.array([table.high for table in tables])
    near = (np.ptp(lows, axis=0) < SAME_PLACE) & (np.ptp(highs, axis=0) < SAME_PLACE)
    cost = np.max([table.cost for table in tables], axis=0)
    low, high = lows.min(axis=0), highs.max(axis=0)
    return [
        replace(
            table,
            low=np.where(near, low, table.low),
            high=np.where(near, high, table.high),
            cost=cost,
        )
        for table in tables
    ]


def _overlaps(tables: list[BridgeCandidates], least_gap: float) -> tuple[Bools, Bools]:
    """(n, g) each: which images are the strip itself, and which are clear of it."""
    first = tables[0]
    middle, crossed = (first.start + first.end) / 2, first.crossings()
    own = np.zeros((len(first), len(tables)), dtype=bool)
    apart = np.zeros_like(own)
    for element, table in enumerate(tables):
        away = np.hypot(*((table.start + table.end) / 2 - middle).T)
        turned = first.along[:, 0] * table.along[:, 1] - first.along[:, 1] * table.along[:, 0]
        own[:, element] = (away < SAME_PLACE) & (np.abs(turned) < 1e-6)
        apart[:, element] = shapely.distance(crossed, table.crossings()) >= least_gap
    return own, apart & ~own
