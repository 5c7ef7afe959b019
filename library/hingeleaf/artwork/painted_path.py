"""Painted paths, as the walk over an SVG yields them, and their areas: flattened and clipped."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon

from hingeleaf.artwork.colours import BLACK, Colour
from hingeleaf.artwork.lengths import Box
from hingeleaf.artwork.matrices import Matrix, apply, invert, multiply, stretch
from hingeleaf.artwork.paths import Path, flatten, polygon_path, rings
from hingeleaf.artwork.strokes import StrokeStyle, centre_lines, outline
from hingeleaf.effort import Effort
from hingeleaf.geometry.members import area_of, robust, valid
from hingeleaf.geometry.winding import painted_area
from hingeleaf.model import NO_LINES, NO_WINDOWS, Points


@dataclass(frozen=True, slots=True, eq=False)
class PaintedPath:
    """One fill or stroke: a path in its own coordinates, and its transform to the page in mm."""

    path: Path
    matrix: Matrix
    colour: Colour = BLACK
    """Its alpha is the total opacity, that of groups included."""
    stroke: StrokeStyle | None = None
    """How the path is drawn, or None if it is filled."""
    even_odd: bool = False
    clips: tuple[Clip, ...] = ()
    name: str = ""
    layer: str = ""
    line_number: int | None = None
    also_filled: bool = False
    """For a stroke: whether the same path is also filled, in a colour other than white."""

    def clipped(self, clip: Clip) -> PaintedPath:
        """This painted path with one more clip."""
        return replace(self, clips=(*self.clips, clip))


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """A region to which paint is limited: the union of some paths, or a mask's bright region."""

    painted_paths: tuple[PaintedPath, ...]
    is_mask: bool = False
    by_alpha: bool = False
    """For a mask: whether it uses opacity alone and not luminance."""


def rectangle_clip(box: Box, matrix: Matrix) -> Clip:
    """A clip to a rectangle."""
    right, bottom = box.x + box.width, box.y + box.height
    corners = [(box.x, box.y), (right, box.y), (right, bottom), (box.x, bottom)]
    return Clip((PaintedPath(polygon_path(corners, True), matrix),))


def clipped(painted_paths: Iterable[PaintedPath], clip: Clip) -> list[PaintedPath]:
    """All painted paths with one more clip."""
    return [painted.clipped(clip) for painted in painted_paths]


def page_bounds(path: Path, matrix: Matrix) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of a path's own box, transformed to the page."""
    moved = apply(matrix, box_corners(path.bounds()))
    (left, top), (right, bottom) = moved.min(axis=0), moved.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def box_corners(bounds: tuple[float, float, float, float]) -> Points:
    """The corners of a box by its left, top, right and bottom, (4, 2)."""
    left, top, right, bottom = bounds
    return np.array([(left, top), (right, top), (right, bottom), (left, bottom)])


def box_matrix(matrix: Matrix, painted_paths: list[PaintedPath]) -> Matrix:
    """Transform from the unit square to the bounding box of the paths, in the element's system."""
    back = invert(matrix)
    points = []
    for painted in painted_paths:
        path = painted.path.transformed(multiply(back, painted.matrix))
        left, top, right, bottom = path.bounds()
        coarse = max(right - left, bottom - top) / 2000
        points += [line.points for line in flatten(path, coarse or 1.0)]
    cloud = np.concatenate(points)
    left, top = cloud.min(axis=0)
    right, bottom = cloud.max(axis=0)
    return (float(right - left), 0.0, 0.0, float(bottom - top), float(left), float(top))


HALF_LUMINANCE = 0.5
"""Least luminance that a mask lets through (our own choice)."""


class Areas:
    """Computes areas within one tolerance (mm on the page), each clip only once."""

    def __init__(self, tolerance: float) -> None:
        self.tolerance = tolerance
        self._effort = Effort()
        self._clips: dict[Clip, MultiPolygon] = {}

    def area(self, painted: PaintedPath) -> MultiPolygon:
        """The area that a fill or stroke paints on the page."""
        area = self._stroked(painted) if painted.stroke else self._filled(painted)
        for clip in painted.clips:
            area = self._clipped(area, clip)
        return area

    def lines(self, painted: PaintedPath) -> MultiLineString:
        """The centre lines of a stroke whose path is not filled, for slits."""
        if painted.stroke is None or painted.also_filled:
            return NO_LINES
        fine = self.tolerance / stretch(painted.matrix)
        points = [
            apply(painted.matrix, line) for line in centre_lines(painted.path, painted.stroke, fine)
        ]
        lines = MultiLineString(points)
        for clip in painted.clips:
            region = self.region(clip)
            if not shapely.covers(region, lines):
                parts = shapely.get_parts(robust(shapely.intersection, lines, region))
                kinds = shapely.get_type_id(parts) == shapely.GeometryType.LINESTRING
                lines = MultiLineString(list(parts[kinds & ~shapely.is_empty(parts)]))
        return lines

    def region(self, clip: Clip) -> MultiPolygon:
        """The area that a clip lets through."""
        if clip not in self._clips:
            region = self._luminance_region(clip) if clip.is_mask else self._union(clip)
            shapely.prepare(region)
            self._clips[clip] = region
        return self._clips[clip]

    def _filled(self, painted: PaintedPath) -> MultiPolygon:
        path = painted.path.transformed(painted.matrix)
        outlines = rings(path, self.tolerance)
        self._effort.spend("points", sum(map(len, outlines)))
        return painted_area(outlines, painted.even_odd, self._effort)

    def _stroked(self, painted: PaintedPath) -> MultiPolygon:
        assert painted.stroke is not None
        area = outline(
            painted.path, painted.stroke, self.tolerance / stretch(painted.matrix), self._effort
        )
        return valid(shapely.transform(area, lambda points: apply(painted.matrix, points)))

    def _clipped(self, area: MultiPolygon, clip: Clip) -> MultiPolygon:
        region = self.region(clip)
        if area.is_empty or region.is_empty:
            return NO_WINDOWS
        if shapely.covers(region, area):
            return area
        return area_of(robust(shapely.intersection, area, region))

    def _union(self, clip: Clip) -> MultiPolygon:
        areas = [self.area(painted) for painted in clip.painted_paths]
        return areas[0] if len(areas) == 1 else area_of(robust(shapely.union_all, areas))

    def _luminance_region(self, clip: Clip) -> MultiPolygon:
        """A mask's bright region: later paint covers earlier paint; dark paint removes."""
        bright: MultiPolygon = NO_WINDOWS
        for painted in clip.painted_paths:
            area = self.area(painted)
            light = 1.0 if clip.by_alpha else painted.colour.luminance
            if painted.colour.alpha < HALF_LUMINANCE:
                continue
            join = shapely.union if light >= HALF_LUMINANCE else shapely.difference
            bright = area_of(join(bright, area))
        return bright


def paint_bounds(painted: PaintedPath) -> tuple[float, float, float, float]:
    """Left, top, right, bottom in mm of a fill or stroke, an upper bound except for mitres."""
    left, top, right, bottom = page_bounds(painted.path, painted.matrix)
    grow = painted.stroke.width / 2 * stretch(painted.matrix) if painted.stroke else 0.0
    return left - grow, top - grow, right + grow, bottom + grow


def bounds(painted_paths: list[PaintedPath]) -> tuple[float, float, float, float] | None:
    """Left, top, right, bottom in mm of all, an upper bound; None if there are none."""
    if not painted_paths:
        return None
    table = np.array([paint_bounds(painted) for painted in painted_paths])
    low, high = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
