"""Compiled objective of a filling: covered area minus weighted penalties, mm²."""

import math
from typing import NamedTuple

import numpy as np

from hingeleaf.fill.compiled import Flags, Floats, Ints, Table, compiled, inlined
from hingeleaf.fill.table_columns import AREA, AX, AY, LARGEST, X, Y, size_of

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
MIN_CLASS_SHARE, CLASS_COST = 0.15, 0.1
"""Least share each of large, middle and small motifs in a varied filling, and the cost of a missing
share, as a share of the field."""
OVERUSE_PENALTY = 0.15
"""Penalty exponent for a kind whose count is one third above its fair share."""
MAX_SHARE, EXCESS_COST = 2.0, 0.02
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


class Objective(NamedTuple):
    """Weighted goals besides area. Arrays go by kind: (kinds,)."""

    field_area: float
    gap: float
    shares: Floats
    """Wished shares of the placements, 1 in all; 0 is a kind that is never placed."""
    fixed: Ints
    """What is placed already and stays."""
    least_kinds: int
    """How many kinds are to stand at least."""
    least: Ints
    most: Ints
    """How many placements are asked for, and allowed."""
    few: Ints
    """How many placements a kind may have in any case."""
    capped: bool
    """Whether no kind may take much more than its share: not where only coverage counts."""
    lifts: Flags
    lifting_share: float
    """Negative where any will do."""
    avoid_neighbours: bool
    varied: bool
    classes: Floats
    """Sizes that end small and middle motifs, and from which on they are focal, mm."""

    def counts(self, kinds: Ints) -> Ints:
        """How many placements of each kind there are, the fixed ones among them."""
        counts: Ints = self.fixed + np.bincount(kinds, minlength=len(self.fixed))
        return counts

    def weights(self, kinds: Ints) -> Floats:
        """What the search should count each kind's area: 1 at most, 0 for what is not wanted."""
        weights = np.zeros(len(self.fixed))
        weigh(self, self.counts(kinds), weights)
        return weights

    def missing(self, kinds: Ints) -> Ints:
        """How many placements of each kind are asked for and not there."""
        missing: Ints = np.maximum(0, self.least - self.counts(kinds))
        return missing

    def with_needed(self, first: int, kinds: Ints) -> "Objective":
        """The same for a field that without caps took these kinds, with them only the `first`.

        Where that is far fewer, each kind may stay as frequent as it is.
        """
        if len(kinds) < NEEDED * first:
            return self
        return self._replace(few=np.maximum(self.few, self.counts(kinds)))


@inlined
def _cap(objective: Objective, kind: int, total: int) -> int:
    """How many of a number of placements a kind may have."""
    if not objective.capped:
        return int(objective.most[kind])
    fair = math.ceil(MAX_SHARE * objective.shares[kind] * total)
    cap: int = max(objective.least[kind], objective.few[kind], int(fair))
    return cap


@inlined
def _missing_kinds(objective: Objective, counts: Ints) -> int:
    """How many further kinds are required, as far as available."""
    there = 0
    possible = 0
    for kind in range(counts.shape[0]):
        there += counts[kind] > 0
        possible += objective.shares[kind] > 0 or objective.fixed[kind] > 0
    return max(0, min(objective.least_kinds, possible) - there)


@inlined
def _lifting(objective: Objective, counts: Ints, total: int) -> float:
    """How much of the wished share of lifting placements is missing."""
    lifting = 0
    for kind in range(counts.shape[0]):
        if objective.lifts[kind]:
            lifting += counts[kind]
    return objective.lifting_share - lifting / max(1, total)


@compiled
def weigh(objective: Objective, counts: Ints, weights: Floats) -> None:
    """Fill in what the search should count each kind's area, see `Objective.weights`."""
    total = counts.sum()
    lifting = 0.0
    if objective.lifting_share >= 0 and total > 0:
        lifting = _lifting(objective, counts, total)
    kinds_missing = _missing_kinds(objective, counts) > 0
    highest = 0.0
    for capped in (True, False):
        for kind in range(counts.shape[0]):
            weights[kind] = 0.0
            share = objective.shares[kind]
            count = counts[kind]
            if share <= 0 or count >= objective.most[kind]:
                continue
            if capped and count >= _cap(objective, kind, total + 1):
                continue
            fair = share * total
            score = -OVERUSE_PENALTY * (count - fair) / max(1.0, fair / 3)
            score += 3 * (lifting if objective.lifts[kind] else -lifting)
            if count < objective.least[kind]:
                score += MISSING_BOOST
            if kinds_missing and count == 0:
                score += MISSING_BOOST
            weights[kind] = math.exp(score)
            highest = max(highest, weights[kind])
        if highest > 0:
            break
    for kind in range(counts.shape[0]):
        weights[kind] /= max(highest, 1e-9)


