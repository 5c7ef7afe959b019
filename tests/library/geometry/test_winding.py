"""What closed lines paint, by both fill rules (SVG 2, section 13.3.2)."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings, strategies as st

from hingeleaf.geometry.winding import painted_area, winding_numbers


def ring(*corners: tuple[float, float]) -> np.ndarray:
    return np.array([*corners, corners[0]], dtype=float)


def square(left: float, top: float, side: float, clockwise: bool = True) -> np.ndarray:
    corners = [(left, top), (left + side, top), (left + side, top + side), (left, top + side)]
    return ring(*(corners if clockwise else corners[::-1]))


STAR = ring((50, 10), (73, 82), (12, 38), (88, 38), (27, 82))
"""A five-pointed star in one line, as in the specification's picture of the two rules."""


def test_a_star_in_one_line_has_a_hole_only_by_the_rule_evenodd() -> None:
    whole, holed = painted_area([STAR]), painted_area([STAR], even_odd=True)
    assert len(whole.geoms) == 1
    assert len(holed.geoms) == 5
    inner = shapely.difference(whole, holed)
    assert inner.area == pytest.approx(whole.area - holed.area)
    assert inner.area > 500


@pytest.mark.parametrize(("clockwise", "area"), [(True, 900.0), (False, 800.0)])
def test_a_ring_within_a_ring_is_a_hole_if_it_runs_the_other_way(
    clockwise: bool, area: float
) -> None:
    rings = [square(0, 0, 30), square(10, 10, 10, clockwise)]
    assert painted_area(rings).area == pytest.approx(area)
    assert painted_area(rings, even_odd=True).area == pytest.approx(800)


def test_rings_that_cross_are_joined_or_cancel() -> None:
    rings = [square(0, 0, 20), square(10, 0, 20)]
    assert painted_area(rings).area == pytest.approx(600)
    assert painted_area(rings, even_odd=True).area == pytest.approx(400)


def test_too_short_rings_paint_nothing() -> None:
    assert painted_area([np.zeros((2, 2))]).is_empty
    assert painted_area([]).is_empty


def test_a_very_long_ring_that_runs_over_itself_again() -> None:
    again = np.tile(square(0, 0, 10)[:-1], (8000, 1))
    assert painted_area([np.vstack([again, again[:1]])]).area == pytest.approx(100)


@pytest.mark.parametrize("turned", [False, True])
def test_winding_counts_turns_with_their_sense(turned: bool) -> None:
    turns = np.linspace(0, 6 * np.pi, 300)
    spiral = np.column_stack([np.cos(turns), np.sin(turns)])
    points = np.array([[0.0, 0.1], [3.0, 0.0]])
    stretch = np.array([[1.0, 50.0]]) if turned else np.array([[50.0, 1.0]])
    assert [*winding_numbers(points * stretch, [spiral * stretch])] == [3, 0]
    assert [*winding_numbers(points * stretch, [spiral[::-1] * stretch])] == [-3, 0]


corners = st.lists(st.tuples(st.integers(0, 12), st.integers(0, 12)), min_size=3, max_size=9)


@settings(max_examples=60)
@given(st.lists(corners, min_size=1, max_size=3))
def test_filling_agrees_with_the_rules_at_random_points(outlines: list) -> None:
    rings = [ring(*outline) for outline in outlines]
    points = np.random.default_rng(5).random((200, 2)) * 12
    edges = shapely.linestrings(np.concatenate([np.stack([r[:-1], r[1:]], 1) for r in rings]))
    points = points[shapely.distance(shapely.points(points), shapely.union_all(edges)) > 1e-6]
    winding = winding_numbers(points, rings)
    inside = shapely.contains_xy(painted_area(rings), *points.T)
    odd = shapely.contains_xy(painted_area(rings, even_odd=True), *points.T)
    assert (inside == (winding != 0)).all()
    assert (odd == (winding % 2 == 1)).all()
