"""Draw the blade's real path over a panel: its axis, its tip, and the moves between cuts."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import shapely

from hingeleaf.export.drawing import Drawing, LineKind, Points, flatten
from hingeleaf.export.picture import Mark
from hingeleaf.export.pull_map import STRONGEST, WEAKEST
from hingeleaf.export.tip_compensation import compensated, tip_path
from hingeleaf.params import TOLERANCE

TRAVEL, AXIS, TIP = "#9aa3ad", WEAKEST, STRONGEST
THIN, WIDE = 0.08, 0.16
"""mm: half the width of the axis' and of the tip's line."""
TRAVELLED = 0.05
"""mm: half the width of the moves between cuts."""
NOT_CUT = (LineKind.GUIDES, LineKind.MARKS)


def path_marks(drawing: Drawing, origin: tuple[float, float], tip_offset: float) -> list[Mark]:
    """Moves with the blade up, the tip's path, and the axis' path on top of it, in this order.

    `origin` is the sheet's top left corner; `tip_offset` is how many mm the tip trails behind the
    axis, 0 for blades and lasers that do not trail.
    """
    strokes = [
        stroke for layer in drawing.layers if layer.kind not in NOT_CUT for stroke in layer.strokes
    ]
    if not strokes:
        return []
    lines = flatten(strokes, TOLERANCE)
    axes = [compensated(line, tip_offset) for line in lines]
    tips = [
        _tip(axis, line, tip_offset) if tip_offset > 0 else line
        for axis, line in zip(axes, lines, strict=True)
    ]
    moves = [np.array([before[-1], after[0]]) for before, after in pairwise(axes)]
    shown = [(moves, TRAVELLED, TRAVEL), (tips, WIDE, TIP)]
    if tip_offset > 0:
        shown.append((axes, THIN, AXIS))
    return [
        Mark(shapely.union_all([_drawn(path + origin, half) for path in paths]), colour)
        for paths, half, colour in shown
        if paths
    ]


def _tip(axis: Points, line: Points, offset: float) -> Points:
    x, y = axis[0] - line[0]
    return tip_path(axis, offset, math.atan2(y, x), step=offset / 4)


def _drawn(path: Points, half: float) -> shapely.Geometry:
    return shapely.simplify(shapely.linestrings(path), TOLERANCE / 2).buffer(half, quad_segs=2)
