"""The painted picture: what is dark at the end, once everything has been painted in order."""

from __future__ import annotations

from collections.abc import Iterable
from itertools import groupby

import shapely
from shapely import MultiPolygon

from hingeleaf.artwork.colours import Colour, parse_colour
from hingeleaf.model import NO_WINDOWS, Shape
from hingeleaf.winding import polygons_of

NEARLY_SHEET = 0.1
"""A colour this near to the sheet's in every channel counts as bare sheet."""


SOLID = 0.9
"""Sheet-coloured paint less opaque than this is a shine over what lies below, not a hole."""


def is_sheet(colour: str, sheet: str) -> bool:
    """Whether paint of this colour looks like the bare sheet."""
    paint, paper = parse_colour(colour or "black"), parse_colour(sheet)
    if not isinstance(paint, Colour) or not isinstance(paper, Colour):
        return False
    return (
        max(
            abs(paint.red - paper.red),
            abs(paint.green - paper.green),
            abs(paint.blue - paper.blue),
        )
        <= NEARLY_SHEET
    )


def picture(shapes: Iterable[Shape], sheet: str) -> MultiPolygon:
    """What stands out from the sheet: sheet-coloured paint over other paint is a hole."""
    dark = NO_WINDOWS
    visible = (s for s in shapes if s.opacity >= SOLID or not is_sheet(s.colour, sheet))
    for light, run in groupby(visible, key=lambda shape: is_sheet(shape.colour, sheet)):
        areas = [shape.area for shape in run]
        if light:
            dark = polygons_of(shapely.difference(dark, shapely.union_all(areas)))
        else:
            dark = polygons_of(shapely.union_all([dark, *areas]))
    return dark


def silhouette(shapes: Iterable[Shape]) -> MultiPolygon:
    """All that is painted in any colour, each shape taken by itself."""
    return polygons_of(shapely.union_all([shape.area for shape in shapes]))
