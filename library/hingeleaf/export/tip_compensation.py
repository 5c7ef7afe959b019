"""Drag knives: compute the path of the knife's axis so that its trailing tip follows a line.

The tip trails the axis by a fixed offset, in the direction of travel. So the axis runs the offset
ahead of the wanted line along its tangent, and at a corner it swings about the tip until the tip
points along the next side.
"""

from __future__ import annotations

import itertools
import math

import numpy as np

from hingeleaf.export.drawing import Points

SWING = math.radians(5)
"""Largest step of a swing about a corner."""


def compensated(line: Points, offset: float) -> Points:
    """The path of the axis for the tip to follow `line`, points (n, 2) in mm.

    An offset of 0 gives the line itself. The knife is taken to point along the first side when it
    goes down.
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
            count = math.ceil(abs(turn) / SWING)
            path += [
                _ahead(corners[index + 1], angle + turn * step / count, offset)
                for step in range(1, count + 1)
            ]
    return np.array(path)


def tip_path(axis: Points, offset: float, direction: float, step: float = 0.005) -> Points:
    """Where the tip goes when the axis runs along a path, at first pointing in `direction`.

    The tip is drawn after the axis like the end of a stick (a tractrix), in steps of at most
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
    ahead: Points = place + offset * np.array([math.cos(angle), math.sin(angle)])
    return ahead
