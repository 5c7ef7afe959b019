"""Shapes as arrays of points, for drawing."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TypeAlias

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import GeometryCollection, MultiLineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

Shape: TypeAlias = BaseGeometry
Area: TypeAlias = MultiPolygon
Polylines = tuple[NDArray[np.float64], NDArray[np.int64]]
"""Points (n, 2) in mm, and for each the index of its line or ring."""
Stretch = tuple[tuple[float, float], tuple[float, float]]


def rings_of(shape: Shape) -> Polylines:
    """The rings of all polygons in a shape."""
    parts = _parts(shape)
    return _points(shapely.get_rings(parts[shapely.get_dimensions(parts) == 2]))


def lines_of(shape: Shape) -> Polylines:
    """All lines in a shape, and the rings of its polygons."""
    parts = _parts(shape)
    dimensions = shapely.get_dimensions(parts)
    rings = shapely.get_rings(parts[dimensions == 2])
    return _points(np.concatenate([rings, parts[dimensions == 1]]))


def combined(shapes: Iterable[Shape]) -> Shape:
    """Many shapes as one collection, overlapping or not."""
    return GeometryCollection(list(shapes))


def segments(lines: Sequence[Stretch]) -> Shape:
    """Straight line segments from point to point."""
    return MultiLineString(lines)


def simplified(area: MultiPolygon, tolerance: float) -> MultiPolygon:
    """An area with fewer points, at most `tolerance` mm off."""
    simple: MultiPolygon = shapely.simplify(area, tolerance)
    return simple


def _points(lines: NDArray[np.object_]) -> Polylines:
    points, owner = shapely.get_coordinates(lines, return_index=True)
    return points, owner


def _parts(shape: Shape) -> NDArray[np.object_]:
    """Single geometries, taken out of collections of collections."""
    parts = shapely.get_parts(np.array([shape], dtype=object))
    while (shapely.get_type_id(parts) > 3).any():
        parts = shapely.get_parts(parts)
    whole: NDArray[np.object_] = parts[~shapely.is_empty(parts)]
    return whole
