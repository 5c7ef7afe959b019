"""Objective of a filling: covered area minus weighted penalties, mm²."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import scipy
from numpy.typing import NDArray

from hingeleaf.fill.motif_tables import MotifTables
from hingeleaf.fill.rasterize import beside
from hingeleaf.fill.table_columns import AREA

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Values found by trial: tests/benchmarks/fit_filler.py shows what others do.
SHARE_COST = 0.015
"""What complete imbalance of the kinds costs, as a share of the field."""
UNEVEN, WEIGHTED = (0.75, 0.25), (0.98, 1.0)
"""Below what balance each missing part costs more, and how much: where all kinds are wished for
alike, and where they are not."""
LIFTING_COST = 0.3
"""What missing the lifting share altogether costs, as a share of the field."""
TWIN_COST = 0.2
"""What a pair of one kind side by side costs, as a share of the smaller one's area."""
TWIN_REACH = 1.3
"""Two motifs are side by side within this multiple of the sum of their mean radii, and the gap."""
LEAST_CLASS_SHARE, CLASS_COST = 0.15, 0.1
"""In a varied filling, the least share of large, middle and small motifs each, and what a
missing share costs as a share of the field."""
OVERUSE_PENALTY = 0.15
"""Penalty exponent for a kind whose count is one third above its fair share."""
MOST_SHARE, EXCESS_COST = 2.0, 0.02
"""How many fair shares, rounded up, a kind may take, and what each placement beyond costs, as a
share of the field."""
FEW, FEW_SMALL = 2, 3
"""So many placements a kind may have in any case, and one that may be small."""
NEEDED = 1.25
"""Caps are raised where a first filling takes so many times as many motifs without them: in thin
strokes few kinds fit."""
MISSING_COST, MISSING_BOOST = 0.1, 2.0
"""What a placement costs that was asked for and is missing, as a share of the field, and the
exponent by which the search favours its kind."""
FOCAL, FOCAL_COST = 0.8, 0.1
"""From what share of the largest size on a motif of a varied filling is focal, and what two focal
ones side by side cost, as a share of the smaller one's area."""
BEAD_COST = 0.25
"""What a pair of small motifs side by side costs in a varied filling, as a share of the smaller
one's area: small ones close pockets, they are not strung like beads."""


