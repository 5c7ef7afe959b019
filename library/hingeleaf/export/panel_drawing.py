"""Convert a panel to the drawing that all file writers use."""

from collections.abc import Iterable, Mapping, Sequence
from functools import partial
from itertools import islice

import numpy as np
import shapely
from numpy.typing import NDArray

from hingeleaf.export.cubics import Indices
from hingeleaf.export.cut_order import choose_starts, enclosed, in_order
from hingeleaf.export.drawing import CUT, NOT_CUT, Drawing, LineKind, Points, Shape, Stroke
from hingeleaf.export.options import ExportOptions, Folds
from hingeleaf.export.tooling import fold_lines, overcut
from hingeleaf.export.tracing import trace
from hingeleaf.panel.compose import Panel

DEFAULT_OPTIONS = ExportOptions()
START_DISTANCE = 2.0
"""mm: preferred distance of a cut's start, its weakest place, from a bridge (our own choice)."""


def draw_panel(panel: Panel, options: ExportOptions = DEFAULT_OPTIONS) -> Drawing:
    """The panel's lines by kind, in mm from the sheet's top left corner, in cutting order."""
    origin = np.array(panel.origin)
    found = lines_by_kind(panel)
    found[LineKind.FOLDS] = [[line] for line in fold_lines(_flat(found[LineKind.FOLDS]), options)]
    shapes_of: dict[LineKind, list[Shape]] = {}
    for kinds in (CUT, NOT_CUT):  # folds may cross cuts, so they are traced apart
        shapes_of |= _traced({kind: found[kind] for kind in kinds}, origin, options.tolerance)
    layers = _ordered(shapes_of, _ties(panel, origin))
    perforated = options.folds is Folds.PERFORATE
    drawing = Drawing(panel.name, *panel.size, layers, perforated, panel.purpose)
    if options.overcut > 0:
        drawing = drawing.changed(partial(overcut, length=options.overcut), *CUT)
    return drawing


def lines_by_kind(panel: Panel) -> dict[LineKind, list[list[Points]]]:
    """The lines (n, 2) of each shape of each kind, in the panel's coordinates."""
    return {
        LineKind.GUIDES: _lines(panel.guides),
        LineKind.MARKS: _lines(panel.marks),
        LineKind.FOLDS: _lines(panel.cuts.folds),
        LineKind.SLITS: _lines(panel.cuts.slits),
        LineKind.WINDOWS: _rings(panel.cuts.windows),
        LineKind.EDGE: _rings(panel.sheet),
    }


def _traced(
    found: dict[LineKind, list[list[Points]]], origin: Points, tolerance: float
) -> dict[LineKind, list[Shape]]:
    """Shapes of all kinds, traced together so that lines that meet still meet."""
    lines = [line - origin for shapes in found.values() for line in _flat(shapes)]
    strokes = iter(trace(lines, tolerance))
    return {
        kind: [tuple(islice(strokes, len(shape))) for shape in shapes]
        for kind, shapes in found.items()
    }


def _lines(geometry: shapely.Geometry) -> list[list[Points]]:
    return [[shapely.get_coordinates(line)] for line in shapely.get_parts(geometry)]


def _rings(geometry: shapely.Geometry) -> list[list[Points]]:
    """Holes before the ring around them, since inside cuts come first."""
    return [
        [shapely.get_coordinates(ring) for ring in (*area.interiors, area.exterior)]
        for area in shapely.get_parts(geometry)
    ]


def _flat(shapes: Iterable[list[Points]]) -> list[Points]:
    return [line for shape in shapes for line in shape]


def _ties(panel: Panel, origin: Points) -> NDArray[np.object_]:
    ties: NDArray[np.object_] = shapely.get_parts([piece.ties for piece in panel.pieces])
    if len(ties):
        ties = shapely.transform(ties, lambda points: points - origin)
    return ties


def _ordered(
    shapes: dict[LineKind, list[Shape]], ties: NDArray[np.object_]
) -> dict[LineKind, list[Shape]]:
    """The shapes of each kind in cutting order, and the kinds in working order."""
    layers, at = {}, 0j
    for kind in kinds_in_order(shapes):
        ordered = in_order(shapes[kind], at)
        strokes = [stroke for shape in ordered for stroke in shape]
        turned = iter(choose_starts(strokes, _starts(strokes, ties), at))
        layers[kind] = [tuple(islice(turned, len(shape))) for shape in ordered]
        at = complex(*layers[kind][-1][-1].end)
    return layers


def kinds_in_order(shapes: Mapping[LineKind, Sequence[Shape]]) -> list[LineKind]:
    """The kinds of which there are shapes, in working order.

    Slits come before windows, unless more windows lie within slits than slits within windows.
    """
    slits, windows = shapes[LineKind.SLITS], shapes[LineKind.WINDOWS]
    kinds = [*NOT_CUT, *CUT]
    if enclosed(windows, slits) > enclosed(slits, windows):
        kinds = [*NOT_CUT, LineKind.WINDOWS, LineKind.SLITS, LineKind.EDGE]
    return [kind for kind in kinds if shapes[kind]]


def _starts(strokes: Sequence[Stroke], ties: NDArray[np.object_]) -> list[Indices]:
    """The nodes of every closed stroke that are clear of bridges, else the farthest one."""
    nodes = [stroke.nodes for stroke in strokes]
    if not len(ties) or not strokes:
        return [np.arange(len(points) - 1) for points in nodes]
    points = shapely.points(np.concatenate(nodes))
    near = shapely.STRtree(ties).query_nearest(points, return_distance=True, all_matches=False)
    splits = np.cumsum([len(points) for points in nodes])[:-1]
    return [_clear(distance[:-1]) for distance in np.split(near[1], splits)]


def _clear(distance: Points) -> Indices:
    clear = np.flatnonzero(distance >= START_DISTANCE)
    return clear if len(clear) else np.array([int(np.argmax(distance))])
