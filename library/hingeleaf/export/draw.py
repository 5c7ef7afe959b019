"""A panel's cut geometry as the one drawing that every writer writes."""

from __future__ import annotations

from collections.abc import Iterable

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.export.drawing import Drawing, Kind, Layer, Points, Shape, Stroke
from hingeleaf.panel.compose import Panel

TOLERANCE = 0.02
"""How far a curve may stray from the panel's geometry."""


def draw(panel: Panel, *, tolerance: float = TOLERANCE) -> Drawing:
    """The panel's lines by kind, in mm from the sheet's top left corner."""
    width, height = panel.size
    origin = np.array(panel.origin)
    found = {
        Kind.GUIDES: _lines(panel.guides, origin),
        Kind.FOLDS: _lines(panel.cuts.folds, origin),
        Kind.SLITS: _lines(panel.cuts.slits, origin),
        Kind.WINDOWS: _areas(panel.cuts.windows, origin),
        Kind.EDGE: _areas(panel.sheet, origin),
    }
    layers = (Layer(kind, tuple(shapes)) for kind, shapes in found.items())
    return Drawing(panel.name, width, height, tuple(layer for layer in layers if layer.shapes))


def _lines(geometry: shapely.Geometry, origin: Points) -> Iterable[Shape]:
    for line in shapely.get_parts(geometry):
        yield Shape((_stroke(shapely.get_coordinates(line) - origin, line.is_closed),))


def _areas(geometry: shapely.Geometry, origin: Points) -> Iterable[Shape]:
    for area in shapely.get_parts(geometry):
        if isinstance(area, Polygon):
            rings = (*area.interiors, area.exterior)
            yield Shape(tuple(_stroke(np.asarray(ring.coords) - origin, True) for ring in rings))


def _stroke(points: Points, closed: bool) -> Stroke:
    return Stroke(points[0], tuple(points[1:, None, :]), closed)
