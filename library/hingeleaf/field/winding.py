"""Areas from closed rings by the nonzero rule, overlaps and self-crossings included."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

Points = NDArray[np.float64]


def nonzero_area(rings: Sequence[Points]) -> MultiPolygon:
    """The area wound around at least once, or more often one way than the other.

    `rings` are (n, 2) arrays; their last point is joined to the first. The lines are noded,
    every face is asked for its winding number, and faces that count are merged: so overlapping
    strokes of variable fonts unite, and a ring the other way round is a hole.
    """
    closed = [_closed(points) for points in rings if len(points) > 2]
    if not closed:
        return MultiPolygon()
    noded = shapely.union_all([shapely.linestrings(ring) for ring in closed])
    faces = shapely.get_parts(shapely.polygonize([noded]))
    if not len(faces):
        return MultiPolygon()
    inside = shapely.get_coordinates(shapely.point_on_surface(faces))
    return as_multipolygon(shapely.union_all(faces[winding_numbers(inside, closed) != 0]))


def winding_numbers(points: Points, rings: Sequence[Points]) -> NDArray[np.int64]:
    """How often the closed rings wind around each of (n, 2) points.

    Counts crossings of the ray to the right, +1 for edges going one way and -1 for the other.
    """
    starts = np.concatenate([ring[:-1] for ring in rings])
    ends = np.concatenate([ring[1:] for ring in rings])
    x, y = points[:, :1], points[:, 1:]
    run, rise = (ends - starts).T
    cross = run * (y - starts[:, 1]) - rise * (x - starts[:, 0])
    up = (starts[:, 1] <= y) & (ends[:, 1] > y) & (cross > 0)
    down = (starts[:, 1] > y) & (ends[:, 1] <= y) & (cross < 0)
    turns: NDArray[np.int64] = up.sum(axis=1) - down.sum(axis=1)
    return turns


def as_multipolygon(geometry: shapely.Geometry) -> MultiPolygon:
    """The polygons in a geometry; lines and points that an overlay left over are dropped."""
    parts = shapely.get_parts(shapely.get_parts(geometry))
    return MultiPolygon([part for part in parts if isinstance(part, Polygon) and part.area > 0])


def _closed(points: Points) -> Points:
    return points if np.array_equal(points[0], points[-1]) else np.vstack([points, points[:1]])
