import math

import pytest
import shapely
from hypothesis import given, settings, strategies as st
from shapely import LineString, MultiLineString, MultiPolygon, Polygon

from hingeleaf.model import Bridge, Cuts
from hingeleaf.paper.parts import find_parts
from support.paper_shapes import bar, bridged_ring, disc, ngon, ring, slit_ring, star, windows

SHEET = shapely.box(-60, -60, 60, 60)


def test_a_sheet_without_cuts_is_one_held_part():
    parts = find_parts(Cuts())
    assert len(parts.parts) == 1
    assert parts.parts[0].held
    assert parts.findings == ()


def test_the_inside_of_a_ring_is_loose_and_told_of_with_its_place():
    parts = find_parts(Cuts(windows(ring(20, 25))), SHEET)
    assert len(parts.parts) - 1 == len(parts.loose) == 1
    assert parts.loose[0].polygon.area == pytest.approx(math.pi * 400, rel=1e-3)
    (finding,) = parts.findings
    assert finding.kind == "loose-part"
    assert math.hypot(*finding.at) < 20


@pytest.mark.parametrize("sides", range(3, 13))
def test_a_loose_polygon_has_the_area_of_the_formula(sides):
    shape = ngon(sides, 10)
    band = shape.buffer(2).difference(shape)
    (loose,) = find_parts(Cuts(windows(band)), SHEET).loose
    # Regular polygon in a circle of radius r: n·r²·sin(2π/n)/2.
    assert loose.polygon.area == pytest.approx(sides * 50 * math.sin(2 * math.pi / sides))


@pytest.mark.parametrize("points", range(3, 10))
def test_a_loose_star_has_the_area_of_the_formula(points):
    outline = LineString(star(points, 20, 9).exterior.coords)
    (loose,) = find_parts(Cuts(slits=MultiLineString([outline])), SHEET).loose
    # Star with corners on circles of radii R and r by turns: n·R·r·sin(π/n).
    assert loose.polygon.area == pytest.approx(points * 180 * math.sin(math.pi / points))


@pytest.mark.parametrize("count", range(1, 7))
def test_a_bridged_ring_holds(count):
    assert find_parts(bridged_ring(25, 35, (3.0,) * count, 10).cuts).loose == ()


@pytest.mark.parametrize("count", range(1, 6))
def test_a_slit_with_gaps_holds_and_a_closed_one_does_not(count):
    assert find_parts(slit_ring(20, (2.0,) * count, 0).cuts).loose == ()
    closed = MultiLineString([disc(0, 0, 20).exterior.coords])
    assert len(find_parts(Cuts(slits=closed)).loose) == 1


def test_slits_that_cross_each_other_are_noded():
    grid = [[(x, -20), (x, 20)] for x in (-10, 0, 10)] + [[(-20, y), (20, y)] for y in (-10, 0, 10)]
    parts = find_parts(Cuts(slits=MultiLineString(grid)), SHEET)
    assert sorted(part.polygon.area for part in parts.loose) == pytest.approx([100.0] * 4)


def test_a_slit_across_the_whole_sheet_leaves_two_held_parts():
    parts = find_parts(Cuts(slits=MultiLineString([[(-70, 0), (70, 0)]])), SHEET)
    assert [part.held for part in parts.parts] == [True, True]


def test_paper_that_touches_in_a_point_is_not_tied():
    ring_of_squares = shapely.box(-10, -10, 10, 10).difference(
        Polygon([(-10, 0), (0, -10), (10, 0), (0, 10)])
    )
    assert len(find_parts(Cuts(windows(ring_of_squares)), SHEET).loose) == 1


@pytest.mark.parametrize(("web", "loose"), [(0.15, 1), (0.19, 1), (0.21, 0), (0.5, 0)])
def test_a_web_under_the_kerf_counts_as_cut(web, loose):
    cut = ring(20, 25).difference(bar(30, web))
    parts = find_parts(Cuts(windows(cut)), SHEET, kerf=0.2)
    assert len(parts.loose) == loose
    assert all(part.polygon.area == pytest.approx(400 * math.pi, rel=5e-3) for part in parts.loose)


def test_slits_nearer_than_the_kerf_count_as_one():
    gap = 0.1
    line = [(20, -gap), (20, -20), (-20, -20), (-20, 20), (20, 20), (20, 0)]
    cuts = Cuts(slits=MultiLineString([line]))
    assert len(find_parts(cuts, SHEET, kerf=0.2).loose) == 1
    assert find_parts(cuts, SHEET, kerf=0.05).loose == ()


def test_slivers_narrower_than_the_kerf_are_no_parts():
    two = MultiPolygon([shapely.box(-20, 0, 20, 10), shapely.box(-20, -10, 20, -0.1)])
    closed = windows(two, shapely.box(-25, -10, -20, 10), shapely.box(20, -10, 25, 10))
    assert len(find_parts(Cuts(closed), SHEET).parts) == 1


