"""A panel's cut geometry as the one drawing that every writer writes."""

from __future__ import annotations

from itertools import islice

import numpy as np
import shapely

from hingeleaf.export.drawing import Drawing, Kind, Layer, Points, Shape
from hingeleaf.export.trace import trace
from hingeleaf.panel.compose import Panel

TOLERANCE = 0.02
"""How far a curve may stray from the panel's geometry."""


def draw(panel: Panel, *, tolerance: float = TOLERANCE) -> Drawing:
    """The panel's lines by kind, in mm from the sheet's top left corner."""
    width, height = panel.size
    found: dict[Kind, list[list[Points]]] = {
        Kind.GUIDES: _lines(panel.guides),
        Kind.FOLDS: _lines(panel.cuts.folds),
        Kind.SLITS: _lines(panel.cuts.slits),
        Kind.WINDOWS: _rings(panel.cuts.windows),
        Kind.EDGE: _rings(panel.sheet),
    }
    origin = np.array(panel.origin)
    lines = [line - origin for shapes in found.values() for shape in shapes for line in shape]
    strokes = iter(trace(lines, tolerance))
    layers = tuple(
        Layer(kind, tuple(Shape(tuple(islice(strokes, len(shape)))) for shape in shapes))
        for kind, shapes in found.items()
        if shapes
    )
    return Drawing(panel.name, width, height, layers)


def _lines(geometry: shapely.Geometry) -> list[list[Points]]:
    return [[shapely.get_coordinates(line)] for line in shapely.get_parts(geometry)]


def _rings(geometry: shapely.Geometry) -> list[list[Points]]:
    """Holes before the ring around them: inside cuts come first."""
    return [
        [shapely.get_coordinates(ring) for ring in (*area.interiors, area.exterior)]
        for area in shapely.get_parts(geometry)
    ]
