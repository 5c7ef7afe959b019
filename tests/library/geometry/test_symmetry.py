"""Mirror axes found: known shapes at any turn, and nothing where there is none."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from hypothesis import example, given, settings, strategies as st
from shapely import Polygon, affinity, box

from hingeleaf.geometry.symmetry import MirrorAxis, find_axis, find_rotation, overlap
from support.plan_measures import heart, star

LOPSIDED = Polygon([(0, 0), (40, 0), (40, 10), (12, 14), (10, 30), (0, 25)])


def apart(one: float, two: float) -> float:
    """Degrees between two undirected lines."""
    return abs((one - two + 90) % 180 - 90)


@pytest.mark.parametrize("turn", [0.0, 7.3, 41.0, 90.0, 133.7])
def test_a_heart_has_the_axis_it_was_turned_to(turn: float) -> None:
    axis = find_axis(affinity.rotate(heart(), turn, origin=(3, 5)))
    assert axis is not None
    assert apart(axis.direction, 90 + turn) < 0.01
    assert axis.overlap > 0.999


def test_of_many_axes_the_upright_one_is_taken() -> None:
    for shape in (box(-10, -10, 10, 10), Polygon(star(6)), shapely.Point(0, 0).buffer(20, 64)):
        axis = find_axis(shape)
        assert axis is not None and apart(axis.direction, 90) < 0.01


@pytest.mark.parametrize("points", [3, 4, 5, 7, 8, 12])
def test_an_axis_of_a_star_runs_through_a_point_or_a_notch(points: int) -> None:
    axis = find_axis(affinity.rotate(Polygon(star(points)), 12.0, origin=(0, 0)))
    assert axis is not None
    steps = (axis.direction - 90 - 12) / (180 / points)
    assert abs(steps - round(steps)) < 1e-3


def test_what_is_lopsided_has_no_axis() -> None:
    assert find_axis(LOPSIDED) is None
    assert find_axis(affinity.skew(box(0, 0, 40, 20), 25)) is None


def test_nothing_has_no_axis() -> None:
    assert find_axis(Polygon()) is None
    assert find_axis(shapely.MultiPolygon()) is None


def test_a_shape_that_is_nearly_mirrored_counts_as_mirrored() -> None:
    dented = heart().difference(box(20, -5, 24, -2))
    axis = find_axis(dented)
    assert axis is not None and apart(axis.direction, 90) < 1.0
    assert 0.97 < axis.overlap < 1.0
    assert find_axis(dented, least_overlap=0.9999) is None


@settings(max_examples=60)
@given(
    st.lists(st.tuples(st.floats(2, 30), st.floats(0.1, 1)), min_size=3, max_size=7),
    st.floats(0, 180),
    st.floats(-50, 50),
)
@example(half=[(16, 1), (17, 1), (16, 0.5)], turn=46, shift=0)  # nearly a square
def test_any_half_with_its_image_has_its_axis(
    half: list[tuple[float, float]], turn: float, shift: float
) -> None:
    """Random one-sided outlines joined to their images: own construction."""
    heights = np.cumsum([step for _, step in half]) * 20
    right = [(reach, height) for (reach, _), height in zip(half, heights, strict=True)]
    corners = [(0, heights[0] - 2), *right, (0, heights[-1] + 2)]
    shape = Polygon([*corners, *((-x, y) for x, y in corners[-2:0:-1])])
    shape = affinity.translate(affinity.rotate(shape, turn, origin=(0, 0)), shift, -shift)
    axis = find_axis(shape)
    assert axis is not None
    truth = MirrorAxis((axis.point[0], axis.point[1]), 90 + turn)
    assert axis.overlap >= overlap(shape, truth) - 0.006


def test_mirroring_twice_changes_nothing() -> None:
    axis = MirrorAxis((3.0, -2.0), 37.0)
    points = np.random.default_rng(3).uniform(-20, 20, (40, 2))
    assert np.allclose(axis.mirror(axis.mirror(points)), points)
    assert np.allclose(axis.side(axis.mirror(points)), -axis.side(points))


@pytest.mark.parametrize(("corners", "turns"), [(4, 4), (5, 5), (12, 12), (48, 1), (128, 1)])
def test_what_is_round_has_no_turns(corners: int, turns: int) -> None:
    turn = 2 * np.pi * np.arange(corners) / corners
    outline = Polygon(20 * np.stack([np.cos(turn), np.sin(turn)], axis=1))
    assert find_rotation(outline) == find_rotation(outline.boundary.buffer(2)) == turns
