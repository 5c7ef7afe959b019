"""The mirror axis of a shape, where it has one."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon

from hingeleaf.field.winding import Points
from hingeleaf.model import XY


def upright_axis(area: MultiPolygon, tolerance: float = 0.1) -> tuple[XY, XY] | None:
    """The upright line that halves the shape's box, if the shape is its own mirror image there.

    `tolerance` is the furthest that an edge may lie from its image (Hausdorff distance). Only an
    upright axis is looked for: mirrored about any other, motifs would not stay on their feet.
    """
    if area.is_empty:
        return None
    left, top, right, bottom = area.bounds
    middle = (left + right) / 2

    def mirror(points: Points) -> Points:
        return np.column_stack([2 * middle - points[:, 0], points[:, 1]])

    image = shapely.transform(area, mirror)
    edges = area.boundary.segmentize(max(tolerance * 10, 0.1))
    away = shapely.distance(shapely.points(shapely.get_coordinates(edges)), image.boundary)
    return ((middle, top), (middle, bottom)) if away.max() <= tolerance else None
