"""What trials teach: against an independent integration, simulated cards, and odd evidence."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from hingeleaf.errors import UsageError
from hingeleaf.paper.mechanics.learning import HoldModel, ObservedWeb, Prior

PRIOR = Prior(1.0)
LADDER = (0.8, 0.9, 1.0, 1.15, 1.35, 1.6)


def _cuts(outcomes, motif="wren"):
    return [ObservedWeb(motif, width, held) for width, held in outcomes]


MIXED = _cuts([(0.6, False), (0.8, False), (0.95, True), (1.0, False), (1.3, True)])


def _by_quadrature(width, cuts):
    """The probability that a web of the cuts' motif holds, by scipy's adaptive quadrature."""
    spread = math.hypot(PRIOR.uncertainty, PRIOR.motif_scatter)

    def weight(limit, log_steepness):
        steepness = math.exp(log_steepness)
        chance = stats.norm.pdf(limit, math.log(PRIOR.limit), spread)
        chance *= stats.norm.pdf(
            log_steepness, math.log(PRIOR.steepness), PRIOR.steepness_uncertainty
        )
        for cut in cuts:
            holds = 1 / (1 + math.exp(-steepness * (math.log(cut.width) - limit)))
            chance *= holds if cut.held else 1 - holds
        return chance

    def holds(limit, log_steepness):
        margin = math.exp(log_steepness) * (math.log(width) - limit)
        return weight(limit, log_steepness) / (1 + math.exp(-margin))

    ranges = ((-1.4, 1.4), (math.log(12) - 1.8, math.log(12) + 1.8))
    options = {"opts": {"epsabs": 1e-8, "epsrel": 1e-5}}
    above, below = (integrate.nquad(part, ranges, **options)[0] for part in (holds, weight))
    return above / below


@pytest.mark.parametrize("width", [0.8, 1.0, 1.2])
def test_it_agrees_with_an_independent_integration_within_a_hundredth(width):
    model = HoldModel(MIXED, PRIOR)
    assert model.probability(width, "wren") == pytest.approx(_by_quadrature(width, MIXED), abs=0.01)


def _simulated(seed, rungs):
    """Per motif of many cards: whether the 90 % interval holds the truth, and the log error."""
    rng = np.random.default_rng(seed)
    held, errors = [], []
    for _ in range(60):
        steepness = PRIOR.steepness * math.exp(rng.normal(0, PRIOR.steepness_uncertainty))
        card = rng.normal(math.log(PRIOR.limit), PRIOR.uncertainty)
        limits = {f"m{i}": math.exp(card + rng.normal(0, PRIOR.motif_scatter)) for i in range(3)}
        cuts = []
        for motif, limit in limits.items():
            widths = rungs(HoldModel(cuts, PRIOR), motif)
            cuts += [
                ObservedWeb(motif, w, bool(rng.random() < 1 / (1 + (limit / w) ** steepness)))
                for w in widths
            ]
        model = HoldModel(cuts, PRIOR)
        for motif, limit in limits.items():
            belief = model.limit(motif)
            held.append(belief.interval[0] <= limit <= belief.interval[1])
            errors.append(math.log(belief.width / limit) ** 2)
    return np.mean(held), math.sqrt(np.mean(errors))


def test_intervals_hold_the_truth_and_chosen_ladders_need_half_the_cuts():
    fixed, error_of_six = _simulated(1, lambda model, motif: LADDER)
    chosen, error_of_three = _simulated(1, lambda model, motif: model.next_widths(3, motif))
    assert 0.85 <= fixed <= 0.95
    assert 0.85 <= chosen <= 0.95
    assert error_of_three <= error_of_six


def test_without_cuts_it_believes_the_prior_and_says_so():
    belief = HoldModel([], PRIOR).limit()
    assert belief.width == pytest.approx(1.0, abs=0.01)
    assert belief.cuts == 0
    assert belief.interval[1] / belief.interval[0] > 3


def test_one_cut_moves_it_a_little_and_leaves_it_wide():
    before, after = HoldModel([], PRIOR).limit(), HoldModel(_cuts([(0.9, True)]), PRIOR).limit()
    assert before.width * 0.7 < after.width < before.width
    assert after.interval[1] / after.interval[0] > 2
    assert (after.held, after.failed) == (1, 0)


def test_other_motifs_teach_about_a_new_one_but_less_than_its_own_cuts():
    strong = [ObservedWeb(f"m{i}", w, True) for i in range(6) for w in (0.5, 0.6, 0.7)]
    model = HoldModel(strong, PRIOR)
    assert HoldModel([], PRIOR).limit().width > model.limit("new").width > model.limit("m0").width


def test_contradictory_cuts_widen_rather_than_break_it():
    clear = _cuts([(0.7, False), (0.8, False), (1.0, True), (1.1, True)] * 3)
    muddled = _cuts([(0.7, True), (0.8, False), (1.0, False), (1.1, True)] * 3)
    spans = [HoldModel(cuts, PRIOR).limit("wren").interval for cuts in (clear, muddled)]
    assert spans[1][1] / spans[1][0] > spans[0][1] / spans[0][0]


def test_a_thousand_cuts_are_sure_and_never_certain():
    rng = np.random.default_rng(2)
    widths = rng.uniform(0.5, 1.6, 1000)
    held = rng.random(1000) < 1 / (1 + (0.9 / widths) ** 12)
    cuts = [
        ObservedWeb(f"m{i % 40}", float(w), bool(h))
        for i, (w, h) in enumerate(zip(widths, held, strict=True))
    ]
    model = HoldModel(cuts, PRIOR)
    assert model.limit("m3").interval[0] < 0.9 < model.limit("m3").interval[1]
    assert 0 < model.probability(0.5, "m3") < model.probability(2.0, "m3") < 1
    assert model.probability(model.safe_width(0.97, "m3"), "m3") == pytest.approx(0.97, abs=1e-3)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: HoldModel([ObservedWeb("wren", 0.0, True)], PRIOR), "above 0"),
        (lambda: HoldModel([], PRIOR).safe_width(1.0), "probability"),
        (lambda: HoldModel([], PRIOR).next_widths(0), "at least one"),
        (lambda: Prior(-1.0), "above 0"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, words):
    with pytest.raises(UsageError, match=words):
        call()
