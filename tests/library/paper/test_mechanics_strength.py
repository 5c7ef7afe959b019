"""Pulls at webs, slit ends and hinges of drawn cuts, against closed forms."""

import math
from dataclasses import replace

import pytest
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, box

from hingeleaf.errors import UsageError
from hingeleaf.material import Grain, MeasuredValue, Origin
from hingeleaf.model import Cuts
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.hinges import Hinge
from hingeleaf.paper.mechanics.home_tests import Fold, Readings, Sag, measure, measured_card
from hingeleaf.paper.mechanics.starting_values import assumed_material
from hingeleaf.paper.mechanics.strength import (
    DEEP_NOTCH,
    PlaceKind,
    hinge_places,
    notch_depths,
    slit_end_places,
    weakest_first,
    web_places,
)
from hingeleaf.paper.necks import find_necks

CARD = assumed_material(220, 0.28)
ALONG, ACROSS = CARD.tensile_along.value, CARD.tensile_across.value
ZONE = CARD.process_zone.value


def _two_windows(apart):
    """Two square windows with an upright web of that width between them."""
    return Cuts(MultiPolygon([box(-20, -10, -apart / 2, 10), box(apart / 2, -10, 20, 10)]))


def _web(cuts, width):
    return next(neck for neck in find_necks(cuts) if abs(neck.width - width) < 0.01)


@pytest.mark.parametrize("width", [0.5, 1.0, 3.0])
def test_a_straight_web_holds_its_width_times_the_strength_of_card(width):
    cuts = _two_windows(width)
    web = _web(cuts, width)
    # The web runs up and down, so that is how it is pulled.
    assert web_places([web], cuts, CARD, 90.0)[0].newtons == pytest.approx(width * ALONG)
    assert web_places([web], cuts, CARD, 0.0)[0].newtons == pytest.approx(width * ACROSS)
    diagonal = 2 * ALONG * ACROSS / (ALONG + ACROSS)
    assert web_places([web], cuts, CARD, 45.0)[0].newtons == pytest.approx(width * diagonal)


def test_an_unknown_grain_counts_as_the_weaker_direction():
    cuts = _two_windows(1.0)
    place = web_places([_web(cuts, 1.0)], cuts, CARD, None)[0]
    assert place.newtons == pytest.approx(ACROSS)


def _facing_points(half_angle, apart):
    """Two triangular windows whose points face each other, `half_angle` degrees either side."""
    rise = 30 * math.tan(math.radians(half_angle))
    right = shapely.Polygon([(apart / 2, 0), (apart / 2 + 30, -rise), (apart / 2 + 30, rise)])
    left = shapely.Polygon([(-x, y) for x, y in right.exterior.coords])
    return Cuts(MultiPolygon([left, right]))


def test_a_sharp_notch_takes_the_share_that_the_process_zone_leaves():
    cuts = _facing_points(5, 1.5)
    web = _web(cuts, 1.5)
    place = web_places([web], cuts, CARD, 90.0)[0]
    deepest = DEEP_NOTCH * 1.5
    assert place.newtons == pytest.approx(1.5 * ALONG * math.sqrt(ZONE / (ZONE + deepest)))


def test_blunter_notches_are_shallower_until_the_edge_is_straight():
    depths = [
        notch_depths([_web(cuts, 3.0)], cuts, ZONE)[0]
        for cuts in (_facing_points(5, 3.0), _facing_points(70, 3.0), _two_windows(3.0))
    ]
    assert depths[0] > depths[1] > depths[2] == pytest.approx(0)
    # A point of 70° either side recedes by zone / tan(70°) within the process zone.
    assert depths[1] == pytest.approx(ZONE / math.tan(math.radians(70)), rel=0.01)


def test_a_round_window_is_a_shallow_notch():
    left, right = (shapely.Point(x, 0).buffer(10, quad_segs=64) for x in (-10.5, 10.5))
    cuts = Cuts(MultiPolygon([left, right]))
    depth = notch_depths([_web(cuts, 1.0)], cuts, ZONE)[0]
    assert depth == pytest.approx(10 - math.sqrt(100 - ZONE**2), rel=0.02)


