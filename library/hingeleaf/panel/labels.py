"""Words on a sheet as outlines: guides that are seen, not cut."""

from __future__ import annotations

import numpy as np
import shapely
from shapely import LineString

from hingeleaf.field.letters import Lettering, text_field


def label(words: str, left: float, top: float, height: float, widest: float) -> list[LineString]:
    """The outlines of a line of words, its capitals `height` mm high from `top` down.

    It is made smaller where it would be wider than `widest`.
    """
    area = text_field("label", [words], Lettering(height, widest=widest)).area
    outlines = shapely.get_parts(shapely.boundary(area))
    corner = np.array([left, top])
    moved = shapely.transform(outlines, lambda points: points + corner)
    return [LineString(line) for line in moved]