@dataclass(frozen=True)
class Objective:
    """Weighted goals besides area. Shares and counts go by kind: (kinds,)."""

    field_area: float
    gap: float
    shares: Floats
    """Wished shares of the placements, 1 in all; 0 is a kind that is never placed."""
    counts: Ints
    """What is placed already and stays."""
    least_kinds: int
    """How many kinds are to stand at least."""
    least: Ints
    most: Ints
    """How many placements are asked for, and allowed."""
    small: NDArray[np.bool_]
    """Kinds that may be small enough to close a pocket."""
    needed: Ints
    """How many a kind may have in any case, since too little else fits."""
    capped: bool
    """Whether no kind may take much more than its share: not where only coverage counts."""
    lifts: NDArray[np.bool_]
    lifting_share: float | None
    avoid_neighbours: bool
    classes: Floats | None
    """Sizes that end small, middle and large motifs; None where any mix will do."""

    def weights(self, kinds: Ints) -> Floats:
        """What the search should count each kind's area: 1 at most, 0 for what is not wanted."""
        counts = self.counts + np.bincount(kinds, minlength=len(self.counts))
        wanted = (self.shares > 0) & (counts < self.most) & (counts < self._cap(counts.sum() + 1))
        if not wanted.any():
            wanted = (self.shares > 0) & (counts < self.most)
        fair = self.shares * counts.sum()
        ahead = np.where(wanted, (counts - fair) / np.maximum(1.0, fair / 3), 0.0)
        score = -OVERUSE_PENALTY * ahead
        if self.lifting_share is not None and counts.sum() > 0:
            missing = self.lifting_share - counts[self.lifts].sum() / counts.sum()
            score += np.where(self.lifts, missing, -missing) * 3
        score += MISSING_BOOST * (counts < self.least)
        if self.missing_kinds(kinds):
            score += MISSING_BOOST * (counts == 0)
        weights = np.where(wanted, np.exp(score), 0.0)
        scaled: Floats = weights / max(weights.max(), 1e-9)
        return scaled

    @property
    def focal_size(self) -> float:
        """From what size on a motif is a focal one, mm; infinite where sizes do not matter."""
        return math.inf if self.classes is None else FOCAL * float(self.classes[2])

    def uncapped(self) -> Objective:
        """The same where each kind may take any share."""
        return replace(self, capped=False)

    def with_needed(self, first: int, kinds: Ints) -> Objective:
        """The same for a field that without caps took these kinds, with them only the `first`.

        Where that is far fewer, each kind may stay as frequent as it is.
        """
        if len(kinds) < NEEDED * first:
            return self
        return replace(self, needed=self.counts + np.bincount(kinds, minlength=len(self.counts)))

    def missing(self, kinds: Ints) -> Ints:
        """How many placements of each kind are asked for and not there."""
        counts = self.counts + np.bincount(kinds, minlength=len(self.counts))
        return np.maximum(0, self.least - counts)

    def missing_kinds(self, kinds: Ints) -> int:
        """How many further kinds are required, as far as available."""
        if self.least_kinds == 1:
            return 0
        counts = self.counts + np.bincount(kinds, minlength=len(self.counts))
        there = np.count_nonzero(counts)
        possible = np.count_nonzero((self.shares > 0) | (self.counts > 0))
        return max(0, min(self.least_kinds, int(possible)) - int(there))

    def _cap(self, total: int) -> Ints:
        """How many of a number of placements each kind may have."""
        if not self.capped:
            return self.most
        fair = np.ceil(MOST_SHARE * self.shares * total)
        few = np.where(self.small, FEW_SMALL, FEW)
        most: Ints = np.max([self.least, few, self.needed, fair], axis=0).astype(np.int64)
        return most

    def score(self, tables: MotifTables, poses: Floats, kinds: Ints) -> float:
        """The score of a filling in mm²."""
        sizes = np.hypot(poses[:, 2], poses[:, 3])
        areas = tables.traits[kinds, AREA] * sizes**2
        counts = self.counts + np.bincount(kinds, minlength=len(self.counts))
        cost = self._imbalance(counts)
        if self.lifting_share is not None:
            share = counts[self.lifts].sum() / max(1, counts.sum())
            cost += LIFTING_COST * abs(share - self.lifting_share)
        if self.classes is not None and len(sizes) >= 6:
            by_class = np.bincount(np.searchsorted(self.classes[:2], sizes), minlength=3) / len(
                sizes
            )
            cost += CLASS_COST * np.maximum(0, LEAST_CLASS_SHARE - by_class).sum()
        cost += EXCESS_COST * np.maximum(0, counts - self._cap(counts.sum())).sum()
        cost += MISSING_COST * (self.missing(kinds).sum() + self.missing_kinds(kinds))
        score = float(areas.sum() - self.field_area * cost)
        order = np.argsort(poses[:, 0], kind="stable")
        if self.classes is not None:
            for cost, alike in (
                (BEAD_COST, sizes < self.classes[0]),
                (FOCAL_COST, sizes > self.focal_size),
            ):
                # All others get a unique kind here, so that only pairs of these count.
                group = np.where(alike, 0, 1 + np.arange(len(sizes)))
                score -= cost * beside(poses, group, areas, order, TWIN_REACH, self.gap)
        if self.avoid_neighbours:
            score -= TWIN_COST * beside(poses, kinds, areas, order, TWIN_REACH, self.gap)
        return score

    @cached_property
    def _wished(self) -> Ints:
        return np.flatnonzero(self.shares > 0)

    @cached_property
    def _uneven(self) -> tuple[float, float]:
        return WEIGHTED if np.ptp(self.shares[self._wished]) > 0 else UNEVEN

    def _imbalance(self, counts: Ints) -> float:
        """Cost of uneven shares: from the entropy relative to the wished shares."""
        wished = self._wished
        total = counts[wished].sum()
        if len(wished) < 2 or total == 0:
            return 0.0
        shares = self.shares[wished]
        divergence = scipy.special.rel_entr(counts[wished] / total, shares).sum()
        evenness = 1 - float(divergence) / math.log(len(wished))
        least, dear = self._uneven
        return SHARE_COST * (1 - evenness) + dear * max(0.0, least - evenness)
