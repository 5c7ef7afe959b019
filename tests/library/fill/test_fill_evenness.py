"""Evenness figures beside closed forms."""

from __future__ import annotations

import math

import numpy as np
import pytest
from shapely import MultiPolygon, Point, box

from hingeleaf.fill.evenness import distance_map, evenness, spherical_contact

SIDE = 60.0
SQUARE = MultiPolygon([box(0, 0, SIDE, SIDE)])
DISC = Point(0, 0).buffer(30, quad_segs=256)
CORE = Point(0, 0).buffer(10, quad_segs=256)


def test_distances_in_an_empty_square_follow_its_shrunken_squares() -> None:
    """Farther than t from the edge lies a square of side L - 2t; the mean is a pyramid's height."""
    figures = evenness(SQUARE, [], gap=4.0)
    assert figures is not None
    assert figures.mean == pytest.approx(SIDE / 6, rel=0.01)
    assert figures.share_within_half_gap == pytest.approx(1 - (1 - 2 * 2 / SIDE) ** 2)
    assert figures.p95 == pytest.approx(SIDE / 2 * (1 - math.sqrt(0.05)), rel=0.01)


def test_distances_in_a_ring_are_to_the_nearer_of_its_circles() -> None:
    """A share within t of two circles of radius 10 and 30: two rings of width t."""
    figures = evenness(DISC, [CORE], gap=6.0)
    assert figures is not None
    ring = 30**2 - 10**2
    near = (13**2 - 10**2) + (30**2 - 27**2)
    assert figures.share_within_half_gap == pytest.approx(near / ring, abs=1e-3)
    distances = distance_map(DISC, [CORE]).distances
    assert np.nanmax(distances) == pytest.approx(10, abs=0.05)
    assert np.isnan(distances).mean() == pytest.approx(1 - math.pi * ring / 60**2, abs=0.01)


def test_a_field_that_is_wholly_covered_has_no_evenness() -> None:
    assert evenness(SQUARE, [box(-1, -1, 61, 61)], gap=2.0) is None


@pytest.mark.parametrize("radius", [0.0, 2.0, 7.0, 12.0])
def test_spherical_contact_of_a_square_and_of_a_ring(radius: float) -> None:
    square = max(0.0, 1 - 2 * radius / SIDE) ** 2
    assert spherical_contact(SQUARE, [], radius) == pytest.approx(square)
    ring = max(0.0, (30 - radius) ** 2 - (10 + radius) ** 2) / 30**2
    assert spherical_contact(DISC, [CORE], radius) == pytest.approx(ring, abs=1e-3)
