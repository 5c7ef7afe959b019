"""Simulated test cuts: cards and motifs with random limits, cut in ladders of sizes."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from hingeleaf.panel.ladder import SIZE_FACTORS
from hingeleaf.paper.mechanics.learning import (
    CardModel,
    Detail,
    HoldModel,
    ObservedCut,
    Prior,
    quantile_levels,
    smallest_from,
)

PRIORS = {Detail.WEB: Prior(0.8), Detail.WINDOW: Prior(0.64), Detail.HINGE: Prior(1.5, 0.5)}
"""Priors of a card with a least web of 1 mm and a least window of 0.8 mm."""
MIN_SIZE = 30.0
"""mm at which a usual motif's details are as wide as the card's least ones."""
LEAST = {Detail.WEB: 1.0, Detail.WINDOW: 0.8, Detail.HINGE: 3.0}
SCATTER = 0.25
"""Spread of the details of motifs, as a standard deviation of logarithms."""
MOTIFS = 3
SIZES = np.geomspace(3, 200, 12).tolist()

Widths = Callable[[float], dict[Detail, float]]
Ladder = Callable[[CardModel, str, Widths, float], Sequence[float]]
"""The sizes of a motif to cut next, by what is known of the card, and where geometry ends."""


@dataclass(frozen=True)
class Result:
    """The accuracy of learned limits of many motifs."""

    within: Mapping[Detail, float]
    """Share of 90 % intervals that contain the true limit, by detail."""
    error: Mapping[Detail, float]
    """Root of the mean squared error of limits, in logarithms."""


def six_fixed(model: CardModel, motif: str, widths: Widths, smallest: float) -> list[float]:
    """The usual ladder: multiples of the smallest size that geometry allows."""
    return [smallest * step for step in SIZE_FACTORS]


def three_chosen(model: CardModel, motif: str, widths: Widths, smallest: float) -> list[float]:
    """The most informative ladder, as chosen by the program."""
    found = [
        smallest_from(lambda size: model.exceeds_limits(widths(size), motif), SIZES, share)
        for share in quantile_levels(3)
    ]
    return [size for size in found if size is not None]


def limits_of(model: HoldModel, motif: str | None = None) -> tuple[float, float, float]:
    """The median and the central 90 % interval of a motif's limit: low, median, high, in mm."""

    def quantile(level: float) -> float:
        low, high = 0.01, 100.0
        for _ in range(40):
            middle = math.sqrt(low * high)
            low, high = (
                (middle, high) if model.exceeds_limit(middle, motif) < level else (low, middle)
            )
        return high

    return quantile(0.05), quantile(0.5), quantile(0.95)


def simulate(seed: int, cards: int, details: Sequence[Detail], ladder: Ladder) -> Result:
    """Cut ladders of `MOTIFS` motifs from each of so many cards, and compare limits with truth."""
    rng = np.random.default_rng(seed)
    priors = {detail: PRIORS[detail] for detail in details}
    within: dict[Detail, list[bool]] = {detail: [] for detail in details}
    errors: dict[Detail, list[float]] = {detail: [] for detail in details}
    for _ in range(cards):
        model, limits = _one_card(rng, priors, ladder)
        for (motif, detail), limit in limits.items():
            low, middle, high = limits_of(model.details[detail], motif)
            within[detail].append(low <= limit <= high)
            errors[detail].append(math.log(middle / limit) ** 2)
    return Result(
        {detail: float(np.mean(found)) for detail, found in within.items()},
        {detail: math.sqrt(np.mean(found)) for detail, found in errors.items()},
    )


def _one_card(
    rng: np.random.Generator, priors: Mapping[Detail, Prior], ladder: Ladder
) -> tuple[CardModel, dict[tuple[str, Detail], float]]:
    """The learned model of a card, and the true limits of its motifs."""
    of_card = {
        detail: (
            rng.normal(math.log(prior.limit), prior.uncertainty),
            prior.steepness * math.exp(rng.normal(0, prior.steepness_uncertainty)),
        )
        for detail, prior in priors.items()
    }
    cuts: list[ObservedCut] = []
    truth = {}
    for number in range(MOTIFS):
        motif = f"m{number}"
        limits = {
            detail: math.exp(of_card[detail][0] + rng.normal(0, prior.motif_scatter))
            for detail, prior in priors.items()
        }
        ratios = {
            each: LEAST[each] / MIN_SIZE * math.exp(rng.normal(0, SCATTER)) for each in priors
        }

        def widths(size: float, ratios: Mapping[Detail, float] = ratios) -> dict[Detail, float]:
            return {detail: ratio * size for detail, ratio in ratios.items()}

        smallest = max(LEAST[each] / ratio for each, ratio in ratios.items())
        for size in ladder(CardModel(cuts, priors), motif, widths, smallest):
            holds = math.prod(
                1 / (1 + (limits[detail] / width) ** of_card[detail][1])
                for detail, width in widths(size).items()
            )
            cuts.append(ObservedCut(motif, widths(size), bool(rng.random() < holds)))
        truth |= {(motif, detail): limit for detail, limit in limits.items()}
    return CardModel(cuts, priors), truth
