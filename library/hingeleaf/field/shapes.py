"""Outlines of frames and openings, each fitted to a box of a given width and height."""

import math
from enum import StrEnum

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.errors import UsageError
from hingeleaf.model import Points
from hingeleaf.params import TOLERANCE
from hingeleaf.units import format_mm


class Outline(StrEnum):
    """The shapes that a frame or its opening can have."""

    RECTANGLE = "rectangle"
    ROUNDED = "rounded"
    """A rectangle with round corners."""
    OVAL = "oval"
    CIRCLE = "circle"
    HEART = "heart"
    ARCH = "arch"
    """A rectangle under a half circle, as of a window."""


def outline_shape(
    shape: Outline,
    width: float,
    height: float,
    *,
    corner: float = 10.0,
    tolerance: float = TOLERANCE,
) -> Polygon:
    """A shape that fills the box from (0, 0) to (width, height), y down.

    `corner` is the radius of a rounded rectangle; curves are flattened within `tolerance`. Raises
    UsageError for a circle that is not as wide as high, corners that do not fit, or an arch lower
    than half its width.
    """
    points = {
        Outline.RECTANGLE: _rectangle,
        Outline.ROUNDED: _rounded,
        Outline.OVAL: _oval,
        Outline.CIRCLE: _circle,
        Outline.HEART: _heart,
        Outline.ARCH: _arch,
    }[shape](width, height, corner, tolerance)
    return shapely.remove_repeated_points(Polygon(points), 1e-9)


def _rectangle(width: float, height: float, _: float, __: float) -> Points:
    return np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=float)


def _rounded(width: float, height: float, corner: float, tolerance: float) -> Points:
    if not corner:
        return _rectangle(width, height, corner, tolerance)
    if 2 * corner > min(width, height):
        raise UsageError(
            f"Corners of {format_mm(corner)} do not fit {format_mm(width)} by {format_mm(height)}.",
            f"Use a radius of {format_mm(min(width, height) / 2)} or less.",
        )
    centres = [(width - corner, corner), (width - corner, height - corner)]
    centres += [(corner, height - corner), (corner, corner)]
    return np.concatenate(
        [
            _arc(centre, (corner, corner), start, start + 90, tolerance)
            for centre, start in zip(centres, (-90, 0, 90, 180), strict=True)
        ]
    )


def _oval(width: float, height: float, _: float, tolerance: float) -> Points:
    middle = (width / 2, height / 2)
    return _arc(middle, middle, 0, 360, tolerance)[:-1]


def _circle(width: float, height: float, corner: float, tolerance: float) -> Points:
    if not math.isclose(width, height, abs_tol=1e-6):
        raise UsageError(
            f"A circle is as wide as high, not {format_mm(width)} by {format_mm(height)}.",
            "Give one size twice, or ask for an oval.",
        )
    return _oval(width, height, corner, tolerance)


def _heart(width: float, height: float, _: float, tolerance: float) -> Points:
    """A square on its corner with a half circle on each upper side, stretched to the box.

    For a square of side 1 the heart is 1 + √½ wide and ½ + 3/√8 high; the half circles are centred
    on the midpoints of the sides, √⅛ to either side of the axis.
    """
    reach = math.sqrt(1 / 8)
    wide, high = 1 + 2 * reach, 0.5 + 3 * reach
    stretch = np.array([width / wide, height / high])
    fine = tolerance / stretch.max()
    right = _arc((wide / 2 + reach, 0.5), (0.5, 0.5), -135, 45, fine)
    left = _arc((wide / 2 - reach, 0.5), (0.5, 0.5), -225, -45, fine)
    points: Points = np.concatenate([right, [(wide / 2, high)], left]) * stretch
    return points


def _arch(width: float, height: float, _: float, tolerance: float) -> Points:
    radius = width / 2
    if height < radius:
        raise UsageError(
            f"An arch {format_mm(width)} wide must be at least {format_mm(radius)} high.",
            "Use a greater height, or ask for an oval.",
        )
    top = _arc((radius, radius), (radius, radius), 180, 360, tolerance)
    return np.concatenate([top, [(width, height), (0, height)]])


def _arc(
    centre: tuple[float, float],
    radii: tuple[float, float],
    start: float,
    end: float,
    tolerance: float,
) -> Points:
    """Points on an arc of an ellipse from `start` to `end` degrees, clockwise as seen.

    A chord over the angle a deviates from a circle by at most r·(1 - cos a/2). Every multiple of
    45° from `start` is included, and so are the outermost points.
    """
    flat = min(1.0, tolerance / max(radii))
    eighth = max(2, math.ceil(math.pi / 8 / math.acos(1 - flat)))
    steps = round(eighth * (end - start) / 45)
    angles = np.radians(np.linspace(start, end, steps + 1))
    return np.column_stack(
        [centre[0] + radii[0] * np.cos(angles), centre[1] + radii[1] * np.sin(angles)]
    )
