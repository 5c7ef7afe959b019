"""Union, difference and intersection also where GEOS gives up: of mended operands, on a grid."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

GRID = 1e-6
"""mm: what is all but the same place becomes one."""


def robust(operation: Callable[..., Any], *operands: Any) -> BaseGeometry:
    """The result of an overlay of shapely, such as `shapely.union`, also of awkward operands."""
    try:
        made: BaseGeometry = operation(*operands)
    except shapely.GEOSException:
        mended = (shapely.make_valid(o, method="structure", keep_collapsed=False) for o in operands)
        made = operation(*mended, grid_size=GRID)
    return made
