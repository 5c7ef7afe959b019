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

    inks: tuple[PaintedPath, ...]
    is_mask: bool = False
    by_alpha: bool = False
    """For a mask: whether it uses opacity alone and not luminance."""


def rectangle_clip(box: Box, matrix: Matrix) -> Clip:
    """A clip to a rectangle."""
    right, bottom = box.x + box.width, box.y + box.height
    corners = [(box.x, box.y), (right, box.y), (right, bottom), (box.x, bottom)]
    return Clip((PaintedPath(polygon_path(corners, True), matrix),))


def clipped(inks: Iterable[PaintedPath], clip: Clip) -> list[PaintedPath]:
    """All painted paths with one more clip."""
    return [ink.clipped(clip) for ink in inks]


def page_bounds(path: Path, matrix: Matrix) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of a path's own box, transformed to the page."""
    moved = apply(matrix, box_corners(path.bounds()))
    (left, top), (right, bottom) = moved.min(axis=0), moved.max(axis=0)
    return float(left), float(top), float(right), float(bottom)


def box_corners(bounds: tuple[float, float, float, float]) -> Points:
    """The corners of a box by its left, top, right and bottom, (4, 2)."""
    left, top, right, bottom = bounds
    return np.array([(left, top), (right, top), (right, bottom), (left, bottom)])


def box_matrix(matrix: Matrix, inks: list[PaintedPath]) -> Matrix:
    """Transform from the unit square to the bounding box of the paths, in the element's system."""
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
