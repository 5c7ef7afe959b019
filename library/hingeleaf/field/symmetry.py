"""The mirror axis of a shape, where it has one."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon

from hingeleaf.model import XY, Points

SLACK = 0.006
"""Type is drawn by eye: A, M, O and W of common faces are up to 0.5 % of their box off (measured
on three faces), and are symmetric to whoever looks at them."""


def upright_axis(area: MultiPolygon, tolerance: float | None = None) -> tuple[XY, XY] | None:
    """The upright line that halves the shape's box, if the shape is its own mirror image there.

    `tolerance` is the furthest that an edge may lie from its image (Hausdorff distance), in mm;
    the default is SLACK times the box's longer side. Only an upright axis is looked for: mirrored
    about any other, motifs would not stay on their feet.
    """
    if area.is_empty:
        return None
    left, top, right, bottom = area.bounds
    middle = (left + right) / 2
    if tolerance is None:
        tolerance = SLACK * max(right - left, bottom - top)

    def mirror(points: Points) -> Points:
        return np.column_stack([2 * middle - points[:, 0], points[:, 1]])

    image = shapely.transform(area, mirror)
    edges = area.boundary.segmentize(max(right - left, bottom - top) / 100)
    away = shapely.distance(shapely.points(shapely.get_coordinates(edges)), image.boundary)
    return ((middle, top), (middle, bottom)) if away.max() <= tolerance else None
