"""What trials teach: against an independent integration, simulated cards, and odd evidence."""

import math

import numpy as np
import pytest
from scipy import integrate, stats

from hingeleaf.errors import UsageError
from hingeleaf.paper.mechanics.learning import (
    LIMIT_INTERVALS,
    CardModel,
    Detail,
    HoldModel,
    ObservedCut,
    ObservedWidth,
    Prior,
    smallest_from,
)
from support.simulated_makers import limits_of, simulate, six_fixed, three_chosen

PRIOR = Prior(1.0)
GRID = np.geomspace(0.2, 5.0, 20).tolist()


def _cuts(outcomes, motif="wren"):
    return [ObservedWidth(motif, width, held) for width, held in outcomes]


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
    options = {"opts": {"epsabs": 1e-6, "epsrel": 1e-3}}
    above, below = (integrate.nquad(part, ranges, **options)[0] for part in (holds, weight))
    return above / below


@pytest.mark.parametrize("width", [0.8, 1.0, 1.2])
def test_it_agrees_with_an_independent_integration_within_a_hundredth(width):
    model = HoldModel(MIXED, PRIOR)
    assert model.probability(width, "wren") == pytest.approx(_by_quadrature(width, MIXED), abs=0.01)


def test_intervals_hold_the_truth_and_chosen_ladders_need_half_the_cuts():
    """Sixty cards; `tests/benchmarks` has two hundred."""
    fixed, chosen = (simulate(1, 60, [Detail.WEB], ladder) for ladder in (six_fixed, three_chosen))
    assert 0.85 <= chosen.within[Detail.WEB] <= 0.95
    assert chosen.error[Detail.WEB] <= fixed.error[Detail.WEB]


def test_without_cuts_it_believes_the_prior_and_says_so():
    low, middle, high = limits_of(HoldModel([], PRIOR))
    assert middle == pytest.approx(1.0, abs=0.01)
    assert high / low > 3


def test_one_cut_moves_it_a_little_and_leaves_it_wide():
    before, after = (limits_of(HoldModel(cuts, PRIOR)) for cuts in ([], _cuts([(0.9, True)])))
    assert before[1] * 0.7 < after[1] < before[1]
    assert after[2] / after[0] > 2


def test_other_motifs_teach_about_a_new_one_but_less_than_its_own_cuts():
    strong = [ObservedWidth(f"m{i}", w, True) for i in range(6) for w in (0.5, 0.6, 0.7)]
    model = HoldModel(strong, PRIOR)
    limits = [limits_of(HoldModel([], PRIOR)), limits_of(model, "new"), limits_of(model, "m0")]
    assert limits[0][1] > limits[1][1] > limits[2][1]


def test_contradictory_cuts_widen_rather_than_break_it():
    clear = _cuts([(0.7, False), (0.8, False), (1.0, True), (1.1, True)] * 3)
    muddled = _cuts([(0.7, True), (0.8, False), (1.0, False), (1.1, True)] * 3)
    spans = [limits_of(HoldModel(cuts, PRIOR), "wren") for cuts in (clear, muddled)]
    assert spans[1][2] / spans[1][0] > spans[0][2] / spans[0][0]


def test_a_thousand_cuts_are_sure_and_never_certain():
    rng = np.random.default_rng(2)
    widths = rng.uniform(0.5, 1.6, 1000)
    held = rng.random(1000) < 1 / (1 + (0.9 / widths) ** 12)
    cuts = [
        ObservedWidth(f"m{i % 40}", float(w), bool(h))
        for i, (w, h) in enumerate(zip(widths, held, strict=True))
    ]
    model = HoldModel(cuts, PRIOR)
    low, _, high = limits_of(model, "m3")
    assert low < 0.9 < high
    assert 0 < model.probability(0.5, "m3") < model.probability(2.0, "m3") < 1
    safe = smallest_from(lambda width: model.probability(width, "m3"), GRID, 0.97)
    assert model.probability(safe, "m3") == pytest.approx(0.97, abs=1e-3)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: HoldModel([ObservedWidth("wren", 0.0, True)], PRIOR), "above 0"),
        (lambda: Prior(-1.0), "above 0"),
    ],
)
def test_nonsense_is_refused_in_a_sentence(call, words):
    with pytest.raises(UsageError, match=words):
        call()


PRIORS = {Detail.WEB: PRIOR, Detail.WINDOW: Prior(0.8), Detail.HINGE: Prior(1.5, 0.5)}


def _outcomes(*rows):
    names = (Detail.WEB, Detail.WINDOW, Detail.HINGE)
    return [
        ObservedCut("wren", dict(zip(names, widths, strict=True)), held) for widths, held in rows
    ]


def test_a_failure_is_put_down_to_the_detail_that_others_do_not_excuse():
    wide_web = CardModel(_outcomes(((3.0, 0.6, 4.0), False)), PRIORS).details
    before = {detail: limits_of(HoldModel([], prior))[1] for detail, prior in PRIORS.items()}
    risen = {detail: limits_of(wide_web[detail], "wren")[1] / before[detail] for detail in Detail}
    assert risen[Detail.WINDOW] > 1.1
    assert risen[Detail.WEB] < 1.05 and risen[Detail.HINGE] < 1.05


def test_what_is_believed_but_for_failures_comes_in_evenly_likely_stretches():
    model = HoldModel(MIXED, PRIOR)
    widths = np.array([0.8, 1.0, 1.25])
    likely, chances = model.before_failures("wren", widths)
    assert likely == pytest.approx(np.full(LIMIT_INTERVALS, 1 / LIMIT_INTERVALS), abs=0.03)
    assert (np.diff(chances, axis=0) < 0).all() and (np.diff(chances, axis=1) > 0).all()
    assert likely @ chances == pytest.approx(
        [model.probability(width, "wren") for width in widths], abs=0.01
    )


def test_details_that_may_alike_have_failed_share_a_failure_alike():
    priors = dict.fromkeys(Detail, PRIOR)
    details = CardModel(_outcomes(((0.9, 0.9, 0.9), False)), priors).details
    limits = [limits_of(details[detail], "wren")[1] for detail in Detail]
    assert limits == pytest.approx([limits[0]] * 3, rel=1e-3)
    assert limits[0] > limits_of(HoldModel([], PRIOR))[1]


def test_failures_that_nothing_explains_make_no_size_sure():
    wide = {Detail.WEB: 5.7, Detail.WINDOW: 9.2}
    before, after = (
        CardModel([ObservedCut("wren", wide, False)] * times, PRIORS).probability(wide, "wren")
        for times in (0, 4)
    )
    assert before > 0.99 and after < 0.9


def test_a_motif_holds_where_all_its_details_do():
    model = CardModel(_outcomes(((1.0, 0.8, 2.0), True)), PRIORS)
    widths = {Detail.WEB: 1.1, Detail.WINDOW: 0.9}
    each = [model.details[detail].probability(width, "wren") for detail, width in widths.items()]
    assert model.probability(widths, "wren") == pytest.approx(each[0] * each[1])
    assert model.probability({}, "wren") == 1.0
    assert model.counts("wren") == model.counts(None) == (1, 0)


def test_the_size_is_the_one_from_which_on_it_is_sure():
    dips = {1.0: 0.99, 2.0: 0.5, 4.0: 0.98, 8.0: 0.99}
    at = lambda size: float(np.interp(size, [*dips], [*dips.values()]))  # noqa: E731
    assert smallest_from(at, [*dips], 0.74) == pytest.approx(3.0, rel=1e-3)
    assert smallest_from(at, [*dips], 0.4) == 1.0
    assert smallest_from(at, [*dips], 0.995) is None
