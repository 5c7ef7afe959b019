"""Learn from test cuts how wide webs, windows and hinges must be on a card, pooling over motifs.

The probability that a detail of width w holds is 1 / (1 + (limit / w)^steepness). Each motif has
its own limit, scattered about the card's (partial pooling). The posterior is integrated on a grid:
given the card's limit and the steepness, motifs do not depend on each other, so it stays small.
A motif holds where all its details do.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from hingeleaf.errors import UsageError

Floats = NDArray[np.float64]

LIMITS, STEEPNESSES = 241, 15
"""Points of the grid. Finer ones change no probability by 0.001."""
BISECTIONS = 20
REACH = 4.5
"""The grid reaches so many standard deviations to either side of the prior's centre."""
TINY = 1e-12
"""Keeps the logarithm of a failure that cannot be from being endless."""
SWEEPS = 2
"""How often it is told anew which detail of a motif that failed it was; a third changes nothing."""


class Detail(StrEnum):
    """What of a motif can fail for being too small."""

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
    """One observed detail: its width, and whether its motif held."""

    motif: str
    width: float
    held: bool
    others: float = 1.0
    """How probable it is that all else of the motif held; less than 1, and a failure may not have
    been this detail's."""


@dataclass(frozen=True, slots=True)
class ObservedCut:
    """One test cut: the narrowest of each kind of detail that the motif has, mm."""

    motif: str
    widths: Mapping[Detail, float]
    held: bool


@dataclass(frozen=True, slots=True)
class Belief:
    """Estimate of a width: its median, central 90 % interval, and number of cuts."""

    width: float
    interval: tuple[float, float]
    held: int
    failed: int

    @property
    def cuts(self) -> int:
        """How many cuts it rests on."""
        return self.held + self.failed


class HoldModel:
    """The fitted model of one kind of detail on one card.

    Parameters
    ----------
    cuts : observed details, in any order; contradictions are allowed
    prior : what is believed beforehand

    Raises UsageError for a width that is not above 0.
    """

    def __init__(self, cuts: Sequence[ObservedWidth], prior: Prior) -> None:
        if not all(0 < cut.width < math.inf for cut in cuts):
            raise UsageError("A width must be above 0.", "Measure it in mm.")
        self._cuts: dict[str, list[ObservedWidth]] = {}
        for cut in cuts:
            self._cuts.setdefault(cut.motif, []).append(cut)
        spread = math.hypot(prior.uncertainty, prior.motif_scatter)
        self._limits = math.log(prior.limit) + spread * np.linspace(-REACH, REACH, LIMITS)
        offsets = prior.steepness_uncertainty * np.linspace(-REACH, REACH, STEEPNESSES)
        self._steepness = prior.steepness * np.exp(offsets)
        apart = self._limits - self._limits[:, None]
        self._scatter = _rows_to_one(np.exp(-((apart / prior.motif_scatter) ** 2) / 2))
        off_centre = (self._limits - math.log(prior.limit)) / prior.uncertainty
        log_weight = -(off_centre[:, None] ** 2) / 2
        log_weight = log_weight - (offsets / prior.steepness_uncertainty) ** 2 / 2
        self._likelihood = {motif: self._of(made) for motif, made in self._cuts.items()}
        self._evidence = {
            motif: _times(self._scatter, each) for motif, each in self._likelihood.items()
        }
        for each in self._evidence.values():
            log_weight = log_weight + np.log(each)
        weight = np.exp(log_weight - log_weight.max())
        self._weight: Floats = weight / weight.sum()
        self._posteriors: dict[str | None, Floats] = {}

    def limit(self, motif: str | None = None) -> Belief:
        """The width at which half of a motif's details hold.

        A motif without cuts, or None, gets the card's limit and the scatter of motifs.
        """
        chances = self._posterior(motif).sum(axis=1)
        low, middle, high = np.exp(_quantiles(self._limits, chances, (0.05, 0.5, 0.95))).tolist()
        return Belief(middle, (low, high), *self.counts(motif if motif in self._cuts else None))

    def counts(self, motif: str | None) -> tuple[int, int]:
        """How many cuts of a motif held and how many failed; of all motifs for None."""
        made = (
            self._cuts.get(motif, [])
            if motif
            else [c for each in self._cuts.values() for c in each]
        )
        held = sum(cut.held for cut in made)
        return held, len(made) - held

    def probability(self, width: float, motif: str | None = None) -> float:
        """How probable it is that a detail of `width` mm holds, over all that is not known."""
        holds = _logistic(self._steepness * (math.log(width) - self._limits[:, None]))
        return float((self._posterior(motif) * holds).sum())

    def exceeds_limit(self, width: float, motif: str | None = None) -> float:
        """How probable it is that a motif's limit lies below `width` mm."""
        chances = self._posterior(motif).sum(axis=1)
        return float(np.interp(math.log(width), self._limits, np.cumsum(chances) - chances / 2))

    def _of(self, cuts: Sequence[ObservedWidth]) -> Floats:
        """The likelihood of a motif's cuts, by its limit and the steepness, scaled to at most 1."""
        widths, others = np.array([(math.log(cut.width), cut.others) for cut in cuts]).T
        held = np.array([cut.held for cut in cuts])
        margin = self._steepness[:, None] * (widths - self._limits[:, None, None])
        failed = np.log1p(-others * _logistic(margin) + TINY)
        log_chance = np.where(held, -np.logaddexp(0.0, -margin), failed).sum(axis=2)
        chance: Floats = np.exp(log_chance - log_chance.max())
        return chance

    def _posterior(self, motif: str | None) -> Floats:
        """The joint distribution of a motif's limit and the steepness, adding up to 1."""
        if motif not in self._evidence:
            motif = None
        if motif not in self._posteriors:
            self._posteriors[motif] = self._joint(motif)
        return self._posteriors[motif]

    def _joint(self, motif: str | None) -> Floats:
        if motif is None:
            return _times(self._scatter.T, self._weight)
        by_card = self._weight / self._evidence[motif]
        joint: Floats = _times(self._scatter.T, by_card) * self._likelihood[motif]
        return joint


