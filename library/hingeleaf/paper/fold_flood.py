"""Find the flap that turns about a fold line, by a connectivity search over the faces of paper.

Faces are bounded by cuts and fold lines, and joined in a graph where a fold line runs between two
of them. A flap is what loses its connection to the sheet when one fold line's edges are removed.
"""

import math
from collections.abc import Sequence
from functools import cached_property

import numpy as np
import shapely
from shapely import LineString, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import (
    GRID,
    SPECK,
    Geometries,
    boundary_lines,
    connected_groups,
    lines_of,
    polygons_of,
)
from hingeleaf.geometry.ray_casting import Bools, Floats, Ints
from hingeleaf.model import XY, Cuts
from hingeleaf.paper.parts import KERF, split_at_thin_webs

_EXTRA = 1e-4
"""mm by which a fold line is extended at both ends, so that it meets the cuts there."""
_SNAP = 2e-3
"""mm: a fold line passes through corners of cuts within this distance, which is more than _BESIDE:
slivers of paper between a fold and a cut do not hide the face beyond them."""
_BESIDE = 1e-3
"""mm: offset from a fold line at which faces are looked up."""

Line = tuple[XY, XY]


class Flood:
    """The faces of paper between cuts and fold lines, and the pairs that each fold line joins.

    Paper narrower than the kerf counts as cut.
    """

    def __init__(
        self, cuts: Cuts, sheet: Polygon, lines: Sequence[Line], kerf: float = KERF
    ) -> None:
        if not lines:
            return
        paper = shapely.difference(sheet, cuts.windows)
        walls = [*boundary_lines(polygons_of(paper)), *shapely.get_parts(cuts.slits)]
        folds = _fold_lines(lines, shapely.get_coordinates(walls))
        noded = shapely.get_parts(shapely.union_all([*walls, *folds]))
        faces = polygons_of(shapely.polygonize(noded))
        shapely.prepare(paper)
        faces = faces[shapely.contains(paper, shapely.point_on_surface(faces))]
        self._faces: Geometries = split_at_thin_webs(kerf, faces, cuts)
        self._on_sheet = shapely.dwithin(self._faces, sheet.exterior, _BESIDE)
        self._join(noded, folds)

    def _join(self, noded: Geometries, folds: Sequence[LineString]) -> None:
        """Find the pairs of faces that meet across each fold line."""
        edges = lines_of(noded)
        middles = shapely.line_interpolate_point(edges, 0.5, normalized=True)
        edge, fold = shapely.STRtree(folds).query(middles, predicate="dwithin", distance=SPECK)
        ends = np.array([[line.coords[0], line.coords[-1]] for line in folds])
        along = (ends[:, 1] - ends[:, 0])[fold]
        across = np.stack([-along[:, 1], along[:, 0]], axis=1)
        across *= _BESIDE / np.maximum(np.hypot(*along.T), SPECK)[:, None]
        at = shapely.get_coordinates(middles)[edge]
        tree = shapely.STRtree(self._faces)
        sides = [_face_at(tree, at + across), _face_at(tree, at - across)]
        joined = (sides[0] >= 0) & (sides[1] >= 0) & (sides[0] != sides[1])
        self._pairs = np.stack(sides, axis=1)[joined]
        self._edge, self._fold = edge[joined], fold[joined]

    @cached_property
    def _held(self) -> Bools:
        """Mask of the faces connected to the sheet."""
        return self._reached(np.ones(len(self._fold), dtype=bool))

    def _reached(self, kept: Bools) -> Bools:
        """Mask of the faces connected to the sheet by the kept folds."""
        label = connected_groups(self._pairs[kept], len(self._faces))
        return np.isin(label, label[self._on_sheet])

    def flap(self, index: int) -> Polygon | None:
        """The paper that is freed when one fold line is cut; None if there is none."""
        own = np.isin(self._edge, self._edge[self._fold == index])
        if not own.any():
            return None
        free = self._faces[self._held & ~self._reached(~own)]
        return largest_of(shapely.union_all(free, grid_size=GRID)) if len(free) else None


def _face_at(tree: shapely.STRtree, points: Floats) -> Ints:
    """Index of the face that contains each point, -1 for none."""
    found = np.full(len(points), -1)
    point, face = tree.query(shapely.points(points), predicate="within")
    found[point] = face
    return found


def _fold_lines(lines: Sequence[Line], corners: Floats) -> list[LineString]:
    """Fold lines that reliably meet the cuts: snapped to their corners and slightly extended."""
    folds = []
    for line in lines:
        (start, end), along = np.array(line), unit_along(line)
        x, y = (corners - start).T
        onwards, off = x * along[0] + y * along[1], y * along[0] - x * along[1]
        beyond = np.maximum(-onwards, onwards - math.dist(*line))
        met = np.flatnonzero((np.abs(off) <= _SNAP) & (beyond <= _SNAP))
        met = met[np.argsort(onwards[met])]
        folds.append(LineString([start - _EXTRA * along, *corners[met], end + _EXTRA * along]))
    return folds


def largest_of(region: BaseGeometry) -> Polygon:
    """The largest polygon in a geometry, or an empty polygon."""
    return max(polygons_of(region), key=lambda piece: piece.area, default=Polygon())


def unit_along(line: Line) -> Floats:
    """The unit vector (2,) along a line."""
    step = np.subtract(line[1], line[0])
    return step / max(float(np.hypot(*step)), SPECK)
