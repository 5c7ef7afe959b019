"""Painted paths, as yielded by the traversal of an SVG in paint order, with their clips."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np

from hingeleaf.artwork.colours import BLACK, Colour
from hingeleaf.artwork.matrices import Matrix, apply, invert, multiply
from hingeleaf.artwork.paths import Path, flatten, polygon_path
from hingeleaf.artwork.strokes import StrokeStyle
from hingeleaf.artwork.viewports import Box
from hingeleaf.model import Points


@dataclass(frozen=True, slots=True, eq=False)
class PaintedPath:
    """One fill or one stroke: a path in its own coordinates and the way to the page, in mm."""

    path: Path
    matrix: Matrix
    colour: Colour = BLACK
    """Its alpha is all that makes the paint translucent, groups included."""
    stroke: StrokeStyle | None = None
    """How the path is drawn, or None if it is filled."""
    even_odd: bool = False
    clips: tuple[Clip, ...] = ()
    name: str = ""
    layer: str = ""
    line_number: int | None = None
    also_filled: bool = False
    """For a stroke: whether the same path is filled as well, other than in white."""

    def clipped(self, clip: Clip) -> PaintedPath:
        """The same ink seen through one more clip."""
        return replace(self, clips=(*self.clips, clip))


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """A region that lets ink through: the union of some inks, or what a mask leaves bright."""

    inks: tuple[PaintedPath, ...]
    is_mask: bool = False
    by_alpha: bool = False
    """For a mask: whether it looks at opacity alone and not at brightness."""


def rectangle_clip(box: Box, matrix: Matrix) -> Clip:
    """A clip that lets a rectangle through."""
    right, bottom = box.x + box.width, box.y + box.height
    corners = [(box.x, box.y), (right, box.y), (right, bottom), (box.x, bottom)]
    return Clip((PaintedPath(polygon_path(corners, True), matrix),))


def clipped(inks: Iterable[PaintedPath], clip: Clip) -> list[PaintedPath]:
    """All inks seen through one more clip."""
    return [ink.clipped(clip) for ink in inks]


def page_bounds(path: Path, matrix: Matrix) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of the box around a path's own box, moved to the page."""
    moved = apply(matrix, box_corners(path.bounds()))
    (left, top), (right, bottom) = moved.min(axis=0), moved.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def box_corners(bounds: tuple[float, float, float, float]) -> Points:
    """The corners of a box by its left, top, right and bottom, (4, 2)."""
    left, top, right, bottom = bounds
    return np.array([(left, top), (right, top), (right, bottom), (left, bottom)])


def box_matrix(matrix: Matrix, inks: list[PaintedPath]) -> Matrix:
    """From the unit square to the bounding box of what is drawn, in the element's own system."""
    back = invert(matrix)
    points = []
    for ink in inks:
        path = ink.path.transformed(multiply(back, ink.matrix))
        left, top, right, bottom = path.bounds()
        coarse = max(right - left, bottom - top) / 2000
        points += [line.points for line in flatten(path, coarse or 1.0)]
    cloud = np.concatenate(points)
    left, top = cloud.min(axis=0)
    right, bottom = cloud.max(axis=0)
    return (float(right - left), 0.0, 0.0, float(bottom - top), float(left), float(top))
