"""Card mechanics against closed forms, limits and published values; the source beside each."""

import itertools
import math

import pytest

from hingeleaf.errors import UsageError
from hingeleaf.material import FoldKind, MeasuredValue, Origin
from hingeleaf.paper.mechanics import formulas
from hingeleaf.paper.mechanics.springback import A_WEEK, fold_angle_for, rest_angles
from hingeleaf.paper.mechanics.starting_values import MODULUS, TEAR_INDEX, assumed_material

CARD_220 = assumed_material(220, 0.28)


def test_the_usual_moduli_are_those_of_a_card_measured_by_a_taber_tester():
    # Tabulating-card stock, 161 g/m², 0.178 mm: Taber 17 along, 8 across at least
    # (ibm-1401.info, TabCardStockManSpec). One Taber unit is 1 gf·cm (TAPPI T 489) = 0.0981 mN·m.
    # The tester bends 50 mm of a strip 38 mm wide by 15°: S = 60·M·l / (π·φ·b) (ISO 2493, the form
    # from memory).
    for reading, modulus in zip((17, 8), MODULUS, strict=True):
        moment = reading * formulas.GRAVITY / 100
        stiffness = 60 * moment * 50 / (math.pi * 15 * 38)
        assert formulas.bending_stiffness(modulus, 0.178) == pytest.approx(stiffness, rel=0.01)


def test_tear_index_is_tear_over_grammage():
    # The same specification: Elmendorf 125 gf. Tear index = force / grammage (ISO 1974), mN·m²/g.
    newtons = 0.125 * formulas.GRAVITY
    assert newtons / 161 * 1000 == pytest.approx(TEAR_INDEX, abs=0.02)
    assert CARD_220.tear_along.value == pytest.approx(1.672, abs=0.001)
    assert CARD_220.tear_along.origin is Origin.PUBLISHED


def test_small_flaps_never_sag_and_a_strip_tells_its_stiffness():
    # A 40 mm flap of 220 g/m² card, with half its modulus, sags less than its own caliper.
    assert formulas.stiffness_from_sag(40, 0.28, 220) < formulas.bending_stiffness(
        MODULUS[1] / 2, 0.28
    )
    # The droop of a cantilever under its own weight, w·l⁴ / 8EI (Euler and Bernoulli).
    stiffness = CARD_220.stiffness_along.value
    drop = 0.220 * 9.80665e-6 * 150**4 / (8 * stiffness)
    assert formulas.stiffness_from_sag(150, drop, 220) == pytest.approx(stiffness, rel=1e-6)
    # Twice the length sags sixteen times as far.
    assert formulas.stiffness_from_sag(300, 16 * drop, 220) == pytest.approx(stiffness, rel=1e-6)


def test_strength_follows_the_grain():
    assert formulas.directional(14, 7, 0) == pytest.approx(14)
    assert formulas.directional(14, 7, 90) == pytest.approx(7)
    # Hankinson's formula at 45° is the harmonic mean (Wood Handbook, USDA FPL, chapter 5).
    assert formulas.directional(14, 7, 45) == pytest.approx(2 * 14 * 7 / (14 + 7))
    assert formulas.directional(5, 5, 30) == pytest.approx(5)


def test_a_web_without_a_notch_holds_all_its_strength():
    assert formulas.notch_factor(0, 2) == 1
    assert formulas.notch_factor(2, 2) == pytest.approx(math.sqrt(0.5))
    factors = [formulas.notch_factor(depth, 2) for depth in (0, 0.5, 1, 2, 5, 50)]
    assert factors == sorted(factors, reverse=True)
    # 1 mm of 220 g/m² card: about 14 N along and 7 N across (tensile index from memory).
    assert formulas.web_pull(1, CARD_220.tensile_along.value) == pytest.approx(14.3)
    assert formulas.web_pull(1, CARD_220.tensile_across.value) == pytest.approx(7.04)
    assert formulas.web_pull(2.5, 10, 0.5) == pytest.approx(12.5)


def test_a_long_flap_on_a_short_hinge_tears_first():
    assert formulas.hinge_pull(1.6, 10, 20) == pytest.approx(0.8)
    assert formulas.hinge_pull(1.6, 10, 5) == pytest.approx(3.2)


def test_a_fold_rests_where_the_logarithm_of_time_puts_it():
    assert formulas.rest_angle(90, 0, 0, 1e6) == 90
    at_once = formulas.rest_angle(90, 0.1, 0.03, 0)
    assert at_once == formulas.rest_angle(90, 0.1, 0.03, 1) == pytest.approx(81)
    # Equal steps for every tenfold of time (K. Farain, Phys. Rev. Applied 13, 014031, 2020).
    angles = [formulas.rest_angle(90, 0.1, 0.03, 10**decade) for decade in range(5)]
    steps = [one - other for one, other in itertools.pairwise(angles)]
    assert steps == pytest.approx([2.7] * 4)
    assert formulas.rest_angle(90, 0.9, 0.5, 1e9) == 0


@pytest.mark.parametrize("kind", FoldKind)
@pytest.mark.parametrize("rest", [5, 30, 60, 90])
def test_folding_that_far_gives_that_rest(kind, rest):
    folded = fold_angle_for(rest, CARD_220, kind)
    assert folded > rest
    assert rest_angles(folded, CARD_220, kind).middle == pytest.approx(rest)


def test_a_scored_fold_of_75_degrees_rests_near_60():
    rests = rest_angles(75, CARD_220)
    assert rests.middle == pytest.approx(60, abs=2)
    assert rests.lowest < rests.middle < rests.highest < 75


def test_a_fold_along_the_grain_springs_back_less_than_one_across_it():
    rests = [rest_angles(60, CARD_220, minutes=1, grain=turn) for turn in (0, 45, 90)]
    along, _, across = rests
    back = [60 - each.middle for each in rests]
    assert [each / back[1] for each in back] == pytest.approx([0.8, 1.0, 1.2])
    unknown = rest_angles(60, CARD_220, minutes=1)
    assert (unknown.lowest, unknown.highest) == pytest.approx((across.lowest, along.highest))


def test_time_widens_the_range_and_lowers_the_flap():
    early, late = (rest_angles(60, CARD_220, minutes=m) for m in (1.0, A_WEEK))
    assert late.middle < early.middle
    assert late.highest - late.lowest > early.highest - early.lowest


@pytest.mark.parametrize("angle", [-1, 181, float("nan")])
def test_an_angle_that_no_flap_has_is_refused(angle):
    with pytest.raises(UsageError, match="folded"):
        rest_angles(angle, CARD_220)


def test_a_quantity_says_how_sure_it_is():
    low, high = MeasuredValue(10, 0.2).interval
    assert low * high == pytest.approx(100)
    assert math.log(high / 10) == pytest.approx(1.6449 * math.sqrt(math.log(1.04)), abs=1e-4)
    for value, uncertainty in ((0, 0.1), (-1, 0.1), (float("inf"), 0.1), (1, -0.1), (1, 3)):
        with pytest.raises(UsageError):
            MeasuredValue(value, uncertainty)
