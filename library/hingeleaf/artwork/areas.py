"""Turn painted SVG paths into areas on the page: flatten, fill or outline, and clip them."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon

from hingeleaf.artwork.matrices import apply, stretch
from hingeleaf.artwork.painted_path import Clip, PaintedPath, page_bounds
from hingeleaf.artwork.paths import rings
from hingeleaf.artwork.strokes import centre_lines, outline
from hingeleaf.effort import Effort
from hingeleaf.geometry.members import area_of, robust, valid
from hingeleaf.geometry.winding import painted_area
from hingeleaf.model import NO_LINES, NO_WINDOWS

HALF_LUMINANCE = 0.5
"""Least luminance that a mask lets through."""


class Areas:
    """Computes areas within one tolerance (mm on the page), each clip only once."""

    def __init__(self, tolerance: float) -> None:
        self.tolerance = tolerance
        self._effort = Effort()
        self._clips: dict[Clip, MultiPolygon] = {}

    def area(self, ink: PaintedPath) -> MultiPolygon:
        """The area that a fill or stroke paints on the page."""
        area = self._outlined(ink) if ink.stroke else self._filled(ink)
        for clip in ink.clips:
            area = self._clipped(area, clip)
        return area

    def lines(self, ink: PaintedPath) -> MultiLineString:
        """The centre lines of a stroke whose path is not filled, for slits."""
        if ink.stroke is None or ink.also_filled:
            return NO_LINES
        fine = self.tolerance / stretch(ink.matrix)
        points = [apply(ink.matrix, line) for line in centre_lines(ink.path, ink.stroke, fine)]
        lines = MultiLineString(points)
        for clip in ink.clips:
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

    def _filled(self, ink: PaintedPath) -> MultiPolygon:
        path = ink.path.transformed(ink.matrix)
        outlines = rings(path, self.tolerance)
        self._effort.spend_points(sum(map(len, outlines)))
        return painted_area(outlines, ink.even_odd, self._effort)

    def _outlined(self, ink: PaintedPath) -> MultiPolygon:
        assert ink.stroke is not None
        area = outline(ink.path, ink.stroke, self.tolerance / stretch(ink.matrix), self._effort)
        return valid(shapely.transform(area, lambda points: apply(ink.matrix, points)))

    def _clipped(self, area: MultiPolygon, clip: Clip) -> MultiPolygon:
        region = self.region(clip)
        if area.is_empty or region.is_empty:
            return NO_WINDOWS
        if shapely.covers(region, area):
            return area
        return area_of(robust(shapely.intersection, area, region))

    def _union(self, clip: Clip) -> MultiPolygon:
        areas = [self.area(ink) for ink in clip.inks]
        return areas[0] if len(areas) == 1 else area_of(robust(shapely.union_all, areas))

    def _luminance_region(self, clip: Clip) -> MultiPolygon:
        """A mask's bright region: later paint covers earlier paint; dark paint removes."""
        bright: MultiPolygon = NO_WINDOWS
        for ink in clip.inks:
            area = self.area(ink)
            light = 1.0 if clip.by_alpha else ink.colour.luminance
            if ink.colour.alpha < HALF_LUMINANCE:
                continue
            join = shapely.union if light >= HALF_LUMINANCE else shapely.difference
            bright = area_of(join(bright, area))
        return bright


def reach(ink: PaintedPath) -> tuple[float, float, float, float]:
    """Left, top, right, bottom in mm of a fill or stroke, an upper bound except for mitres."""
    left, top, right, bottom = page_bounds(ink.path, ink.matrix)
    grow = ink.stroke.width / 2 * stretch(ink.matrix) if ink.stroke else 0.0
    return left - grow, top - grow, right + grow, bottom + grow


def bounds(inks: list[PaintedPath]) -> tuple[float, float, float, float] | None:
    """Left, top, right, bottom in mm of all, an upper bound; None if there are none."""
    if not inks:
        return None
    table = np.array([reach(ink) for ink in inks])
    low, high = table[:, :2].min(axis=0), table[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])
