"""Joining, smoothing and the removal of what no blade can cut."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import given, settings, strategies as st
from shapely import MultiPolygon, Point, Polygon, box

from hingeleaf.artwork.cleaning import is_wider, joined, smoothed, without_specks
from hingeleaf.artwork.diagnostics import Diagnostics


def outline(radii: np.ndarray) -> MultiPolygon:
    """A ring of points about the origin at these distances, evenly turned."""
    turn = np.linspace(0, 2 * np.pi, len(radii), endpoint=False)
    return MultiPolygon([Polygon(np.column_stack([np.cos(turn), np.sin(turn)]) * radii[:, None])])


def apart(first: MultiPolygon, second: MultiPolygon) -> float:
    """The farthest that either outline lies from the other, looked at every 0.1 mm."""
    one, other = shapely.boundary(first), shapely.boundary(second)
    return max(_farthest(one, other), _farthest(other, one))


def _farthest(line: shapely.Geometry, from_line: shapely.Geometry) -> float:
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(line, 0.1)))
    return float(shapely.distance(points, from_line).max())


@settings(max_examples=30)
@given(st.integers(3, 40), st.floats(0.1, 1.0), st.integers(0, 1000))
def test_smoothing_stays_within_its_tolerance(corners: int, tolerance: float, seed: int) -> None:
    radii = np.random.default_rng(seed).uniform(10, 30, corners)
    rough = outline(radii)
    assert apart(rough, smoothed(rough, tolerance)) <= tolerance


@pytest.mark.parametrize("tip", [0.6, 2.0, 20.0])
def test_sharp_corners_keep_their_place(tip: float) -> None:
    spike = MultiPolygon([Polygon([(0, 0), (40, -tip), (40, tip)])])
    assert apart(spike, smoothed(spike, 0.3)) <= 0.3


def test_smoothing_takes_ripples_away_and_most_points() -> None:
    turn = np.linspace(0, 2 * np.pi, 4000, endpoint=False)
    ragged = outline(25 + 0.15 * np.sin(150 * turn))
    even = smoothed(ragged, 0.5)
    distances = np.hypot(*shapely.get_coordinates(even).T)
    assert np.ptp(distances) < 0.1
    assert shapely.get_num_coordinates(even) < 200


def test_what_is_smaller_than_the_tolerance_stays() -> None:
    small = MultiPolygon([box(0, 0, 1, 1)])
    assert smoothed(small, 0.5).equals(small)


def test_parts_are_joined_across_narrow_gaps_only() -> None:
    near = MultiPolygon([box(0, 0, 10, 10), box(10.4, 0, 20, 10), box(22, 0, 30, 10)])
    together = joined(near, 0.5)
    assert len(together.geoms) == 2
    assert together.area == pytest.approx(near.area + 4, abs=0.1)


def test_specks_and_slivers_go_with_a_count() -> None:
    sheet = box(0, 0, 40, 40) - box(5, 5, 5.1, 30) - box(20, 20, 30, 30)
    area = MultiPolygon([sheet, box(50, 0, 50.1, 40), box(60, 0, 60.1, 0.1)])
    notes = Diagnostics()
    kept = without_specks(area, 0.2, notes)
    assert kept.area == pytest.approx(1600 - 100)
    said = [finding.message for finding in notes.findings()]
    assert said == [
        "2 windows narrower than 0.2 mm removed.",
        "1 speck of paper narrower than 0.2 mm removed.",
    ]


def test_width_is_that_of_the_largest_circle() -> None:
    assert is_wider(box(0, 0, 50, 1.02), 1.0)
    assert not is_wider(box(0, 0, 50, 0.98), 1.0)
    assert not is_wider(Polygon([(0, 0), (50, 0), (50, 0.9)]), 1.0)
    assert is_wider(Polygon(Point(0, 0).buffer(0.6).exterior), 1.0)
