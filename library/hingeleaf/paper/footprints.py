"""Footprints: the outer shape that a motif takes up, for spacing."""

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import GRID, Geometries, polygons_of
from hingeleaf.model import Cuts
from hingeleaf.paper.clean_cuts import clean

_SLIT_HALF_WIDTH = 0.05
"""mm: half the width assumed for a slit."""
_STEPS = (0.01, 0.02, 0.04, 0.08)
"""Radii for closing gaps, as shares of the longest side: gaps up to twice the radius are closed."""
_OUTSET = 1 / 1200
"""Outward offset that lets an outline have fewer vertices, as a share of the longest side."""
_MAX_VERTEX_SHARE = 0.7
"""An outline is simplified only if at most this share of its vertices remains."""


def find_footprint(windows: MultiPolygon, slits: MultiLineString) -> Polygon:
    """A simple polygon without holes that covers all cuts and follows their outline closely.

    It is offset by up to about 1/600 of the longest side where that saves vertices, since filling
    compares hundreds of footprints and a library stores thousands.

    Small gaps are closed step by step; pieces farther apart are joined to their nearest neighbour
    by the hull of the two facing edges; the convex hull is the last resort. The bounding box is
    that of the cuts (except that slits have a small width). No cuts give an empty polygon.
    """
    cuts, _ = clean(Cuts(windows, slits))
    if cuts.windows.is_empty and cuts.slits.is_empty:
        return Polygon()
    solid = _solid(cuts)
    span = max(solid.bounds[2] - solid.bounds[0], solid.bounds[3] - solid.bounds[1])
    return _simpler(_hugging(solid, span), _OUTSET * span)


def _hugging(solid: BaseGeometry, span: float) -> Polygon:
    """One polygon without holes that covers a solid area."""
    shape = solid
    for share in _STEPS:
        shape = _closed(solid, share * span)
        if isinstance(shape, Polygon):
            return shape
    joined = _closed(_joined(polygons_of(shape)), _STEPS[0] * span)
    return joined if isinstance(joined, Polygon) else Polygon(solid.convex_hull.exterior)


def _simpler(outline: Polygon, tolerance: float) -> Polygon:
    """A simpler outline around this one, within its bounding box, if it has far fewer vertices."""
    wide = shapely.buffer(outline, tolerance, join_style="mitre", mitre_limit=2.0)
    simple = shapely.simplify(wide, tolerance)
    inside = shapely.intersection(Polygon(simple.exterior), shapely.box(*outline.bounds))
    largest = max(shapely.get_parts(inside), key=shapely.area)
    saves = shapely.get_num_coordinates(largest) < _MAX_VERTEX_SHARE * shapely.get_num_coordinates(
        outline
    )
    return largest if saves and shapely.covers(largest, outline) else outline


def _solid(cuts: Cuts) -> BaseGeometry:
    """Everything that is cut or enclosed by cuts."""
    lines = shapely.get_parts(cuts.slits)
    mouths = [
        shapely.make_valid(Polygon([*line.coords, line.coords[0]]))
        for line in lines
        if len(line.coords) > 2
    ]
    hairs = shapely.buffer(cuts.slits, _SLIT_HALF_WIDTH, cap_style="square", join_style="bevel")
    area = _filled(shapely.union_all([cuts.windows, hairs, *mouths]))
    box = shapely.box(*shapely.total_bounds(np.array([cuts.windows, cuts.slits], dtype=object)))
    return shapely.intersection(area, box) if box.area > 0 else area


def _filled(area: BaseGeometry) -> BaseGeometry:
    outlines = shapely.get_exterior_ring(polygons_of(area))
    return shapely.union_all(shapely.polygons(outlines)) if len(outlines) else Polygon()


def _closed(area: BaseGeometry, radius: float) -> BaseGeometry:
    """The area with every gap filled that a disc of `radius` cannot enter."""
    wide = shapely.buffer(area, radius)
    closed = _filled(shapely.union(shapely.buffer(wide, -radius), area, grid_size=GRID))
    return shapely.intersection(closed, shapely.box(*area.bounds))


def _joined(pieces: Geometries) -> BaseGeometry:
    """All pieces, each joined to its nearest neighbour until one polygon is left."""
    groups = np.array(pieces, dtype=object)
    gaps = np.full((len(groups), len(groups)), np.inf)  # above the diagonal only
    pairs = np.triu_indices(len(groups), 1)
    gaps[pairs] = shapely.distance(groups[pairs[0]], groups[pairs[1]])
    while len(groups) > 1:
        nearest = np.unravel_index(np.argmin(gaps), gaps.shape)
        tied = _tied(*groups[list(nearest)])
        others = np.delete(np.arange(len(groups)), nearest)
        gaps = np.pad(gaps[np.ix_(others, others)], (0, 1), constant_values=np.inf)
        gaps[:-1, -1] = shapely.distance(groups[others], tied)
        groups = np.append(groups[others], tied)
    return groups[0]


def _tied(one: Polygon, two: Polygon) -> BaseGeometry:
    """Both pieces, and the hull of their facing edges."""
    reach = shapely.distance(one, two) + min(_breadth(one), _breadth(two)) / 2
    facing = [
        shapely.intersection(a, shapely.buffer(b, reach)) for a, b in ((one, two), (two, one))
    ]
    joint = shapely.union_all(facing).convex_hull
    return _filled(shapely.union_all([one, two, joint]))


def _breadth(piece: Polygon) -> float:
    west, north, east, south = piece.bounds
    return float(min(east - west, south - north))
