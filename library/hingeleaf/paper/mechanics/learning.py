"""Learn from test cuts how wide webs, windows and hinges must be on a card, pooling over motifs.

The probability that a detail of width w holds is 1 / (1 + (limit / w)^steepness). Each motif has
its own limit, scattered about the card's (partial pooling). The posterior is integrated on a grid,
which stays small because motifs are independent given the card's limit and steepness. A motif holds
if all its details do.
"""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from types import MappingProxyType

import numpy as np

from hingeleaf.errors import UsageError
from hingeleaf.geometry.ray_casting import Floats

LIMIT_POINTS, STEEPNESS_POINTS = 241, 15
"""Grid points; a finer grid changes no probability by 0.001."""
BISECTIONS = 20
LIMIT_INTERVALS = 7
"""Equally likely intervals of a limit, used to attribute a failure to one of several details."""
ATTRIBUTION_PASSES = 2
"""Passes over the attribution of failures to details; a third changes no interval by 1 %."""
GRID_EXTENT = 4.5
"""Extent of the grid in standard deviations to either side of the prior's centre."""
ABSENT_WIDTH = 1e3
"""mm: width that stands for a detail a motif does not have."""
MIN_LIKELIHOOD = 1e-12
"""Keeps the logarithm of an impossible failure finite."""


class Detail(StrEnum):
    """Kinds of detail of a motif that can fail by being too small."""

    WEB = "web"
    WINDOW = "window"
    HINGE = "hinge"


@dataclass(frozen=True, slots=True)
class Prior:
    """The prior for a card before its first test cut."""

    limit: float
    """mm: the width at which half of the details hold."""
    uncertainty: float = 0.35
    """Standard deviation of the limit's logarithm."""
    steepness: float = 12.0
    """How sharply holding depends on width; 12: from 20 % to 80 % over a quarter of the width."""
    steepness_uncertainty: float = 0.4
    """Standard deviation of the steepness's logarithm."""
    motif_scatter: float = 0.12
    """Standard deviation of a motif's limit about the card's, in logarithms."""

    def __post_init__(self) -> None:
        numbers = (self.limit, self.uncertainty, self.steepness, self.motif_scatter)
        if not all(0 < number < math.inf for number in numbers):
            raise UsageError("A prior needs numbers above 0.", "Give the card's least web in mm.")


@dataclass(frozen=True, slots=True)
class ObservedWidth:
    """One observed detail: its motif, its width, and whether it held."""

    motif: str
    width: float
    held: bool


@dataclass(frozen=True, slots=True)
class ObservedCut:
    """One test cut: the narrowest of each kind of detail that the motif has, in mm."""

    motif: str
    widths: Mapping[Detail, float]
    held: bool


