"""The nonzero rule on rings with known answers."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, strategies as st
from shapely import MultiPolygon, Point

from hingeleaf.geometry.winding import painted_area
from hingeleaf.model import Points


def nonzero(rings: list[Points]) -> MultiPolygon:
    """Rings whose last point is not told again."""
    return painted_area([np.vstack([ring, ring[:1]]) for ring in rings])


def box(left: float, top: float, right: float, bottom: float, *, back: bool = False) -> Points:
    points = np.array([(left, top), (right, top), (right, bottom), (left, bottom)], dtype=float)
    return points[::-1] if back else points


def test_overlapping_rings_unite() -> None:
    assert nonzero([box(0, 0, 10, 10), box(5, 5, 15, 15)]).area == pytest.approx(175)


def test_a_ring_the_other_way_round_is_a_hole() -> None:
    area = nonzero([box(0, 0, 10, 10), box(2, 2, 8, 8, back=True)])
    assert area.area == pytest.approx(64)
    assert len(area.geoms[0].interiors) == 1


def test_a_ring_the_same_way_round_is_none() -> None:
    area = nonzero([box(0, 0, 10, 10), box(2, 2, 8, 8)])
    assert area.area == pytest.approx(100)
    assert not area.geoms[0].interiors


def test_a_hole_under_another_stroke_is_filled() -> None:
    """As where the strokes of a variable font cross over a counter."""
    ring = [box(0, 0, 10, 10), box(2, 2, 8, 8, back=True)]
    assert nonzero([*ring, box(-5, 4, 15, 6)]).area == pytest.approx(64 + 2 * 6 + 2 * 5 * 2)


def test_a_ring_that_crosses_itself() -> None:
    eight = np.array([(0, 0), (10, 10), (10, 0), (0, 10)], dtype=float)
    assert nonzero([eight]).area == pytest.approx(50)
    pentagram = np.array([(np.sin(4 * np.pi * k / 5), np.cos(4 * np.pi * k / 5)) for k in range(5)])
    area = nonzero([pentagram])
    # Its middle is wound around twice, so it counts. Area of a star with R = 1:
    # n·R·r·sin(π/n), r = R·cos(2π/5) / cos(π/5).
    inner = np.cos(2 * np.pi / 5) / np.cos(np.pi / 5)
    assert area.area == pytest.approx(5 * inner * np.sin(np.pi / 5))
    assert area.contains(Point(0, 0))


def test_islands_and_nothing() -> None:
    area = nonzero(
        [box(0, 0, 10, 10), box(1, 1, 9, 9, back=True), box(3, 3, 5, 5), box(20, 0, 21, 1)]
    )
    assert sorted(part.area for part in area.geoms) == pytest.approx([1, 4, 36])
    assert nonzero([]).is_empty
    assert nonzero([np.zeros((1, 2)), np.zeros((5, 2))]).is_empty


coordinates = st.integers(0, 12)


@given(
    st.lists(
        st.lists(st.tuples(coordinates, coordinates), min_size=3, max_size=7),
        min_size=1,
        max_size=4,
    )
)
def test_points_are_in_as_their_winding_number_says(
    rings: list[list[tuple[int, int]]],
) -> None:
    """Against the angle that each ring turns about a point: a sum, not a count of crossings."""
    area = nonzero([np.array(points, dtype=float) for points in rings])
    assert area.is_valid
    for x in np.arange(2**0.5 / 3, 12, 2.9):
        for y in np.arange(3**0.5 / 4, 12, 3.1):
            point = np.array([x, y])
            turn = 0.0
            for points in rings:
                away = np.array([*points, points[0]], dtype=float) - point
                angles = np.arctan2(away[:, 1], away[:, 0])
                turn += np.unwrap(angles)[-1] - angles[0]
            assert area.contains(Point(x, y)) == (abs(round(turn / (2 * np.pi))) > 0)
