"""Learn from test cuts how wide a web must be on a card: a logistic model with pooling over motifs.

The probability that a web of width w holds is 1 / (1 + (limit / w)^steepness). Each motif has its
own limit, scattered about the card's (partial pooling). The posterior is integrated on a grid:
given the card's limit and the steepness, motifs do not depend on each other, so it stays small.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hingeleaf.errors import UsageError

Floats = NDArray[np.float64]

LIMITS, STEEPNESSES = 241, 15
"""Points of the grid. Finer ones change no probability by 0.001."""
BISECTIONS = 40
REACH = 4.5
"""The grid reaches so many standard deviations to either side of the prior's centre."""


@dataclass(frozen=True, slots=True)
class Prior:
    """The prior for a card before its first test cut."""

    limit: float
    """mm: the width at which half of the webs hold."""
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
class ObservedWeb:
    """One observed web: its width, and whether it held."""

    motif: str
    width: float
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
    """The fitted model of one card.

    Parameters
    ----------
    cuts : observed webs, in any order; contradictions are allowed
    prior : what is believed beforehand

    Raises UsageError for a width that is not above 0.
    """

    def __init__(self, cuts: Sequence[ObservedWeb], prior: Prior) -> None:
        if not all(0 < cut.width < math.inf for cut in cuts):
            raise UsageError("A web's width must be above 0.", "Measure it in mm.")
        self._cuts: dict[str, list[ObservedWeb]] = {}
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
        self._evidence = {motif: self._scatter @ each for motif, each in self._likelihood.items()}
        for each in self._evidence.values():
            log_weight = log_weight + np.log(each)
        weight = np.exp(log_weight - log_weight.max())
        self._weight: Floats = weight / weight.sum()
        self._posteriors: dict[str | None, Floats] = {}

    def limit(self, motif: str | None = None) -> Belief:
        """The width at which half of a motif's webs hold.

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
        """How probable it is that a web of `width` mm holds, over all that is not known."""
        holds = _logistic(self._steepness * (math.log(width) - self._limits[:, None]))
        return float((self._posterior(motif) * holds).sum())

    def safe_width(self, sure: float, motif: str | None = None) -> float:
        """The smallest width that holds with probability `sure`, mm; infinite if none does.

        Raises UsageError for a probability that is not between 0 and 1.
        """
        if not 0 < sure < 1:
            raise UsageError(f"{sure:g} is no probability.", "Give a number between 0 and 1.")
        low, high = float(self._limits[0]), float(self._limits[-1])
        if self.probability(math.exp(high), motif) < sure:
            return math.inf
        for _ in range(BISECTIONS):
            middle = (low + high) / 2
            enough = self.probability(math.exp(middle), motif) >= sure
            low, high = (low, middle) if enough else (middle, high)
        return math.exp(high)

    def next_widths(self, count: int, motif: str | None = None) -> list[float]:
        """The widths whose cuts teach most about a motif's limit, narrow to wide.

        A cut teaches most where it is as likely to hold as to tear, so several cuts are laid at
        evenly spaced quantiles of what is believed of the limit.
        """
        if count < 1:
            raise UsageError("A ladder needs at least one size.", "Ask for 1 or more.")
        shares = [(rung + 0.5) / count for rung in range(count)]
        chances = self._posterior(motif).sum(axis=1)
        widths: list[float] = np.exp(_quantiles(self._limits, chances, shares)).tolist()
        return widths

    def _of(self, cuts: Sequence[ObservedWeb]) -> Floats:
        """The likelihood of a motif's cuts, by its limit and the steepness, scaled to at most 1."""
        widths = np.log([cut.width for cut in cuts])
        good = np.where([cut.held for cut in cuts], 1.0, -1.0)
        margin = widths - self._limits[:, None, None]
        log_chance = -np.logaddexp(0.0, -good * self._steepness[:, None] * margin).sum(axis=2)
        chance: Floats = np.exp(log_chance - log_chance.max())
        return chance

    def _posterior(self, motif: str | None) -> Floats:
        """The joint distribution of a motif's limit and the steepness, adding up to 1."""
        known = motif if motif in self._evidence else None
        if known not in self._posteriors:
            by_card = self._weight / self._evidence[known] if known else self._weight
            joint = self._scatter.T @ by_card
            self._posteriors[known] = joint * self._likelihood[known] if known else joint
        return self._posteriors[known]


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
