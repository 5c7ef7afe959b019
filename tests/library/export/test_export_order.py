"""Cutting order: inside before outside, begun clear of bridges, short ways between."""

from __future__ import annotations

from itertools import permutations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings, strategies as st
from shapely import Point, Polygon

from hingeleaf.export.cut_order import choose_starts, enclosed, in_order, route, travel
from hingeleaf.export.drawing import LineKind, Shape, Stroke
from hingeleaf.export.panel_drawing import START_DISTANCE, draw_panel
from support.panel_samples import grid_panel, one_panel, ring_motif


def square(x: float, y: float, side: float) -> Shape:
    half = side / 2
    box = shapely.box(x - half, y - half, x + half, y + half)
    return (Stroke.through(shapely.get_coordinates(box.exterior)),)


def centre(shape: Shape) -> tuple[float, float]:
    middle = Polygon(shape[0].points).centroid
    return round(middle.x, 6), round(middle.y, 6)


def length(places: np.ndarray, order: list[int]) -> float:
    return float(np.abs(np.diff(np.concatenate([[0], places[order]]))).sum())


def test_inside_cuts_come_before_the_cut_around_them() -> None:
    outer, middle, inner = square(50, 50, 60), square(50, 50, 30), square(50, 50, 10)
    beside = square(150, 50, 20)
    ordered = in_order([outer, beside, middle, inner])
    place = {id(shape): index for index, shape in enumerate(ordered)}
    assert place[id(inner)] < place[id(middle)] < place[id(outer)]


def test_what_lies_in_the_bay_of_a_cut_comes_before_it() -> None:
    """A C-shaped window loosens what it reaches around, although it does not enclose it."""
    ring = Point(0, 0).buffer(30).difference(Point(0, 0).buffer(20))
    c_shape = ring.difference(shapely.box(0, -8, 40, 8))
    outline = (Stroke.through(shapely.get_coordinates(c_shape.exterior)),)
    inner = square(0, 0, 6)
    assert in_order([outline, inner]) == [inner, outline]
    assert enclosed([inner], [outline]) == 1 and enclosed([outline], [inner]) == 0


def test_the_tour_goes_along_a_row_of_places() -> None:
    places = np.array([30, 10, 50, 20, 40]) + 0j
    assert route(places) == [1, 3, 0, 4, 2]


@settings(max_examples=25)
@given(seed=st.integers(0, 10_000), count=st.integers(1, 120))
def test_a_tour_visits_every_place_once(seed: int, count: int) -> None:
    chance = np.random.default_rng(seed)
    places = chance.uniform(0, 200, count) + 1j * chance.uniform(0, 200, count)
    assert sorted(route(places)) == list(range(count))


def test_places_on_top_of_each_other_are_visited_too() -> None:
    assert sorted(route(np.zeros(30, complex))) == list(range(30))


def test_strokes_begin_where_the_way_is_shortest() -> None:
    """Along a row of squares the tool enters each at the corner that shortens the whole."""
    strokes = [square(x, 10, 10)[0] for x in (20, 40, 60)]
    starts = [np.arange(4)] * 3
    chosen = choose_starts(strokes, starts, 0j)
    assert all(len(stroke.curves) == 4 for stroke in chosen)
    assert travel(chosen) <= travel(strokes)
    # From (0, 0) to the far corner (25, 5) of the first, to (35, 5), to (55, 5).
    assert travel(chosen) == pytest.approx(np.hypot(25, 5) + 10 + 20)


def test_open_strokes_may_be_run_backwards() -> None:
    there = Stroke.through(np.array([[0, 0], [50, 0]], float))
    back = Stroke.through(np.array([[0, 5], [50, 5]], float))
    chosen = choose_starts([there, back], [np.arange(1)] * 2, 0j)
    assert travel(chosen) == pytest.approx(5)


def test_only_allowed_nodes_are_starts() -> None:
    stroke = square(20, 20, 10)[0]
    for node in range(4):
        (chosen,) = choose_starts([stroke], [np.array([node])], 0j)
        np.testing.assert_array_equal(chosen.start, stroke.points[node])


def test_cuts_begin_clear_of_bridges() -> None:
    panel = grid_panel(4, 4)
    drawing = draw_panel(panel)
    ties = shapely.union_all([piece.ties for piece in panel.pieces])
    ties = shapely.affinity.translate(ties, *(-side for side in panel.origin))
    windows = drawing.strokes(LineKind.WINDOWS)
    for stroke in windows:
        nodes = shapely.points(np.vstack([segment[-1] for segment in stroke.segments]))
        distance = shapely.distance(nodes, ties)
        begins = Point(stroke.start).distance(ties)
        assert begins >= START_DISTANCE or begins == pytest.approx(distance.max())


def test_the_edge_is_cut_last() -> None:
    assert [*draw_panel(one_panel(ring_motif(0))).layers][-1] is LineKind.EDGE


def test_travel_of_nothing_is_nothing() -> None:
    assert travel([]) == 0.0
    assert travel([square(30, 40, 0.1)[0]]) == pytest.approx(50, abs=0.1)
    assert in_order([]) == [] and choose_starts([], []) == []


def test_the_order_takes_little_longer_than_the_tour_alone() -> None:
    """What nesting and starts away from bridges cost, on forty-eight rings."""
    drawing = draw_panel(grid_panel(8, 6))
    windows = drawing.strokes(LineKind.WINDOWS)
    places = np.array([stroke.start for stroke in windows]) @ [1, 1j]
    assert travel(windows) <= 1.25 * length(places, route(places))


def test_ways_round_seven_places_are_nearly_the_shortest() -> None:
    """On average within half a percent of the best of all 5,040 orders."""
    orders, excess = np.array(list(permutations(range(7)))), []
    for seed in range(40):
        chance = np.random.default_rng(seed)
        places = chance.random(7) + 1j * chance.random(7)
        ways = np.abs(places[orders[:, 0]]) + np.abs(np.diff(places[orders], axis=1)).sum(axis=1)
        excess.append(length(places, route(places)) / ways.min() - 1)
    assert min(excess) > -1e-9 and np.mean(excess) < 0.005
