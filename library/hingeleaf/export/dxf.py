"""DXF R2010 at true size: mm, y up, one layer per kind of line, splines for curves."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

from hingeleaf.export.drawing import STYLE, Drawing, LineKind, LineStyle, Points, Stroke, Style
from hingeleaf.export.files import write_file
from hingeleaf.params import TOLERANCE

if TYPE_CHECKING:
    from ezdxf.document import Drawing as Document
    from ezdxf.layouts.layout import Modelspace

COLOUR_NUMBERS = {
    LineKind.GUIDES: 8,
    LineKind.MARKS: 9,
    LineKind.FOLDS: 3,
    LineKind.SLITS: 5,
    LineKind.WINDOWS: 1,
    LineKind.EDGE: 7,
}
"""Colour numbers of the layers (DXF group code 62), all different, for software without true
colours."""


def write_dxf(
    drawing: Drawing,
    target: Path | BinaryIO,
    *,
    style: Style = STYLE,
    polylines: bool = False,
    tolerance: float = TOLERANCE,
) -> None:
    """Write a drawing as DXF.

    With `polylines`, curves become straight segments within the tolerance, for software without
    splines. Raises ExportError, see `write_file`.
    """
    text = io.StringIO()
    with _timeless():
        _document(drawing, style, tolerance if polylines else 0.0).write(text)
    write_file(text.getvalue(), target)


def _document(drawing: Drawing, style: Style, flattening: float) -> Document:
    from ezdxf import units
    from ezdxf.filemanagement import new

    def upwards(points: Points) -> Points:
        return np.array([0.0, drawing.height]) + points * (1, -1)

    document = new("R2010", units=units.MM)
    space = document.modelspace()
    for kind in drawing.layers:
        name = kind.upper()
        _add_layer(document, kind, name, style[kind])
        for stroke in drawing.strokes(kind):
            _add_stroke(space, stroke.transformed(upwards), name, flattening)
    for entity in sorted(document.entitydb.dxf_types_in_use()):
        document.classes.add_class(entity)  # explicit order; otherwise that of a set
    document.header["$MEASUREMENT"] = 1
    document.header["$EXTMIN"] = (0.0, 0.0, 0.0)
    document.header["$EXTMAX"] = (drawing.width, drawing.height, 0.0)
    space.reset_extents((0.0, 0.0, 0.0), (drawing.width, drawing.height, 0.0))
    return document


@contextmanager
def _timeless() -> Iterator[None]:
    """Suppress times and new identifiers in the file, so that equal panels give equal files."""
    from ezdxf._options import options

    before = options.write_fixed_meta_data_for_testing
    options.write_fixed_meta_data_for_testing = True
    try:
        yield
    finally:
        options.write_fixed_meta_data_for_testing = before


def _add_layer(document: Document, kind: LineKind, name: str, style: LineStyle) -> None:
    from ezdxf.colors import RGB

    layer = document.layers.add(name, color=COLOUR_NUMBERS[kind])
    layer.rgb = RGB.from_hex(style.colour or style.fill or "#000000")
    if style.dash:
        dashes = [length * (1 if index % 2 == 0 else -1) for index, length in enumerate(style.dash)]
        document.linetypes.add(name, pattern=[sum(style.dash), *dashes])
        layer.dxf.linetype = name


def _add_stroke(space: Modelspace, stroke: Stroke, layer: str, flattening: float) -> None:
    from ezdxf.math import Bezier4P, Vec3, bezier_to_bspline

    attributes = {"layer": layer}
    if stroke.straight.all() or flattening:
        points = stroke.flattened(flattening) if flattening else stroke.points
        points = points[:-1] if stroke.closed else points
        space.add_lwpolyline(points.tolist(), close=stroke.closed, dxfattribs=attributes)
        return
    curves = [Bezier4P(Vec3.list(curve)) for curve in stroke.curves.tolist()]
    spline = space.add_spline(dxfattribs=attributes)
    spline.apply_construction_tool(bezier_to_bspline(curves))
    spline.closed = stroke.closed
