"""Take polygons, lines or points out of any geometry, and overlay awkward ones robustly."""

from collections.abc import Callable, Iterable, Sequence, Sized
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import NO_LINES, NO_WINDOWS, XY, Points

Geometries = NDArray[np.object_]

SPECK = 1e-9
"""mm, mm²: anything smaller is a rounding error."""

GRID = 1e-6
"""mm: shapes whose edges all but coincide are overlaid on this grid.

Without it GEOS may return a region on the wrong side of such edges.
"""
_LINE, _POLYGON, _MULTI = 1, 3, 4
"""GEOS type ids; all from _MULTI up are collections."""


def polygons_of(geometry: BaseGeometry) -> Geometries:
    """The polygons in any geometry, however nested, except those without area."""
    return _of_type(geometry, _POLYGON, shapely.area)


def lines_of(geometry: BaseGeometry) -> Geometries:
    """The lines in any geometry, however nested, except those without length."""
    return _of_type(geometry, _LINE, shapely.length)


def windows_of(geometry: BaseGeometry | Sequence[BaseGeometry]) -> MultiPolygon:
    """The polygons of one or several geometries as windows."""
    if not isinstance(geometry, BaseGeometry):
        geometry = shapely.geometrycollections(list(geometry))
    polygons = polygons_of(geometry)
    return shapely.multipolygons(polygons) if len(polygons) else NO_WINDOWS


def slits_of(geometry: BaseGeometry) -> MultiLineString:
    """The lines of a geometry as slits, merged where they are end to end."""
    lines = lines_of(geometry)
    if not len(lines):
        return NO_LINES
    merged = shapely.line_merge(shapely.multilinestrings(lines))
    return merged if isinstance(merged, MultiLineString) else MultiLineString([merged])


def area_of(geometry: BaseGeometry) -> MultiPolygon:
    """The area of a geometry of any kind: its polygons, united where they overlap."""
    if isinstance(geometry, MultiPolygon):
        return geometry
    if isinstance(geometry, Polygon):
        return NO_WINDOWS if geometry.is_empty else MultiPolygon([geometry])
    parts = [p for p in shapely.get_parts(geometry) if isinstance(p, Polygon | MultiPolygon)]
    return area_of(shapely.union_all(parts)) if parts else NO_WINDOWS


def valid(area: MultiPolygon) -> MultiPolygon:
    """The area itself, repaired if rounding has made it invalid."""
    return area if shapely.is_valid(area) else area_of(shapely.make_valid(area))


def boundary_lines(polygons: Iterable[Polygon]) -> Geometries:
    """The outer and inner rings of polygons, as lines."""
    rings: Geometries = shapely.get_rings(np.array(list(polygons), dtype=object))
    return rings


def multiline_of(geometries: Sequence[BaseGeometry] | BaseGeometry) -> MultiLineString:
    """The lines in one or several geometries, unchanged."""
    if not isinstance(geometries, BaseGeometry):
        geometries = shapely.geometrycollections(list(geometries))
    return shapely.multilinestrings(lines_of(geometries))


def longest_side(shapes: Iterable[BaseGeometry]) -> float:
    """The longest side of the upright box around all shapes; 0 where there are none."""
    left, top, right, bottom = shapely.total_bounds(list(shapes))
    longest = max(right - left, bottom - top)
    return float(longest) if longest > 0 else 0.0


def point_in(area: BaseGeometry) -> XY:
    """A point inside an area, or on a line."""
    point = area.representative_point()
    return point.x, point.y


def without_holes(area: MultiPolygon) -> MultiPolygon:
    """The area with its holes filled."""
    return area_of(robust(shapely.union_all, [Polygon(part.exterior) for part in area.geoms]))


def robust(operation: Callable[..., Any], *operands: Any) -> BaseGeometry:
    """The result of an overlay of shapely, such as `shapely.union`, also of awkward operands."""
    try:
        made: BaseGeometry = operation(*operands)
    except shapely.GEOSException:
        mended = (shapely.make_valid(o, method="structure", keep_collapsed=False) for o in operands)
        made = operation(*mended, grid_size=GRID)
    return made


def _of_type(geometry: BaseGeometry, kind: int, measure: np.ufunc) -> Geometries:
    pieces = _single(geometry)
    real = (shapely.get_type_id(pieces) == kind) & (measure(pieces) > SPECK)
    kept: Geometries = pieces[real]
    return kept


Polylines = tuple[Points, NDArray[np.int64]]
"""Points (n, 2) in mm, and for each the index of its line or ring."""


def ring_points(shape: BaseGeometry) -> Polylines:
    """The points of the rings of all polygons in a shape."""
    points, ring = shapely.get_coordinates(shapely.get_rings(_single(shape)), return_index=True)
    return points, ring


def line_points(shape: BaseGeometry) -> Polylines:
    """The points of all lines in a shape, and of the rings of its polygons."""
    parts = _single(shape)
    lines = [shapely.get_rings(parts), parts[shapely.get_dimensions(parts) == 1]]
    points, line = shapely.get_coordinates(np.concatenate(lines), return_index=True)
    return points, line


def lines_through(runs: Sequence[Points]) -> Geometries:
    """A LineString through each run of points, (n, 2) and n > 1 each."""
    if not len(runs):
        return np.empty(0, dtype=object)
    lines: Geometries = shapely.linestrings(np.concatenate(runs), indices=owners(runs))
    return lines


def rings_through(runs: Sequence[Points]) -> Geometries:
    """A LinearRing through each run of points, (n, 2) with the first repeated at its end."""
    rings: Geometries = shapely.linearrings(np.concatenate(runs), indices=owners(runs))
    return rings


def owners(runs: Sequence[Sized]) -> NDArray[np.intp]:
    """The index of its run for each point of all runs in order."""
    return np.repeat(np.arange(len(runs)), [len(run) for run in runs])


def near_pairs(shapes: Geometries, distance: float) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    """The indices of all pairs of shapes no farther apart than `distance`, each pair once."""
    boxes = shapely.bounds(shapes) + distance * np.array([-1.0, -1.0, 1.0, 1.0])
    one, other = shapely.STRtree(shapes).query(shapely.box(*boxes.T))
    one, other = one[one < other], other[one < other]
    shapely.prepare(shapes)
    near = shapely.dwithin(shapes[one], shapes[other], distance)
    return one[near], other[near]


def connected_groups(pairs: NDArray[np.integer], count: int) -> NDArray[np.int64]:
    """The index of the connected group of each of `count` items, linked by pairs (n, 2)."""
    one, two = pairs.T
    group = np.arange(count)
    while True:  # groups take over the least index among their neighbours', until none changes
        joined = group.copy()
        least = np.minimum(group[one], group[two])
        np.minimum.at(joined, group[one], least)
        np.minimum.at(joined, group[two], least)
        joined = joined[joined]
        if np.array_equal(joined, group):
            return np.unique(group, return_inverse=True)[1]
        group = joined


def _single(geometry: BaseGeometry) -> Geometries:
    """Single geometries, taken out of collections of collections."""
    pieces: Geometries = shapely.get_parts(geometry)
    while (shapely.get_type_id(pieces) >= _MULTI).any():
        pieces = shapely.get_parts(pieces)
    return pieces
