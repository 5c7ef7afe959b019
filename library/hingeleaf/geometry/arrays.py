"""Convert between shapes and arrays of points, many at once; group linked items."""

from __future__ import annotations

from collections.abc import Sequence, Sized

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import Points

Polylines = tuple[Points, NDArray[np.int64]]
"""Points (n, 2) in mm, and for each the index of its line or ring."""


def ring_points(shape: BaseGeometry) -> Polylines:
    """The points of the rings of all polygons in a shape."""
    parts = _parts(shape)
    return _points(shapely.get_rings(parts[shapely.get_dimensions(parts) == 2]))


def line_points(shape: BaseGeometry) -> Polylines:
    """The points of all lines in a shape, and of the rings of its polygons."""
    parts = _parts(shape)
    dimensions = shapely.get_dimensions(parts)
    rings = shapely.get_rings(parts[dimensions == 2])
    return _points(np.concatenate([rings, parts[dimensions == 1]]))


def lines_through(runs: Sequence[Points]) -> NDArray[np.object_]:
    """A LineString through each run of points, (n, 2) and n > 1 each; at least one run."""
    lines: NDArray[np.object_] = shapely.linestrings(np.concatenate(runs), indices=owners(runs))
    return lines


def rings_through(runs: Sequence[Points]) -> NDArray[np.object_]:
    """A LinearRing through each run of points, (n, 2) with the first repeated at its end."""
    rings: NDArray[np.object_] = shapely.linearrings(np.concatenate(runs), indices=owners(runs))
    return rings


def owners(runs: Sequence[Sized]) -> NDArray[np.intp]:
    """The index of its run for each point of all runs in order."""
    return np.repeat(np.arange(len(runs)), [len(run) for run in runs])


def connected_groups(pairs: NDArray[np.integer], count: int) -> NDArray[np.int64]:
    """The index of the connected group of each of `count` items, linked by pairs (n, 2)."""
    graph = scipy.sparse.coo_array((np.ones(len(pairs)), pairs.T), shape=(count, count))
    groups: NDArray[np.int64] = scipy.sparse.csgraph.connected_components(graph, directed=False)[1]
    return groups.astype(np.int64)


def _points(lines: NDArray[np.object_]) -> Polylines:
    points, owner = shapely.get_coordinates(lines, return_index=True)
    return points, owner


def _parts(shape: BaseGeometry) -> NDArray[np.object_]:
    """Single geometries, taken out of collections of collections."""
    parts = shapely.get_parts(np.array([shape], dtype=object))
    while (shapely.get_type_id(parts) > 3).any():
        parts = shapely.get_parts(parts)
    whole: NDArray[np.object_] = parts[~shapely.is_empty(parts)]
    return whole