class HoldModel:
    """The fitted model of one kind of detail on one card.

    Parameters
    ----------
    cuts : observed details, in any order; contradictions are allowed
    prior : belief before the first cut
    failed : per motif, log-likelihood of cuts that failed by this detail or another

    Raises UsageError for a width that is not above 0.
    """

    def __init__(
        self,
        cuts: Sequence[ObservedWidth],
        prior: Prior,
        failed: Mapping[str, Floats] = MappingProxyType({}),
    ) -> None:
        if not all(0 < cut.width < math.inf for cut in cuts):
            raise UsageError("A width must be above 0.", "Measure it in mm.")
        own: dict[str, list[ObservedWidth]] = {}
        for cut in cuts:
            own.setdefault(cut.motif, []).append(cut)
        spread = math.hypot(prior.uncertainty, prior.motif_scatter)
        self._limits = math.log(prior.limit) + spread * np.linspace(
            -GRID_EXTENT, GRID_EXTENT, LIMIT_POINTS
        )
        offsets = prior.steepness_uncertainty * np.linspace(
            -GRID_EXTENT, GRID_EXTENT, STEEPNESS_POINTS
        )
        self._steepness = prior.steepness * np.exp(offsets)
        apart = self._limits - self._limits[:, None]
        self._scatter = _rows_to_one(np.exp(-((apart / prior.motif_scatter) ** 2) / 2))
        off_centre = (self._limits - math.log(prior.limit)) / prior.uncertainty
        log_weight = -(off_centre[:, None] ** 2) / 2
        log_weight = log_weight - (offsets / prior.steepness_uncertainty) ** 2 / 2
        self._seen = {motif: self._of(made) for motif, made in own.items()}
        self._likelihood = {
            motif: _scaled(np.add(self._seen.get(motif, 0.0), failed.get(motif, 0.0)))
            for motif in {**self._seen, **failed}
        }
        self._evidence = {
            motif: _times(self._scatter, each) for motif, each in self._likelihood.items()
        }
        for each in self._evidence.values():
            log_weight = log_weight + np.log(each)
        weight = np.exp(log_weight - log_weight.max())
        self._weight: Floats = weight / weight.sum()
        self._posteriors: dict[str | None, Floats] = {}

    def probability(self, width: float, motif: str | None = None) -> float:
        """Probability that a detail of `width` mm holds, averaged over the posterior."""
        holds = _logistic(self._steepness * (math.log(width) - self._limits[:, None]))
        return float((self._posterior(motif) * holds).sum())

    def exceeds_limit(self, width: float, motif: str | None = None) -> float:
        """The probability that half of a motif's details hold at less than `width` mm: its limit.

        Without cuts of the motif, or for None, the card's limit, widened by the scatter of motifs.
        """
        chances = self._posterior(motif).sum(axis=1)
        return float(np.interp(math.log(width), self._limits, np.cumsum(chances) - chances / 2))

    def before_failures(self, motif: str, widths: Floats) -> tuple[Floats, Floats]:
        """The posterior of a motif's limit without its `failed` cuts, by `LIMIT_INTERVALS`.

        Returns the probability of each interval, and within it the chance that these widths hold.
        """
        joint = self._joint(motif, _scaled(np.array(self._seen.get(motif, 0.0))))
        weights = joint.sum(axis=1)
        holds = (joint[:, :, None] * self._holds(widths)).sum(axis=1)
        middle = (np.cumsum(weights) - weights / 2) / weights.sum()
        of_stretch = np.floor(middle * LIMIT_INTERVALS) == np.arange(LIMIT_INTERVALS)[:, None]
        likely = (of_stretch * weights).sum(axis=1)
        chances = (of_stretch[:, :, None] * holds).sum(axis=1) / np.maximum(likely, MIN_LIKELIHOOD)[
            :, None
        ]
        return likely / likely.sum(), chances

    def failing(self, widths: Floats, likely: Floats, others: Floats) -> Floats:
        """Log-likelihood that cuts with details of these widths failed.

        `others` has the chance that all their other details held, in each of several cases (rows)
        of probability `likely`.
        """
        holds = self._holds(widths)
        cases = [np.log1p(MIN_LIKELIHOOD - holds * case).sum(axis=2) for case in others]
        with np.errstate(divide="ignore"):
            total: Floats = np.logaddexp.reduce(
                [case + weight for case, weight in zip(cases, np.log(likely), strict=True)]
            )
        return total

    def _of(self, cuts: Sequence[ObservedWidth]) -> Floats:
        """Log-likelihood of a motif's cuts, by its limit and the steepness."""
        widths = np.log([cut.width for cut in cuts])
        good = np.where([cut.held for cut in cuts], 1.0, -1.0)
        margin = self._steepness[:, None] * (widths - self._limits[:, None, None])
        total: Floats = -np.logaddexp(0.0, -good * margin).sum(axis=2)
        return total

    def _holds(self, widths: Floats) -> Floats:
        """Probability that each width holds, by limit and steepness."""
        return _logistic(self._steepness[:, None] * (np.log(widths) - self._limits[:, None, None]))

    def _posterior(self, motif: str | None) -> Floats:
        """The joint distribution of a motif's limit and the steepness, normalised to 1."""
        motif = motif if motif in self._likelihood else None
        if motif not in self._posteriors:
            seen = 1.0 if motif is None else self._likelihood[motif]
            self._posteriors[motif] = self._joint(motif, seen)
        return self._posteriors[motif]

    def _joint(self, motif: str | None, likelihood: Floats | float) -> Floats:
        """That distribution from the cuts of all other motifs and the given likelihood."""
        others = self._weight / self._evidence[motif] if motif in self._evidence else self._weight
        return _times(self._scatter.T, others) * likelihood


