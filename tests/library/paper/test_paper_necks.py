import math

import pytest
import shapely
from hypothesis import given, settings, strategies as st
from shapely import MultiLineString, MultiPolygon

from hingeleaf.model import Cuts
from hingeleaf.paper.necks import find_necks
from support.paper_shapes import (
    bar,
    disc,
    dumbbell,
    known_shapes,
    opening,
    ring,
    two_discs,
    windows,
)

TOLERANCE = 0.01
"""mm by which a neck's width may be off."""


def found(known):
    return sorted((neck.width, neck.in_loop) for neck in find_necks(known.cuts, known.sheet))


@pytest.mark.parametrize("known", known_shapes(300, seed=20), ids=lambda known: known.name)
def test_every_neck_of_a_known_shape_is_found_and_no_other(known):
    expected = sorted(known.necks)
    necks = found(known)
    assert [loop for _, loop in necks] == [loop for _, loop in expected]
    assert [width for width, _ in necks] == pytest.approx(
        [width for width, _ in expected], abs=TOLERANCE
    )


def test_a_neck_lies_where_it_is_narrow_and_is_as_long_as_it_says():
    (neck,) = find_necks(two_discs(10, 12, 3, 30).cuts)
    assert math.dist(neck.start, neck.end) == pytest.approx(neck.width, abs=1e-9)
    along = shapely.Point(neck.at)
    assert along.distance(shapely.LineString([(0, 0), (1e3 * math.cos(math.pi / 6), 5e2)])) < 0.05
    assert math.hypot(*neck.at) == pytest.approx(11.5, abs=0.02)


def test_what_hangs_on_a_neck_comes_away():
    shape = dumbbell(8, 12, 40, 2, 10)
    (neck,) = find_necks(shape.cuts, shape.sheet)
    smaller = math.pi * 8**2
    strip = (40 - 8 - 12) * 2
    assert smaller - 1 < neck.hanging_area < smaller + strip + 1


def test_the_inside_of_a_c_comes_away_and_not_the_sheet():
    (neck,) = find_necks(opening(20, 25, 20, 0).cuts)
    assert neck.hanging_area == pytest.approx(math.pi * 20**2, rel=0.02)


def test_nothing_comes_away_at_a_spare_path():
    assert all(neck.hanging_area == 0 for neck in find_necks(two_discs(5, 5, 1, 0).cuts))


def test_narrow_corners_are_no_necks():
    comb = shapely.union_all([bar(40, 3), *(shapely.box(x, 0, x + 3, 20) for x in range(0, 40, 6))])
    teeth = find_necks(Cuts(windows(comb)))
    assert all(neck.width >= 2.9 for neck in teeth)
    sliver = shapely.Polygon([(0, 0), (60, 4), (60, -4)])
    assert find_necks(Cuts(windows(ring(30, 35).difference(sliver), disc(0, 0, 1)))) != ()
    assert find_necks(Cuts(windows(sliver))) == ()


def test_widest_leaves_out_what_is_wider():
    cuts = Cuts(windows(disc(0, 0, 5), disc(12, 0, 5), disc(30, 0, 5)))
    assert [round(neck.width) for neck in find_necks(cuts)] == [2, 8]
    assert [round(neck.width) for neck in find_necks(cuts, widest=4)] == [2]


def test_webs_to_the_edge_of_a_given_sheet_count():
    sheet = shapely.box(-10, -10, 10, 30)
    left_top_and_right = find_necks(Cuts(windows(disc(0, 0, 8))), sheet)
    assert [neck.width for neck in left_top_and_right] == pytest.approx([2, 2, 2], abs=TOLERANCE)
    assert find_necks(Cuts(windows(disc(0, 0, 8)))) == ()


def test_a_slit_that_ends_at_a_window_makes_no_neck_of_width_zero():
    cuts = Cuts(windows(disc(0, 0, 10)), MultiLineString([[(10, 0), (30, 0)]]))
    assert find_necks(cuts) == ()


def test_windows_that_touch_in_a_point_are_one_cut():
    touching = MultiPolygon([shapely.box(0, 0, 10, 10), shapely.box(10, 10, 20, 20)])
    assert find_necks(Cuts(touching)) == ()


def test_no_cuts_no_necks():
    assert find_necks(Cuts()) == ()


@settings(max_examples=40)
@given(
    gap=st.floats(0.2, 10),
    turn=st.floats(0, 360),
    scale=st.floats(0.2, 5),
    shift=st.tuples(st.floats(-500, 500), st.floats(-500, 500)),
)
def test_turning_moving_and_scaling_change_nothing_else(gap, turn, scale, shift):
    known = two_discs(8, 6, gap, turn)
    moved = shapely.transform(known.cuts.windows, lambda points: points * scale + shift)
    (neck,) = find_necks(Cuts(moved))
    assert neck.width == pytest.approx(gap * scale, abs=TOLERANCE * max(1.0, scale))


def test_equal_cuts_give_equal_necks():
    for known in known_shapes(10, seed=3):
        assert find_necks(known.cuts, known.sheet) == find_necks(known.cuts, known.sheet)