def test_only_free_slit_ends_count():
    arc = LineString([(0, 0), (10, 0), (10, 10)])
    crossing = LineString([(10, 10), (20, 20)])
    ends = slit_end_places(Cuts(slits=MultiLineString([arc])), CARD, 0.0)
    assert [place.at for place in ends] == [(0.0, 0.0), (10.0, 10.0)]
    assert all(place.newtons == pytest.approx(CARD.tear_along.value) for place in ends)
    together = slit_end_places(Cuts(slits=MultiLineString([arc, crossing])), CARD, 0.0)
    assert {place.at for place in together} == {(0.0, 0.0), (20.0, 20.0)}
    ring = MultiLineString([[(0, 0), (5, 0), (5, 5), (0, 0)]])
    assert slit_end_places(Cuts(slits=ring), CARD, 0.0) == []
    assert slit_end_places(Cuts(), CARD, 0.0) == []


def test_a_hinge_tears_by_the_lever_of_its_flap():
    paper = box(0, 0, 10, 40)
    short, long_ = (Hinge(((0, 0), (10, 0)), paper, reach) for reach in (5.0, 40.0))
    places = hinge_places([short, long_, Hinge(((0, 0), (0, 0)), paper, 3.0)], CARD, None)
    assert [place.newtons for place in places] == pytest.approx(
        [CARD.tear_along.value * 2, CARD.tear_along.value / 4]
    )
    assert weakest_first(places)[0].newtons == places[1].newtons
    assert places[0].kind is PlaceKind.HINGE
    assert places[0].at == (5.0, 0.0)


def test_home_readings_become_card_data():
    stiff, soft = 12.0, 6.0
    sags = [Sag(150, 220e-9 * 9.80665 * 150**4 / (8 * each)) for each in (stiff, soft)]
    readings = Readings(
        tear_x=(150, 160, 170),
        tear_y=(180,),
        sag_x=(sags[1],),
        sag_y=(sags[0], sags[0]),
        folds=(Fold(90, 81, 72),),
    )
    measured = measure(readings, CARD, 220)
    assert measured.grain_along_x is False  # the strip along y is the stiffer one
    material = measured.material
    assert material.stiffness_along.value == pytest.approx(stiff)
    assert material.stiffness_across.value == pytest.approx(soft)
    # The grain runs along y, so what tore along y tore along the grain.
    assert material.tear_along.value == pytest.approx(0.180 * 9.80665)
    assert material.tear_across.value == pytest.approx(0.160 * 9.80665)
    assert material.scored_recovery.value == pytest.approx(0.1)
    assert material.relaxation.value == pytest.approx(0.1 / math.log10(24 * 60))
    assert material.tear_across.origin is Origin.MEASURED
    assert material.tear_across.uncertainty < material.tear_along.uncertainty  # three readings
    assert material.tensile_along == CARD.tensile_along  # not measured


def test_strips_that_sag_alike_tell_no_grain():
    measured = measure(Readings(sag_x=(Sag(150, 14),), sag_y=(Sag(150, 13.5),)), CARD, 220)
    assert measured.grain_along_x is None
    assert measured.material.stiffness_along == CARD.stiffness_along


def test_a_card_gets_the_grain_that_its_test_sheet_tells_and_keeps_it_otherwise():
    sags = (Sag(150, 14),), (Sag(150, 28),)
    for first, second, sheet, grain in (
        (*sags, (210, 297), Grain.SHORT),
        (*sags[::-1], (210, 297), Grain.LONG),
        (*sags, (297, 210), Grain.LONG),
    ):
        found = measured_card(DEFAULT, Readings(sag_x=first, sag_y=second, sheet=sheet))
        assert found.grain is grain
    kept = replace(DEFAULT, grain=Grain.LONG)
    assert measured_card(kept, Readings(tear_x=(160,))).grain is Grain.LONG


def test_no_readings_change_nothing():
    measured = measure(Readings(), CARD, 220)
    assert measured.material == CARD
    assert measured.grain_along_x is None


@pytest.mark.parametrize(
    ("readings", "words"),
    [
        (Readings(tear_x=(0,)), "does not tear at 0 g"),
        (Readings(sag_x=(Sag(150, 90),)), "let it overhang less"),
        (Readings(sag_y=(Sag(5, 1),)), "cannot overhang by 5 mm"),
        (Readings(folds=(Fold(60, 70),)), "cannot stand at 70"),
        (Readings(folds=(Fold(60, 50, 55),)), "fall as time goes on"),
        (Readings(folds=(Fold(200, 50),)), "200"),
    ],
)
def test_readings_that_cannot_be_are_refused(readings, words):
    with pytest.raises(UsageError) as refused:
        measure(readings, CARD, 220)
    assert words in str(refused.value)


def test_a_measured_value_is_never_without_uncertainty():
    material = measure(Readings(tear_x=(150, 150, 150, 150)), CARD, 220).material
    assert material.tear_along == MeasuredValue(0.15 * 9.80665, 0.04, Origin.MEASURED)
