"""Flattened lines become few curves: near the line, sharp at corners, never tangled."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings, strategies as st
from numpy.typing import NDArray
from shapely import LineString, Point, Polygon

from hingeleaf.export.cubics import Runs, _bulge, _sampled
from hingeleaf.export.drawing import Stroke, flatten
from hingeleaf.export.tracing import _thinned, _with_points, trace
from hingeleaf.starter import patterns, prepared

TOLERANCE = 0.02
Points = NDArray[np.float64]
Rings = dict[str, list[Points]]


def ring(radius: NDArray[np.float64]) -> Points:
    angle = np.linspace(0, 2 * np.pi, len(radius), endpoint=False)
    points = np.column_stack([radius * np.cos(angle), radius * np.sin(angle)])
    return np.vstack([points, points[:1]])


def wavy(points: int, seed: int = 0, size: float = 40.0) -> Points:
    waves = np.random.default_rng(seed)
    angle = np.linspace(0, 2 * np.pi, points, endpoint=False)
    radius = np.full(points, size)
    for count in (3, 5, 11):
        radius += size / count**1.6 * np.cos(count * angle + waves.uniform(0, 6))
    return ring(radius)


def circle(radius: float, tolerance: float) -> Points:
    """Flattened as coarsely as the tolerance allows."""
    return ring(np.full(int(np.ceil(np.pi / np.arccos(1 - tolerance / radius))), radius))


def apart(stroke: Stroke, line: Points) -> float:
    """The greatest distance from either one to the other, by dense points."""
    drawn = stroke.flattened(5e-4)
    one, other = LineString(line), LineString(drawn)
    shapely.prepare([one, other])
    there = shapely.distance(shapely.points(drawn), one).max()
    dense = shapely.get_coordinates(shapely.segmentize(LineString(line), 0.25))
    back = shapely.distance(shapely.points(dense), other).max()
    return float(max(there, back))


@pytest.mark.parametrize("points", [500, 2000])
def test_a_smooth_ring_takes_a_tenth_of_its_points(points: int) -> None:
    line = wavy(points)
    (stroke,) = trace([line], TOLERANCE)
    assert stroke.closed
    assert len(stroke.curves) <= min(points // 10, 60)
    assert apart(stroke, line) <= TOLERANCE + 0.005


@pytest.fixture(scope="module")
def real_rings() -> Rings:
    """The outlines of the starter patterns, as drawn at about 60 mm."""
    return {
        pattern.name: [
            shapely.get_coordinates(ring)
            for ring in shapely.get_rings(prepared(pattern).windows.geoms)
        ]
        for pattern in patterns()
    }


def test_curves_of_real_drawings_stay_near_at_half_their_size(real_rings: Rings) -> None:
    """Tight bends beside long chords, used at 28 mm."""
    for name, drawn in real_rings.items():
        rings = [0.47 * ring for ring in drawn]
        for stroke, ring in zip(trace(rings, TOLERANCE), rings, strict=True):
            assert apart(stroke, ring) <= TOLERANCE + 0.004, name


def corners(ring: np.ndarray) -> int:  # type: ignore[type-arg]
    """Vertices of a closed ring at which it turns by more than 30 degrees."""
    steps = np.diff(ring, axis=0)
    turns = np.diff(np.unwrap(np.arctan2(*steps.T[::-1])), append=[0.0])[:-1]
    return int((np.abs(turns) > np.radians(30)).sum())


def test_starter_patterns_take_a_tenth_of_their_points_and_stay_near(real_rings: Rings) -> None:
    """Flattened within 0.02 mm; corners take one node each, and any ring may have eight."""
    nodes = points = 0
    for name, rings in real_rings.items():
        strokes = trace(rings, TOLERANCE)
        for stroke, ring in zip(strokes, rings, strict=True):
            assert apart(stroke, ring) <= TOLERANCE + 0.004, name
        own = sum(len(stroke.curves) for stroke in strokes)
        most = sum(max(8.0, 0.1 * (len(ring) - 1)) + corners(ring) for ring in rings)
        assert own <= most, name
        nodes, points = nodes + own, points + sum(len(ring) - 1 for ring in rings)
    assert nodes < 0.08 * points


@pytest.mark.parametrize("radius", [5.0, 20.0, 60.0])
@pytest.mark.parametrize("flattening", [0.02, 0.005])
def test_circles_come_back_as_a_few_arcs(radius: float, flattening: float) -> None:
    line = circle(radius, flattening)
    (stroke,) = trace([line], TOLERANCE)
    assert len(stroke.curves) <= max(8, len(line) // 10)
    assert apart(stroke, line) <= TOLERANCE + 0.005


@settings(max_examples=15)
@given(
    seed=st.integers(0, 10_000),
    points=st.integers(8, 600),
    size=st.floats(0.5, 150),
    tolerance=st.sampled_from([0.005, 0.02, 0.1]),
)
def test_any_ring_stays_near_and_simple(
    seed: int, points: int, size: float, tolerance: float
) -> None:
    line = wavy(points, seed, size)
    (stroke,) = trace([line], tolerance)
    assert apart(stroke, line) <= tolerance + 0.005
    if Polygon(line).is_valid:
        assert Polygon(stroke.flattened(1e-3)).is_valid
    assert len(stroke.curves) <= points


def test_straight_edges_stay_straight_and_corners_sharp() -> None:
    square = np.array([[0, 0], [30, 0], [30, 30], [0, 30], [0, 0]], dtype=float)
    (stroke,) = trace([square], TOLERANCE)
    assert stroke.straight.all() and len(stroke.curves) == 4
    assert {tuple(point) for point in stroke.points.tolist()} == {
        (0, 0),
        (30, 0),
        (30, 30),
        (0, 30),
    }


def test_a_rounded_rectangle_is_four_lines_and_four_curves() -> None:
    line = shapely.get_coordinates(shapely.box(0, 0, 40, 30).buffer(3, quad_segs=8).exterior)
    (stroke,) = trace([line], TOLERANCE)
    assert sorted(len(segment) for segment in stroke.segments) == [1] * 4 + [3] * 4


def test_corners_between_curves_stay_where_they_are() -> None:
    """A leaf: two arcs that meet at a sharp tip on either end."""
    lens = Point(0, 0).buffer(30, quad_segs=100) & Point(30, 0).buffer(30, quad_segs=100)
    line = shapely.get_coordinates(lens.exterior)
    tips = line[np.abs(np.abs(line[:, 1]) - np.abs(line[:, 1]).max()) < 1e-9]
    (stroke,) = trace([line], TOLERANCE)
    nodes = np.vstack([stroke.start, *(segment[-1] for segment in stroke.segments)])
    for tip in tips:
        assert np.hypot(*(nodes - tip).T).min() < 1e-9
    assert len(stroke.curves) <= 8


def test_an_open_line_keeps_its_ends() -> None:
    t = np.linspace(0, 3, 200)
    line = np.column_stack([20 * t, 8 * np.sin(2 * t)])
    (stroke,) = trace([line], TOLERANCE)
    assert not stroke.closed and len(stroke.curves) <= 12
    np.testing.assert_allclose([stroke.start, stroke.end], line[[0, -1]])


def test_curves_join_smoothly_where_the_line_is_smooth() -> None:
    (stroke,) = trace([wavy(2000)], TOLERANCE)
    curves = stroke.curves
    out = curves[:, 1] - curves[:, 0]
    into = np.roll(curves[:, 3] - curves[:, 2], 1, axis=0)
    cross = into[:, 0] * out[:, 1] - into[:, 1] * out[:, 0]
    turn = np.abs(np.arctan2(cross, (into * out).sum(axis=1)))
    assert np.degrees(turn).max() < 1.0


def test_lines_nearer_than_the_tolerance_do_not_come_to_cross() -> None:
    """Two rings 0.015 mm apart all the way round."""
    inner, outer = wavy(400), wavy(400)
    outer = outer * (1 + 0.015 / np.hypot(*outer.T)[:, None])
    first, second = flatten(trace([inner, outer], TOLERANCE), 1e-4)
    assert Polygon(second).contains(Polygon(first))


def test_a_slit_that_ends_on_a_window_still_ends_on_it() -> None:
    window = wavy(300)
    end = window[37] * 0.5 + window[38] * 0.5
    slit = np.vstack([end * 1.8, end])
    first, second = trace([window, slit], TOLERANCE)
    nodes = np.vstack([segment[-1] for segment in first.segments])
    assert np.hypot(*(nodes - end).T).min() < 1e-6
    np.testing.assert_allclose(second.end, end, atol=1e-9)


def test_rings_that_touch_at_a_point_still_touch_there() -> None:
    left, right = circle(10, 0.005), circle(10, 0.005) + np.array([20, 0])
    first, second = flatten(trace([left, right], TOLERANCE), 1e-3)
    shared = Polygon(first).intersection(Polygon(second))
    assert LineString(first).distance(Point(10, 0)) < 1e-6
    assert shared.area < 0.02


def test_a_tolerance_of_zero_keeps_every_point() -> None:
    line = wavy(100)
    (stroke,) = trace([line], 0.0)
    np.testing.assert_array_equal(stroke.points, line)


def test_reversing_and_turning_a_stroke_keeps_its_path() -> None:
    (stroke,) = trace([wavy(300)], TOLERANCE)
    path = Polygon(stroke.flattened(1e-3))
    for same in (stroke.reversed(), stroke.starting_at(4), stroke.reversed().starting_at(2)):
        assert Polygon(same.flattened(1e-3)).symmetric_difference(path).area < 0.05
        assert len(same.curves) == len(stroke.curves)


def test_flattening_is_within_what_was_asked() -> None:
    (stroke,) = trace([circle(50, 0.001)], 0.001)
    for tolerance in (0.5, 0.05, 0.005):
        rough = LineString(stroke.flattened(tolerance))
        fine = shapely.points(stroke.flattened(1e-5))
        assert shapely.distance(fine, rough).max() <= tolerance


def test_exact_strokes_are_the_line() -> None:
    line = np.array([[0, 0], [5, 1], [9, 4]], dtype=float)
    stroke = Stroke.through(line)
    assert stroke.straight.all() and not stroke.closed and len(stroke.curves) == 2


def test_a_curve_that_runs_ahead_of_its_points_or_behind_does_not_stray_from_them() -> None:
    """On a straight run the curve is up to 0.8 chords ahead in one half, behind in the other."""
    run = Runs(*(np.array([value]) for value in (0, 8, 1 + 0j, -1 + 0j, False, False)))
    points = np.arange(9) + 0j
    controls = np.array([[0, 8 / 3 + 2.7, 16 / 3 - 2.7, 8]], dtype=complex)
    assert _bulge(points, controls, _sampled(points, run)) == pytest.approx(0, abs=1e-9)


def test_a_line_gets_a_point_where_it_meets_another_unless_one_is_there() -> None:
    line = np.array([[0.0, 0], [10, 0]])
    points, pinned = _with_points(line, LineString(line), np.array([[5e-5, 0], [4, 0]]))
    assert points.tolist() == [[0, 0], [4, 0], [10, 0]]
    assert pinned.tolist() == [True, True, False]


def test_equal_lines_give_equal_strokes() -> None:
    one, other = trace([wavy(500)], TOLERANCE), trace([wavy(500)], TOLERANCE)
    np.testing.assert_array_equal(one[0].points, other[0].points)


def test_rings_lose_redundant_points_and_keep_those_that_would_collapse() -> None:
    square = LineString(shapely.segmentize(shapely.box(0, 0, 10, 10).exterior, 1.0))
    sliver = LineString([(0, 0), (10, 0.001), (10, 0.002), (0, 0)])
    thin, simple = _thinned(np.array([square, sliver]), 0.01)
    assert shapely.get_num_coordinates(thin).tolist() == [5, 4] and simple.all()
