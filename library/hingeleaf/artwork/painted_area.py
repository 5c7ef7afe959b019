"""The dark area that remains after all shapes are painted in order."""

from collections.abc import Callable, Iterable, Sequence

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

MIN_OPACITY = 0.9
"""Sheet-coloured paint less opaque than this is a highlight, not a hole (our own choice)."""


def dark_area(shapes: Iterable[Shape], sheet: str, effort: Effort | None = None) -> MultiPolygon:
    """The area that differs from the sheet: sheet-coloured paint over other paint is a hole.

    Raises HostileArtworkError if there are too many overlaps.
    """
    return visible_area(shapes, lambda shape: not is_sheet(shape.colour, sheet), effort)


def visible_area(
    shapes: Iterable[Shape], wanted: Callable[[Shape], bool], effort: Effort | None = None
) -> MultiPolygon:
    """Where the uppermost paint is of a wanted shape; other translucent paint does not cover.

    Shapes are processed from the top down. An unwanted shape inside a lower unwanted one is
    dropped, since the lower one hides as much; a wanted one inside an unwanted one is finished,
    since nothing below can affect it. Raises HostileArtworkError if there are too many overlaps.
    """
    effort = effort or Effort()
    painted = [shape for shape in reversed(list(shapes)) if not shape.area.is_empty]
    areas = np.array([shape.area for shape in painted], dtype=object)
    boxes = shapely.bounds(areas).reshape(-1, 4)
    hides, seen = np.zeros((2, len(areas)), dtype=bool)
    finished: list[BaseGeometry] = []
    for place, shape in enumerate(painted):
        area = shape.area
        shapely.prepare(area)
        if wanted(shape):
            near = (boxes[:, :2] <= boxes[place, 2:]) & (boxes[:, 2:] >= boxes[place, :2])
            above = areas[hides & near.all(axis=1)]
            above = above[shapely.intersects(area, above)]
            _spend(effort, [area, *above])
            if len(above):
                areas[place] = robust(shapely.difference, area, _union(above))
                boxes[place] = shapely.bounds(areas[place])
            seen[place] = not areas[place].is_empty
        elif shape.opacity >= MIN_OPACITY:
            within = (boxes[:, :2] >= boxes[place, :2]) & (boxes[:, 2:] <= boxes[place, 2:])
            lesser = np.flatnonzero(hides & within.all(axis=1))
            lesser = lesser[shapely.covers(area, areas[lesser])]
            inside = np.flatnonzero(seen & within.all(axis=1))
            inside = _unlinked(inside[shapely.contains_properly(area, areas[inside])], boxes, seen)
            _spend(effort, areas[[*lesser, *inside]])
            finished.append(_union(areas[inside]))
            hides[lesser] = seen[inside] = False
            hides[place] = True
    finished.append(_union(areas[seen]))
    return MultiPolygon(
        [part for whole in finished for part in area_of(whole).geoms if not part.is_empty]
    )


def _unlinked(
    inside: NDArray[np.intp], boxes: NDArray[np.float64], seen: NDArray[np.bool_]
) -> NDArray[np.intp]:
    """Those inside whose boxes are not connected, even through others inside, to one outside."""
    linked = np.setdiff1d(np.flatnonzero(seen), inside)
    while len(linked) and len(inside):
        tree = shapely.STRtree(shapely.box(*boxes[linked].T))
        near = np.unique(tree.query(shapely.box(*boxes[inside].T))[0])
        linked, inside = inside[near], np.delete(inside, near)
    return inside


def _spend(effort: Effort, areas: Sequence[BaseGeometry] | Areas) -> None:
    effort.spend("overlay", int(shapely.get_num_coordinates(areas).sum()))


def _union(areas: Areas) -> BaseGeometry:
    return areas[0] if len(areas) == 1 else robust(shapely.union_all, areas)


def union_of_shapes(shapes: Iterable[Shape]) -> MultiPolygon:
    """All painted areas of any colour, each shape taken on its own."""
    return area_of(robust(shapely.union_all, [shape.area for shape in shapes]))