@inlined
def _imbalance(objective: Objective, counts: Ints) -> float:
    """Cost of uneven shares: from the entropy relative to the wished shares."""
    total = 0
    wished = 0
    lowest = highest = 0.0
    for kind in range(counts.shape[0]):
        share = objective.shares[kind]
        if share > 0:
            lowest = min(lowest, share) if wished else share
            highest = max(highest, share)
            wished += 1
            total += counts[kind]
    if wished < 2 or total == 0:
        return 0.0
    divergence = 0.0
    for kind in range(counts.shape[0]):
        share = objective.shares[kind]
        if share > 0 and counts[kind] > 0:
            divergence += counts[kind] / total * math.log(counts[kind] / total / share)
    evenness = 1 - divergence / math.log(wished)
    least, dear = WEIGHTED if highest > lowest else UNEVEN
    return SHARE_COST * (1 - evenness) + dear * max(0.0, least - evenness)


@inlined
def _count_cost(objective: Objective, counts: Ints) -> float:
    """What the numbers of the kinds cost, as a share of the field."""
    total = counts.sum()
    cost = _imbalance(objective, counts)
    if objective.lifting_share >= 0:
        cost += LIFTING_COST * abs(_lifting(objective, counts, total))
    cost += MISSING_COST * _missing_kinds(objective, counts)
    for kind in range(counts.shape[0]):
        cost += EXCESS_COST * max(0, counts[kind] - _cap(objective, kind, total))
        cost += MISSING_COST * max(0, objective.least[kind] - counts[kind])
    return cost


@inlined
def pair_cost(
    objective: Objective, traits: Table, poses: Table, kinds: Ints, n: int, m: int
) -> float:
    """What two motifs cost side by side, mm²: of one kind, small ones, and focal ones.

    That is, with their origins nearer than TWIN_REACH times the sum of their mean radii, and the
    gap.
    """
    size, other = size_of(poses, n), size_of(poses, m)
    price = 0.0
    if objective.avoid_neighbours and kinds[n] == kinds[m]:
        price += TWIN_COST
    if objective.varied and size < objective.classes[0] and other < objective.classes[0]:
        price += BEAD_COST
    if objective.varied and size > objective.classes[2] and other > objective.classes[2]:
        price += FOCAL_COST
    if price == 0:
        return 0.0
    radius = math.sqrt(traits[kinds[n], AREA] / math.pi) * size
    beside = math.sqrt(traits[kinds[m], AREA] / math.pi) * other
    away = (poses[n, X] - poses[m, X]) ** 2 + (poses[n, Y] - poses[m, Y]) ** 2
    if away >= (TWIN_REACH * (radius + beside) + objective.gap) ** 2:
        return 0.0
    return price * math.pi * min(radius, beside) ** 2


@inlined
def motif_pairs_cost(
    objective: Objective, traits: Table, poses: Table, kinds: Ints, n: int, end: int
) -> float:
    """What the pairs of motif `n` with all others before `end` cost, mm²."""
    widest = 0.0
    for kind in range(traits.shape[0]):
        widest = max(widest, traits[kind, AREA] * traits[kind, LARGEST] ** 2)
    widest = 2 * TWIN_REACH * math.sqrt(widest / math.pi) + objective.gap
    total = 0.0
    for m in range(end):
        near = abs(poses[n, X] - poses[m, X]) < widest and abs(poses[n, Y] - poses[m, Y]) < widest
        if near and m != n:
            total += pair_cost(objective, traits, poses, kinds, n, m)
    return total


@compiled
def all_pairs_cost(objective: Objective, traits: Table, poses: Table, kinds: Ints) -> float:
    """What all pairs of motifs cost, mm²."""
    total = 0.0
    for n in range(poses.shape[0]):
        total += motif_pairs_cost(objective, traits, poses, kinds, n, n)
    return total


@inlined
def score_without_pairs(
    objective: Objective, traits: Table, poses: Table, kinds: Ints, counts: Ints
) -> float:
    """The score of a filling but for what pairs cost, mm². `counts` (kinds,) is overwritten."""
    for kind in range(counts.shape[0]):
        counts[kind] = objective.fixed[kind]
    covered = 0.0
    small = middle = large = 0
    for n in range(poses.shape[0]):
        counts[kinds[n]] += 1
        square = poses[n, AX] ** 2 + poses[n, AY] ** 2
        covered += traits[kinds[n], AREA] * square
        if square <= objective.classes[0] ** 2:
            small += 1
        elif square <= objective.classes[1] ** 2:
            middle += 1
        else:
            large += 1
    cost = _count_cost(objective, counts)
    if objective.varied and poses.shape[0] >= 6:
        for of_class in (small, middle, large):
            cost += CLASS_COST * max(0.0, MIN_CLASS_SHARE - of_class / poses.shape[0])
    total: float = covered - objective.field_area * cost
    return total


@compiled
def score(objective: Objective, traits: Table, poses: Table, kinds: Ints, counts: Ints) -> float:
    """The score of a filling in mm². `counts` (kinds,) is overwritten."""
    pairs = all_pairs_cost(objective, traits, poses, kinds)
    total: float = score_without_pairs(objective, traits, poses, kinds, counts) - pairs
    return total
