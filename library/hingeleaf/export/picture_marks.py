"""Colour areas on a picture of a panel: free space, weak places, the blade's path.

Sizes of marks are our own choice.
"""

import math
from bisect import bisect_right
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
import shapely
from shapely import LineString, Point

from hingeleaf.export.drawing import CUT, Drawing, LineKind, Points, flatten, mixed
from hingeleaf.export.picture import Mark
from hingeleaf.export.tooling import compensated, tip_path
from hingeleaf.fill.options import FillOptions
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.weak_places import listed_weak_places
from hingeleaf.paper.mechanics.formulas import PULL_LIMITS
from hingeleaf.paper.mechanics.strength import PlaceKind, WeakPlace
from hingeleaf.params import TOLERANCE

WEAKEST, STRONGEST = "#b2182b", "#2166ac"
"""Red and blue, distinguishable with all common forms of colour vision."""
MIDDLE = "#ebd796"
LINE_WIDTH, DOT_RADIUS = 1.0, 0.8
"""mm: width of lines, and radius of the dot at a slit's end."""
RING_RADIUS, RING_WIDTH = 5.0, 0.7
"""mm: radius and width of the rings around the places listed in a report."""
RING_COLOUR = "#1d1d1d"


def pull_marks(places: Sequence[WeakPlace]) -> list[Mark]:
    """Every place in its colour, the weakest on top, with a ring around those listed in a report.

    Colours follow `PULL_LIMITS`, from red (weakest) over sand to blue (strongest), so that they
    mean the same in every picture.
    """
    last = len(PULL_LIMITS)
    marks = [
        Mark(_area(place), colour_between(bisect_right(PULL_LIMITS, place.newtons) / last))
        for place in places
    ]
    rings = [
        Mark(
            Point(place.at)
            .buffer(RING_RADIUS)
            .difference(Point(place.at).buffer(RING_RADIUS - RING_WIDTH)),
            RING_COLOUR,
        )
        for place in listed_weak_places(places)
    ]
    return [*reversed(marks), *rings]


def _area(place: WeakPlace) -> shapely.Geometry:
    if place.kind is PlaceKind.SLIT_END:
        return Point(place.at).buffer(DOT_RADIUS)
    return LineString(place.line).buffer(LINE_WIDTH / 2, cap_style="flat")


def colour_between(share: float) -> str:
    """From red at 0 over sand at 0.5 to blue at 1."""
    if share < 0.5:
        return mixed(WEAKEST, MIDDLE, 2 * share)
    return mixed(MIDDLE, STRONGEST, 2 * share - 1)


BANDS = 8
"""Number of colours from the nearest to the farthest points."""
LAST_BAND_GAPS = 2.0
"""Distance, in gaps, from which points have the last colour."""


def gap_marks(panel: Panel) -> list[Mark]:
    """Areas of equal distance, from blue (within half the gap) over sand to red (two gaps).

    A panel without a known gap is judged by the default gap.
    """
    gap = FillOptions().gap if panel.gap is None else panel.gap
    taken = shapely.disjoint_subset_union_all([piece.footprint for piece in panel.pieces])
    free = shapely.difference(panel.field.area, taken)
    distances = np.linspace(0, LAST_BAND_GAPS * gap, BANDS)
    bands = [
        Mark(shapely.buffer(free, -distance), colour_between(1 - band / (BANDS - 1)))
        for band, distance in enumerate(distances)
    ]
    return [mark for mark in bands if not mark.area.is_empty]


TRAVEL, AXIS, TIP = "#9aa3ad", WEAKEST, STRONGEST
AXIS_HALF_WIDTH, TIP_HALF_WIDTH = 0.08, 0.16
"""mm: half the line widths of the axis and of the tip."""
TRAVEL_HALF_WIDTH = 0.05
"""mm: half the line width of moves between cuts."""


def path_marks(drawing: Drawing, origin: tuple[float, float], tip_offset: float) -> list[Mark]:
    """Moves with the blade up, the tip's path, and above it the axis' path, in this order.

    `origin` is the sheet's top left corner; `tip_offset` is the distance in mm by which the tip
    trails the axis, 0 for tools that do not trail.
    """
    strokes = drawing.strokes(LineKind.FOLDS, *CUT)
    if not strokes:
        return []
    lines = flatten(strokes, TOLERANCE)
    axes = [compensated(line, tip_offset) for line in lines]
    tips = [
        _tip(axis, line, tip_offset) if tip_offset > 0 else line
        for axis, line in zip(axes, lines, strict=True)
    ]
    moves = [np.array([before[-1], after[0]]) for before, after in pairwise(axes)]
    shown = [(moves, TRAVEL_HALF_WIDTH, TRAVEL), (tips, TIP_HALF_WIDTH, TIP)]
    if tip_offset > 0:
        shown.append((axes, AXIS_HALF_WIDTH, AXIS))
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