class CardModel:
    """Joint model of all kinds of detail on one card.

    A motif that held gives evidence on each of its details. For one that failed, which detail
    failed is unknown: for each detail, the chances that it was another are summed over the current
    belief about the others (one message of expectation propagation, T. Minka 2001; from memory).
    """

    def __init__(self, cuts: Sequence[ObservedCut], priors: Mapping[Detail, Prior]) -> None:
        self._cuts = cuts
        held = {detail: [*_held(cuts, detail)] for detail in priors}
        self.details = {detail: HoldModel(held[detail], prior) for detail, prior in priors.items()}
        failed: dict[str, list[ObservedCut]] = {}
        for cut in cuts:
            if not cut.held:
                failed.setdefault(cut.motif, []).append(cut)
        for _ in range(ATTRIBUTION_PASSES if failed else 0):
            self.details = {
                detail: HoldModel(held[detail], prior, self._failures(detail, failed))
                for detail, prior in priors.items()
            }

    def probability(self, widths: Mapping[Detail, float], motif: str | None = None) -> float:
        """Probability that a motif with these narrowest details holds."""
        return math.prod(
            self.details[detail].probability(width, motif) for detail, width in widths.items()
        )

    def exceeds_limits(self, widths: Mapping[Detail, float], motif: str | None = None) -> float:
        """Probability that all of a motif's limits lie below these widths."""
        return math.prod(
            self.details[detail].exceeds_limit(width, motif) for detail, width in widths.items()
        )

    def counts(self, motif: str | None) -> tuple[int, int]:
        """How many cuts of a motif held and how many failed; of all motifs for None."""
        made = [cut.held for cut in self._cuts if motif in (None, cut.motif)]
        return sum(made), len(made) - sum(made)

    def _failures(
        self, detail: Detail, failed: Mapping[str, Sequence[ObservedCut]]
    ) -> dict[str, Floats]:
        """Log-likelihood of each motif's failures, by this detail's limit and steepness."""
        found = {}
        for motif, cuts in failed.items():
            widths = {
                each: np.array([cut.widths.get(each, ABSENT_WIDTH) for cut in cuts])
                for each in Detail
            }
            likely, others = np.ones(1), np.ones((1, len(cuts)))
            for each, model in self.details.items():
                if each is not detail and (widths[each] < ABSENT_WIDTH).any():
                    shares, chances = model.before_failures(motif, widths[each])
                    likely = np.outer(likely, shares).ravel()
                    others = (others[:, None] * chances).reshape(-1, len(cuts))
            if (widths[detail] < ABSENT_WIDTH).any():
                found[motif] = self.details[detail].failing(widths[detail], likely, others)
        return found


def _held(cuts: Sequence[ObservedCut], detail: Detail) -> Iterator[ObservedWidth]:
    for cut in cuts:
        if cut.held and detail in cut.widths:
            yield ObservedWidth(cut.motif, cut.widths[detail], True)


def smallest_from(
    chance: Callable[[float], float], sizes: Sequence[float], level: float
) -> float | None:
    """The smallest size from which on `chance` is at least `level`; None if it never is.

    `chance` is evaluated at the ascending `sizes` from the largest down, then refined by bisection.
    """
    low, high = None, None
    for size in reversed(sizes):
        if chance(size) < level:
            low = size
            break
        high = size
    if high is None or low is None:
        return high
    for _ in range(BISECTIONS):
        middle = math.sqrt(low * high)
        low, high = (low, middle) if chance(middle) >= level else (middle, high)
    return high


def quantile_levels(count: int) -> list[float]:
    """Evenly spaced quantiles at which to place cuts.

    A cut is most informative where it is as likely to hold as to fail, so several cuts are placed
    at evenly spaced quantiles of the size at which that is so.
    """
    return [(rung + 1) / (count + 1) for rung in range(count)]


def _times(one: Floats, other: Floats) -> Floats:
    """Matrix product without BLAS threads, which cost more than they save here."""
    product: Floats = np.einsum("ij,jk->ik", one, other)
    return product


def _scaled(log_likelihood: Floats) -> Floats:
    """A likelihood from its logarithm, scaled to a maximum of 1."""
    scaled: Floats = np.exp(log_likelihood - log_likelihood.max())
    return scaled


def _rows_to_one(weights: Floats) -> Floats:
    scaled: Floats = weights / weights.sum(axis=1, keepdims=True)
    return scaled


def _logistic(x: Floats) -> Floats:
    value: Floats = np.where(x >= 0, 1, np.exp(-np.abs(x))) / (1 + np.exp(-np.abs(x)))
    return value
