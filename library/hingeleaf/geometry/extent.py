"""How large shapes are: the longest side of the box around them."""

from __future__ import annotations

from collections.abc import Iterable

import shapely
from shapely.geometry.base import BaseGeometry


def longest_side(shapes: Iterable[BaseGeometry]) -> float:
    """The longest side of the upright box around all shapes; 0 where there are none."""
    left, top, right, bottom = shapely.total_bounds(list(shapes))
    longest = max(right - left, bottom - top)
    return float(longest) if longest > 0 else 0.0
