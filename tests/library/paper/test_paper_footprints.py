import math

import numpy as np
import pytest
import shapely
from hypothesis import given, settings, strategies as st
from shapely import MultiLineString, MultiPolygon, Polygon

from hingeleaf.paper.footprints import find_footprint
from support.paper_shapes import disc, ring, star, windows

NO_SLITS = MultiLineString()
NO_WINDOWS = MultiPolygon()


def is_footprint(shape, cut_windows, slits=NO_SLITS):
    cut = shapely.geometrycollections([cut_windows, slits])
    assert isinstance(shape, Polygon)
    assert shape.is_valid
    assert not shape.interiors
    assert shapely.difference(cut, shape.buffer(2e-6)).area < 1e-9
    assert shape.bounds == pytest.approx(cut.bounds, abs=2e-6)
    return True


def test_a_single_window_is_its_own_footprint_without_its_hole():
    shape = find_footprint(windows(ring(30, 40)), NO_SLITS)
    assert is_footprint(shape, windows(ring(30, 40)))
    assert disc(0, 0, 40).buffer(80 / 600 + 1e-6).covers(shape)


def test_it_needs_few_vertices_and_leaves_plain_outlines_alone():
    waves = shapely.get_coordinates(shapely.Point(0, 0).buffer(40, 300))
    turns = np.arctan2(waves[:, 1], waves[:, 0])
    smooth = Polygon(waves * (1 + 0.1 * np.sin(7 * turns))[:, None])
    shape = find_footprint(windows(smooth), NO_SLITS)
    assert is_footprint(shape, windows(smooth))
    assert len(shape.exterior.coords) < len(smooth.exterior.coords) / 8
    assert shape.hausdorff_distance(smooth) < 88 / 600
    plain = shapely.box(0, 0, 30, 20)
    assert find_footprint(windows(plain), NO_SLITS).equals(plain)


def test_it_hugs_the_outline_where_the_hull_would_not():
    figure = star(5, 40, 15)
    shape = find_footprint(windows(figure), NO_SLITS)
    assert is_footprint(shape, windows(figure))
    assert shape.area < 1.05 * figure.area < figure.convex_hull.area


def test_small_gaps_are_closed():
    leaves = windows(shapely.box(0, 0, 20, 40), shapely.box(21, 0, 41, 40))
    shape = find_footprint(leaves, NO_SLITS)
    assert is_footprint(shape, leaves)
    assert shape.area == pytest.approx(41 * 40, rel=0.01)


def test_pieces_far_apart_are_joined_to_their_neighbours():
    dots = windows(*(disc(x, y, 4) for x, y in ((0, 0), (40, 0), (40, 40))))
    shape = find_footprint(dots, NO_SLITS)
    assert is_footprint(shape, dots)
    assert shape.area < 0.8 * dots.convex_hull.area


def test_a_tongue_slit_takes_up_what_it_lets_lift():
    tongue = MultiLineString([[(-5, 20), (-15, 20), (-15, -20), (15, -20), (15, 20), (5, 20)]])
    shape = find_footprint(NO_WINDOWS, tongue)
    assert is_footprint(shape, NO_WINDOWS, tongue)
    assert shape.area == pytest.approx(30 * 40, rel=0.01)


@pytest.mark.parametrize("end", [(30, 0), (0, 30), (20, 10)])
def test_one_straight_slit_gets_a_hair_of_width(end):
    slit = MultiLineString([[(0, 0), end]])
    shape = find_footprint(NO_WINDOWS, slit)
    assert shape.is_valid
    assert shape.buffer(1e-6).covers(slit)
    assert shape.area < 5


def test_nothing_has_no_footprint():
    assert find_footprint(NO_WINDOWS, NO_SLITS).is_empty


@settings(max_examples=40)
@given(
    st.lists(
        st.tuples(st.floats(-40, 40), st.floats(-40, 40), st.floats(0.5, 15), st.integers(3, 9)),
        min_size=1,
        max_size=6,
    )
)
def test_any_handful_of_shapes_has_one(pieces):
    polygons = []
    for x, y, radius, corners in pieces:
        turns = np.arange(corners) * 2 * math.pi / corners
        polygons.append(Polygon(np.c_[np.cos(turns), np.sin(turns)] * radius + (x, y)))
    cut = windows(*polygons)
    assert is_footprint(find_footprint(cut, NO_SLITS), cut)
