"""Hold styles compared on shapes whose best fold anybody sees."""

import itertools

import pytest
import shapely
from shapely import MultiLineString

from hingeleaf.model import HoldStyle
from hingeleaf.paper.card_stock import PRESETS
from hingeleaf.paper.plan_comparison import best_plan, compare_plans, long_bridges, size_caution
from hingeleaf.paper.resized import Resized
from support.drawing_sets import motif_from
from support.paper_shapes import disc, windows
from support.plan_measures import band, heart, star

CARD = PRESETS["card-220"]


def drawn(shape):
    return motif_from("m", shape)


@pytest.mark.parametrize(
    ("shape", "hold", "flaps"),
    [
        (band(star(5)), HoldStyle.POINTS, 5),
        (band(star(8, 36, 17)), HoldStyle.POINTS, 8),
        (band(heart()), HoldStyle.SPINE, 2),
    ],
)
def test_the_best_plan_folds_what_a_shape_is_made_of(shape, hold, flaps):
    best = best_plan(drawn(shape), CARD)
    assert best.hold is hold
    assert len(best.hinges) == flaps
    said = best.findings[0]
    assert said.kind == "best-hold"
    assert f"{flaps} flaps lift" in said.message and "safe from" in said.message


def test_plans_are_different_and_the_best_comes_first():
    compared = compare_plans(drawn(band(star(5))), CARD)
    assert len({each.hold for each in compared}) == len(compared) >= 3
    assert all(each.hinges or not each.hold.lifts for each in compared)
    assert [each.score for each in compared] == sorted(
        (each.score for each in compared), reverse=True
    )
    for one, two in itertools.combinations(compared, 2):
        assert not two.hold.lifts or set(one.motif.bridges) != set(two.motif.bridges)


def test_how_high_and_from_which_size_is_what_the_plan_itself_tells():
    best = best_plan(drawn(band(heart())), CARD)
    hinges = Resized(best.motif, CARD, best.motif.size).hinges.hinges
    height = max(hinge.reach for hinge in hinges) * 3**0.5 / 2  # sin 60°
    assert f"lift up to {round(height, 1):g} mm at 60°" in best.message
    assert best.limits.sizes.smallest <= best.motif.size


@pytest.mark.parametrize(
    ("shape", "why", "remedy"),
    [
        (windows(disc(0, 0, 30)), "no part of it stays", "Cut a band around the shape"),
        (windows(disc(0, 0, 12).difference(disc(0, 0, 1.9))), "only 3.8 mm long", "Use it 33 mm"),
    ],
)
def test_where_nothing_lifts_it_says_why_and_what_to_change(shape, why, remedy):
    best = best_plan(drawn(shape), CARD)
    assert not best.hinges and not best.hold.lifts
    assert best.findings[0].kind == "nothing-lifts"
    assert why in best.findings[0].message
    assert remedy in best.findings[0].remedy


def test_what_is_too_fine_as_drawn_never_goes_unsaid():
    bars = windows(shapely.box(-20, -5, -0.4, 5), shapely.box(0.4, -5, 20, 5))
    finding = size_caution(best_plan(drawn(bars), CARD))
    # A web of 0.8 mm at 40 mm is 1 mm, the card's least, at 50 mm.
    assert "40 mm long, but on card-220 safe only from 50 mm" in finding.message
    assert "from 50 mm on, join windows nearer than 1 mm (--join 1mm), or" in finding.remedy
    corner = windows(shapely.box(-20, -20, 20, 10), shapely.box(14, 10.3, 20, 20))
    finding = size_caution(best_plan(drawn(corner), CARD))
    assert "finest place is at its bottom right" in finding.message  # y down
    assert finding.remedy.startswith("Take a simpler drawing, join")  # 0.3 mm is 1 mm at 133 mm
    assert size_caution(best_plan(drawn(band(heart())), CARD)) is None


def test_bridges_across_a_plain_silhouette_are_told_of_and_a_band_is_offered():
    eye = windows(disc(0, 0, 20).difference(disc(0, 0, 3)))
    finding = long_bridges(best_plan(drawn(eye), CARD).motif)
    # From the eye to the edge it is 20 - 3 = 17 mm, and the motif is 40 mm long.
    assert "17 mm across a window" in finding.message
    assert "band" in finding.remedy
    assert long_bridges(best_plan(drawn(band(heart())), CARD).motif) is None


def test_a_slit_lifts_without_any_window():
    slit = MultiLineString([[(-10, 10), (-10, -10), (10, -10), (10, 10)]])
    flap = drawn(windows(shapely.box(-10, -10, 10, 10)))
    flap = type(flap)("m", shapely.MultiPolygon(), slit, flap.footprint, 20)
    best = best_plan(flap, CARD)
    assert best.hold is HoldStyle.TONGUE or best.hinges
    assert "lifts 17.3 mm" in best.message  # 20 mm × sin 60°
