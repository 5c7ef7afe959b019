"""The dark area that remains after all shapes are painted in order."""

from collections.abc import Callable, Iterable

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.artwork.colours import is_sheet
from hingeleaf.effort import Effort
from hingeleaf.geometry.members import area_of, robust
from hingeleaf.model import Shape

Areas = NDArray[np.object_]

SOLID = 0.9
"""Sheet-coloured paint less opaque than this is a highlight, not a hole."""


def picture(shapes: Iterable[Shape], sheet: str, effort: Effort | None = None) -> MultiPolygon:
    """The area that differs from the sheet: sheet-coloured paint over other paint is a hole.

    Raises HostileArtworkError if there are too many overlaps.
    """
    return topmost(shapes, lambda shape: not is_sheet(shape.colour, sheet), effort)


def topmost(
    shapes: Iterable[Shape], wanted: Callable[[Shape], bool], effort: Effort | None = None
) -> MultiPolygon:
    """Where the uppermost paint is of a wanted shape; other translucent paint does not cover.

    Shapes are processed from the top down. An unwanted shape inside a lower unwanted one is
    dropped, since the lower one hides as much; a wanted one inside an unwanted one is finished,
    since nothing below can affect it. Raises HostileArtworkError if there are too many overlaps.
    """
    effort = effort or Effort()
    lights, darks = _Index(effort), _Index(effort)
    finished: list[BaseGeometry] = []
    for shape in reversed(list(shapes)):
        if shape.area.is_empty:
            continue
        if wanted(shape):
            seen = _difference(shape.area, lights.meeting(shape.area))
            if not seen.is_empty:
                darks.add(seen)
        elif shape.opacity >= SOLID:
            lights.take_within(shape.area)
            lights.add(shape.area)
            finished.append(_union(darks.take_within(shape.area, apart=True)))
    finished.append(_union(darks.all()))
    return MultiPolygon(
        [part for whole in finished for part in area_of(whole).geoms if not part.is_empty]
    )


def silhouette(shapes: Iterable[Shape]) -> MultiPolygon:
    """All painted areas of any colour, each shape taken on its own."""
    return area_of(robust(shapely.union_all, [shape.area for shape in shapes]))


def _difference(area: BaseGeometry, others: Areas) -> BaseGeometry:
    if not len(others):
        return area
    return robust(shapely.difference, area, _union(others))


def _union(areas: Areas) -> BaseGeometry:
    return areas[0] if len(areas) == 1 else robust(shapely.union_all, areas)


class _Index:
    """Areas in a spatial index by bounding box, with removal."""

    def __init__(self, effort: Effort) -> None:
        self._effort = effort
        self._areas: Areas = np.empty(64, dtype=object)
        self._boxes = np.full((64, 4), np.nan)
        self._count = 0

    def all(self) -> Areas:
        """Every area."""
        return self._areas[np.flatnonzero(~np.isnan(self._boxes[:, 0]))]

    def add(self, area: BaseGeometry) -> None:
        """Add an area."""
        if self._count == len(self._areas):
            self._make_room()
        self._areas[self._count], self._boxes[self._count] = area, shapely.bounds(area)
        self._count += 1

    def meeting(self, area: BaseGeometry) -> Areas:
        """The areas that intersect an area."""
        left, top, right, bottom = shapely.bounds(area)
        x0, y0, x1, y1 = self._boxes[: self._count].T
        near = np.flatnonzero((x0 <= right) & (x1 >= left) & (y0 <= bottom) & (y1 >= top))
        if not len(near):
            return self._areas[near]
        shapely.prepare(area)
        met: Areas = self._areas[near][shapely.intersects(area, self._areas[near])]
        self._effort.spend("overlay", int(shapely.get_num_coordinates([area, *met]).sum()))
        return met

    def take_within(self, area: BaseGeometry, apart: bool = False) -> Areas:
        """Remove and return those within an area; with `apart` not those near one that is not."""
        left, top, right, bottom = shapely.bounds(area)
        x0, y0, x1, y1 = self._boxes[: self._count].T
        inside = np.flatnonzero((x0 >= left) & (x1 <= right) & (y0 >= top) & (y1 <= bottom))
        if len(inside):
            shapely.prepare(area)
            within = shapely.contains_properly if apart else shapely.covers
            inside = inside[within(area, self._areas[inside])]
        if apart and len(inside):
            inside = self._apart(inside)
        taken: Areas = self._areas[inside]
        self._boxes[inside] = np.nan
        self._effort.spend("overlay", int(shapely.get_num_coordinates(taken).sum()))
        return taken

    def _apart(self, inside: NDArray[np.intp]) -> NDArray[np.intp]:
        """Those whose boxes are not connected, even through others inside, to an area outside."""
        outside = ~np.isnan(self._boxes[: self._count, 0])
        outside[inside] = False
        linked = np.flatnonzero(outside)
        while len(linked) and len(inside):
            tree = shapely.STRtree(shapely.box(*self._boxes[linked].T))
            near = np.unique(tree.query(shapely.box(*self._boxes[inside].T))[0])
            linked, inside = inside[near], np.delete(inside, near)
        return inside

    def _make_room(self) -> None:
        """Double the capacity, dropping removed entries."""
        kept = np.flatnonzero(~np.isnan(self._boxes[:, 0]))
        areas, boxes = self._areas[kept], self._boxes[kept]
        self._count = len(areas)
        self._areas = np.empty(max(64, 2 * self._count), dtype=object)
        self._boxes = np.full((len(self._areas), 4), np.nan)
        self._areas[: self._count], self._boxes[: self._count] = areas, boxes
