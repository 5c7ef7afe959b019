"""Tool paths: folds scored, perforated or left out, cuts with overcut, and for drag knives.

The tip of a drag knife trails its axis by a fixed offset, in the direction of travel. So the axis
runs the offset ahead of the wanted line along its tangent, and at a corner it swings around the tip
until the tip points along the next side.
"""

import itertools
import math

import numpy as np
import shapely
from fontTools.misc.bezierTools import splitCubicAtT
from shapely import LineString
from shapely.ops import substring

from hingeleaf.export.drawing import Points, Stroke, length_of
from hingeleaf.export.options import ExportOptions, Folds


def fold_lines(lines: list[Points], options: ExportOptions) -> list[Points]:
    """The tool lines of every fold line (n, 2)."""
    if options.folds is Folds.SCORE:
        return lines
    if options.folds is Folds.NONE:
        return []
    return [dash for line in lines for dash in _dashes(line, *options.perforation)]


def _dashes(line: Points, dash: float, gap: float) -> list[Points]:
    """Dashes with a gap before, between and after them, so that no end of a fold tears open.

    Dash and gap are scaled together until a whole number fits: their ratio stays, and with one more
    gap than dashes the fold is never weaker than requested.
    """
    path = LineString(line)
    count = max(1, round((path.length - gap) / (dash + gap)))
    scale = path.length / (count * dash + (count + 1) * gap)
    starts = scale * (gap + np.arange(count) * (dash + gap))
    return [
        shapely.get_coordinates(substring(path, start, start + scale * dash))
        for start in starts.tolist()
    ]


def overcut(stroke: Stroke, length: float) -> Stroke:
    """A closed stroke extended by `length` mm, at most once around; an open one unchanged."""
    if not stroke.closed:
        return stroke
    single = [Stroke(curve[None], np.array([False]), False) for curve in stroke.curves]
    ends = np.cumsum([length_of([each]) for each in single])
    whole = int(np.searchsorted(ends, length))
    curves = [stroke.curves, stroke.curves[:whole]]
    if whole < len(ends):
        share = 1 - (ends[whole] - length) / np.diff(ends, prepend=0.0)[whole]
        first, _ = splitCubicAtT(*stroke.curves[whole], share)
        curves.append(np.array([first]))
    straight = np.append(stroke.straight, stroke.straight[: whole + 1])
    return Stroke(np.concatenate(curves), straight, closed=False)


SWING_STEP = math.radians(5)
"""Largest step of a swing at a corner, radians (our own choice)."""


def compensated(line: Points, offset: float) -> Points:
    """The path of the axis for the tip to follow `line`, points (n, 2) in mm.

    An offset of 0 returns the line. The knife is assumed to point along the first side when it is
    lowered.
    """
    steps = np.diff(line, axis=0)
    lengths = np.hypot(*steps.T)
    keep = lengths > 0
    if offset <= 0 or not keep.any():
        return line
    corners = np.concatenate([line[:1], line[1:][keep]])
    angles = np.arctan2(*(steps[keep] / lengths[keep, None]).T[::-1])
    path = [_ahead(corners[0], angles[0], offset)]
    for index, angle in enumerate(angles):
        path.append(_ahead(corners[index + 1], angle, offset))
        if index + 1 < len(angles):
            turn = math.remainder(angles[index + 1] - angle, 2 * math.pi)
            count = math.ceil(abs(turn) / SWING_STEP)
            path += [
                _ahead(corners[index + 1], angle + turn * step / count, offset)
                for step in range(1, count + 1)
            ]
    return np.array(path)


def tip_path(axis: Points, offset: float, direction: float, step: float = 0.005) -> Points:
    """The path of the tip when the axis runs along a path, at first pointing in `direction`.

    The tip follows the axis like the end of a stick being pulled (a tractrix), in steps of at most
    `step` mm. `direction` is in radians.
    """
    tip = axis[0] - offset * np.array([math.cos(direction), math.sin(direction)])
    tips = [tip]
    for start, end in itertools.pairwise(axis):
        count = max(1, math.ceil(float(np.hypot(*(end - start))) / step))
        for share in np.linspace(0, 1, count + 1)[1:]:
            centre = start + share * (end - start)
            back = tips[-1] - centre
            tips.append(centre + back * (offset / float(np.hypot(*back))))
    return np.array(tips)


def _ahead(place: Points, angle: float, offset: float) -> Points:
    return place + offset * np.array([math.cos(angle), math.sin(angle)])