class CardModel:
    """What test cuts on a card say about all kinds of details together.

    A motif that held tells of each of its details. Of one that failed it is not known which detail
    it was: each is the more likely, the surer the others are by all other cuts.
    """

    def __init__(self, cuts: Sequence[ObservedCut], priors: Mapping[Detail, Prior]) -> None:
        self._cuts = cuts
        self.details = {detail: HoldModel([], prior) for detail, prior in priors.items()}
        sweeps = SWEEPS if len(priors) > 1 else 1
        for _ in range(sweeps if cuts else 0):
            self.details = {
                detail: HoldModel([*self._observed(detail)], prior)
                for detail, prior in priors.items()
            }

    def probability(self, widths: Mapping[Detail, float], motif: str | None = None) -> float:
        """How probable it is that a motif with these narrowest details holds."""
        return math.prod(
            self.details[detail].probability(width, motif) for detail, width in widths.items()
        )

    def exceeds_limits(self, widths: Mapping[Detail, float], motif: str | None = None) -> float:
        """How probable it is that a motif's limits all lie below these widths."""
        return math.prod(
            self.details[detail].exceeds_limit(width, motif) for detail, width in widths.items()
        )

    def counts(self, motif: str | None) -> tuple[int, int]:
        """How many cuts of a motif held and how many failed; of all motifs for None."""
        made = [cut.held for cut in self._cuts if motif in (None, cut.motif)]
        return sum(made), len(made) - sum(made)

    def _observed(self, detail: Detail) -> Iterator[ObservedWidth]:
        for cut in self._cuts:
            if detail in cut.widths:
                rest = {each: width for each, width in cut.widths.items() if each is not detail}
                others = 1.0 if cut.held else self.probability(rest, cut.motif)
                yield ObservedWidth(cut.motif, cut.widths[detail], cut.held, others)


def smallest_from(
    chance: Callable[[float], float], sizes: Sequence[float], level: float
) -> float | None:
    """The smallest size from which on `chance` is at least `level`; None if it is at none.

    It is asked at `sizes`, which rise, from the largest down; between the last two by bisection.
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


def shares(count: int) -> list[float]:
    """Evenly spaced shares of what is believed, for cuts to lie at.

    A cut teaches most where it is as likely to hold as to fail, so several are laid at evenly
    spaced quantiles of the size at which that is so.
    """
    return [(rung + 1) / (count + 1) for rung in range(count)]


def _times(one: Floats, other: Floats) -> Floats:
    """The product of two matrices, without the threads of BLAS, which wait for each other longer
    than this takes."""
    product: Floats = np.einsum("ij,jk->ik", one, other)
    return product


def _rows_to_one(weights: Floats) -> Floats:
    scaled: Floats = weights / weights.sum(axis=1, keepdims=True)
    return scaled


def _quantiles(values: Floats, chances: Floats, shares: Sequence[float]) -> Floats:
    """Where the distribution's running total, taken at the middle of each point, is each share."""
    total = np.cumsum(chances) - chances / 2
    found: Floats = np.interp(shares, total / chances.sum(), values)
    return found


def _logistic(x: Floats) -> Floats:
    value: Floats = np.where(x >= 0, 1, np.exp(-np.abs(x))) / (1 + np.exp(-np.abs(x)))
    return value