def test_bridges_tie_what_they_join():
    cut = Cuts(windows(ring(10, 14), ring(20, 24)))
    outer = Bridge((22, 0), 0, 8, 3)
    inner = Bridge((0, 12), 90, 8, 3)
    sheet, middle, core = find_parts(cut, SHEET, bridges=(outer, inner)).parts
    assert [part.hops for part in (sheet, middle, core)] == [0, 1, 2]
    assert [(tie.bridge, tie.other) for tie in middle.ties] == [(0, 0), (1, 2)]
    assert sheet.ties[0].at == pytest.approx((24, 0), abs=0.01)
    assert middle.ties[0].at == pytest.approx((20, 0), abs=0.01)
    without = find_parts(cut, SHEET, bridges=(inner,))
    assert len(without.loose) == 2
    assert {part.hops for part in without.loose} == {-1}


def test_parts_and_windows_make_up_the_sheet():
    cuts = Cuts(windows(ring(10, 14), ring(20, 24), star(7, 8, 3)))
    parts = find_parts(cuts, SHEET)
    total = sum(part.polygon.area for part in parts.parts) + cuts.windows.area
    assert total == pytest.approx(SHEET.area)


NAN = float("nan")
BAD_WINDOWS = {
    "bow-tie": [Polygon([(0, 0), (10, 10), (10, 0), (0, 10)])],
    "spike": [Polygon([(0, 0), (10, 0), (20, 0), (10, 0), (10, 10), (0, 10)])],
    "duplicate points": [Polygon([(0, 0), (0, 0), (10, 0), (10, 0), (10, 10), (0, 10), (0, 0)])],
    "no area": [Polygon([(0, 0), (10, 10), (5, 5), (0, 0)])],
    "one point": [Polygon([(1, 1), (1, 1), (1, 1), (1, 1)])],
    "not a number": [Polygon([(0, 0), (NAN, 3), (10, 10), (0, 10)])],
    "infinite": [Polygon([(0, 0), (float("inf"), 3), (10, 10), (0, 10)])],
    "overlapping": [shapely.box(0, 0, 10, 10), shapely.box(5, 5, 15, 15)],
    "the same twice": [shapely.box(0, 0, 10, 10), shapely.box(0, 0, 10, 10)],
    "sharing an edge": [shapely.box(0, 0, 10, 10), shapely.box(10, 0, 20, 10)],
    "hole outside": [Polygon(shapely.box(0, 0, 5, 5).exterior, [shapely.box(8, 8, 9, 9).exterior])],
    "nested 50 deep": [disc(0, 0, radius) for radius in range(1, 51)],
    "rings 50 deep": [ring(radius, radius + 0.5) for radius in range(1, 51)],
}
TOLD = set(BAD_WINDOWS) - {"duplicate points", "rings 50 deep"}


@pytest.mark.parametrize("kind", BAD_WINDOWS)
def test_bad_windows_are_told_of_and_raise_nothing(kind):
    parts = find_parts(Cuts(MultiPolygon(BAD_WINDOWS[kind])))
    told = [finding for finding in parts.findings if finding.kind != "loose-part"]
    assert bool(told) == (kind in TOLD)
    assert all(finding.at or "finite" in finding.message for finding in told)
    assert all(part.polygon.is_valid for part in parts.parts)


def test_rings_fifty_deep_leave_fifty_loose_parts():
    assert len(find_parts(Cuts(MultiPolygon(BAD_WINDOWS["rings 50 deep"]))).loose) == 50


def test_bad_slits_are_told_of_and_raise_nothing():
    slits = MultiLineString(
        [[(0, 0), (0, 0)], [(0, NAN), (3, 3)], [(5, 5), (9, 9), (5, 5)], [(0, 9), (9, 0)]]
    )
    parts = find_parts(Cuts(slits=slits))
    assert {finding.kind for finding in parts.findings} == {"empty-slit"}
    assert len(parts.parts) == 1


def test_a_slit_through_a_window_is_told_of_where_it_is_idle():
    cuts = Cuts(windows(disc(0, 0, 10)), MultiLineString([[(-20, 0), (20, 0)]]))
    (finding,) = find_parts(cuts).findings
    assert finding.kind == "slit-in-window"
    assert finding.at == pytest.approx((0, 0), abs=1e-6)


coordinate = st.floats(-20, 20).map(lambda value: round(value, 1))
outline = st.lists(st.tuples(coordinate, coordinate), min_size=3, max_size=9)


@settings(max_examples=60)
@given(st.lists(outline, max_size=4), st.lists(st.lists(outline, max_size=1), max_size=3))
def test_any_scribble_gives_valid_parts(shapes, scribbles):
    slits = [line for group in scribbles for line in group]
    cuts = Cuts(MultiPolygon([Polygon(shape) for shape in shapes]), MultiLineString(slits))
    parts = find_parts(cuts)
    assert any(part.held for part in parts.parts)
    assert all(part.polygon.is_valid and part.polygon.area > 0 for part in parts.parts)
    union = shapely.union_all([part.polygon for part in parts.parts], grid_size=1e-9)
    assert union.area == pytest.approx(sum(part.polygon.area for part in parts.parts), rel=1e-6)
