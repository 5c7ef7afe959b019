"""Objective of a filling: covered area minus weighted penalties, mm²."""

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

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
SHARE_COST = 0.015
"""Cost of complete imbalance of the kinds, as a share of the field."""
UNEVEN, WEIGHTED = (0.75, 0.25), (0.98, 1.0)
"""Balance below which each missing part costs more, and that cost: for kinds with equal and with
unequal weights."""
LIFTING_COST = 0.3
"""Cost of missing the lifting share altogether, as a share of the field."""
TWIN_COST = 0.2
"""Cost of a pair of one kind side by side, as a share of the smaller one's area."""
TWIN_REACH = 1.3
"""Motifs are side by side within this multiple of the sum of their mean radii, plus the gap."""
LEAST_CLASS_SHARE, CLASS_COST = 0.15, 0.1
"""Least share each of large, middle and small motifs in a varied filling, and the cost of a missing
share, as a share of the field."""
OVERUSE_PENALTY = 0.15
"""Penalty exponent for a kind whose count is one third above its fair share."""
MOST_SHARE, EXCESS_COST = 2.0, 0.02
"""Number of fair shares, rounded up, that a kind may take, and the cost of each placement beyond,
as a share of the field."""
FEW, FEW_SMALL = 2, 3
"""Placements that any kind may have, and those for a kind that may be small."""
NEEDED = 1.25
"""Ratio of motifs in a first filling without caps from which caps are raised: in thin strokes few
kinds fit."""
MISSING_COST, MISSING_BOOST = 0.1, 2.0
"""Cost of each requested placement that is missing, as a share of the field, and the exponent by
which the search favours its kind."""
FOCAL, FOCAL_COST = 0.8, 0.1
"""Share of the largest size from which a motif of a varied filling is focal, and the cost of two
focal ones side by side, as a share of the smaller one's area."""
BEAD_COST = 0.25
"""Cost of two small motifs side by side in a varied filling, as a share of the smaller one's area:
small ones should close pockets, not form strings."""


@dataclass(frozen=True)
class Objective:
    """Weighted goals besides area. Shares and counts are by kind: (kinds,)."""

    field_area: float
    gap: float
    shares: Floats
    """Requested shares of the placements, with sum 1; kinds of share 0 are never placed."""
    counts: Ints
    """Number of fixed placements."""
    least_kinds: int
    """Least number of different kinds."""
    least: Ints
    most: Ints
    """Number of placements requested, and allowed."""
    small: NDArray[np.bool_]
    """Mask of kinds that may be small enough to close a pocket."""
    needed: Ints
    """Number that a kind may have in any case, since too little else fits."""
    capped: bool
    """Whether kinds are capped at about their share; False if only coverage counts."""
    lifts: NDArray[np.bool_]
    lifting_share: float | None
    avoid_neighbours: bool
    classes: Floats | None
    """Upper size limits of small, middle and large motifs; None if any mix is allowed."""

    def weights(self, kinds: Ints) -> Floats:
        """Weight of each kind's area in the search: at most 1, 0 for unwanted kinds."""
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
        """Size from which a motif is focal, mm; infinite if sizes do not matter."""
        return math.inf if self.classes is None else FOCAL * float(self.classes[2])

    def uncapped(self) -> "Objective":
        """The objective without caps on kinds."""
        return replace(self, capped=False)

    def with_needed(self, first: int, kinds: Ints) -> "Objective":
        """The objective for a field that took these kinds without caps, but only `first` with them.

        If that is far fewer, each kind may stay as frequent as it is.
        """
        if len(kinds) < NEEDED * first:
            return self
        return replace(self, needed=self.counts + np.bincount(kinds, minlength=len(self.counts)))

    def missing(self, kinds: Ints) -> Ints:
        """Number of requested placements of each kind that are missing."""
        counts = self.counts + np.bincount(kinds, minlength=len(self.counts))
        return np.maximum(0, self.least - counts)

    def missing_kinds(self, kinds: Ints) -> int:
        """Number of further kinds that are required, as far as available."""
        if self.least_kinds == 1:
            return 0
        counts = self.counts + np.bincount(kinds, minlength=len(self.counts))
        there = np.count_nonzero(counts)
        possible = np.count_nonzero((self.shares > 0) | (self.counts > 0))
        return max(0, min(self.least_kinds, int(possible)) - int(there))

    def _cap(self, total: int) -> Ints:
        """Greatest number of each kind in a total number of placements."""
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
        """Cost of uneven shares: from the entropy relative to the requested shares."""
        wished = self._wished
        total = counts[wished].sum()
        if len(wished) < 2 or total == 0:
            return 0.0
        shares = self.shares[wished]
        divergence = scipy.special.rel_entr(counts[wished] / total, shares).sum()
        evenness = 1 - float(divergence) / math.log(len(wished))
        least, dear = self._uneven
        return SHARE_COST * (1 - evenness) + dear * max(0.0, least - evenness)
