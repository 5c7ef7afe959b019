"""Lines cast through cuts meet what shapely says they meet."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely import LineString

from hingeleaf.geometry.ray_casting import MAX_PAIRS, CutEdges


def waves(points: int) -> list[LineString]:
    """Three closed wavy outlines with so many points together."""
    turns = np.linspace(0, 2 * np.pi, points // 3)
    radii = [scale * (1 + 0.2 * np.sin(7 * turns)) for scale in (10.0, 20.0, 30.0)]
    return [LineString(np.c_[r * np.cos(turns), r * np.sin(turns)]) for r in radii]


@pytest.mark.parametrize("points", [90, MAX_PAIRS // 40])
def test_hits_are_the_crossings_in_order(points: int) -> None:
    lines = waves(points)
    edges = CutEdges(np.array(lines, dtype=object))
    rng = np.random.default_rng(7)
    origins = rng.uniform(-30, 30, (150, 2))
    turns = rng.uniform(0, 2 * np.pi, 150)
    along = np.c_[np.cos(turns), np.sin(turns)]
    hits = edges.cast(origins, along)
    every = shapely.union_all(lines)
    for line in range(len(origins)):
        far = LineString([origins[line] - 1000 * along[line], origins[line] + 1000 * along[line]])
        met = shapely.get_coordinates(far.intersection(every))
        expected = np.sort((met - origins[line]) @ along[line])
        found = hits.at[hits.first[line] : hits.first[line + 1]]
        assert np.allclose(found, expected, atol=1e-6)
        assert (np.diff(found) >= 0).all()


def test_beyond_finds_the_next_hit() -> None:
    square = LineString([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)])
    edges = CutEdges(np.array([square], dtype=object))
    hits = edges.cast(np.array([[5.0, 5.0], [50.0, 50.0]]), np.array([[1.0, 0.0], [1.0, 0.0]]))
    index = hits.beyond(np.array([0.0, 0.0]))
    assert hits.distance(index).tolist() == [5.0, np.inf]
    assert hits.distance(index - 1).tolist() == [-5.0, -np.inf]
    assert hits.edge_of(index).tolist() == [1, -1]


def test_a_line_through_a_corner_crosses_once() -> None:
    diamond = LineString([(0, -5), (5, 0), (0, 5), (-5, 0), (0, -5)])
    edges = CutEdges(np.array([diamond], dtype=object))
    hits = edges.cast(np.array([[0.0, 0.0]]), np.array([[0.0, 1.0]]))
    assert np.allclose(hits.at, [-5, 5])


def test_nothing_to_meet() -> None:
    edges = CutEdges(np.array([], dtype=object))
    hits = edges.cast(np.array([[0.0, 0.0]]), np.array([[0.0, 1.0]]))
    assert not len(hits.at)
    assert hits.distance(hits.beyond(np.zeros(1))).tolist() == [np.inf]
