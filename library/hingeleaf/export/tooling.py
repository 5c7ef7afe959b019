"""Tool paths: folds scored, perforated or left out, cuts with overcut, and for drag knives.

The tip of a drag knife trails its axis by a fixed offset, in the direction of travel. So the axis
runs the offset ahead of the wanted line along its tangent, and at a corner it swings around the tip
until the tip points along the next side.
"""

import itertools
import math
from dataclasses import dataclass

import numpy as np
import shapely
from fontTools.misc.bezierTools import splitCubicAtT
from shapely import LineString
from shapely.ops import substring

from hingeleaf.errors import UsageError
from hingeleaf.export.drawing import Layer, Points, Stroke, StrokeGroup


@dataclass(frozen=True, slots=True)
class Score:
    """One line, pressed or cut half through."""


@dataclass(frozen=True, slots=True)
class Perforation:
    """Dashes cut through, with gaps of paper between them, both in mm."""

    dash: float = 2.0
    gap: float = 1.0

    def __post_init__(self) -> None:
        if not (self.dash > 0 and self.gap > 0):
            raise UsageError(
                "A perforation needs a dash and a gap above 0 mm.", "Give for example 2mm and 1mm."
            )

    @classmethod
    def of_strength(cls, strength: float, dash: float = 2.0) -> "Perforation":
        """The perforation that leaves this share of the paper uncut, between 0 and 1.

        Raises UsageError for any other value.
        """
        if not 0 < strength < 1:
            raise UsageError(
                f"A fold cannot keep {strength:g} of its strength.", "Give a share like 0.35."
            )
        return cls(dash, dash * strength / (1 - strength))

    @property
    def strength(self) -> float:
        """Least share of the fold's paper that stays uncut."""
        return self.gap / (self.dash + self.gap)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """No line in the file: the hinge is found between the bridges by hand."""


Folding = Score | Perforation | LeftOut
SCORE = Score()


def fold_lines(lines: list[Points], folding: Folding) -> list[Points]:
    """The tool lines of every fold line (n, 2)."""
    if isinstance(folding, Score):
        return lines
    if isinstance(folding, LeftOut):
        return []
    return [dash for line in lines for dash in _dashes(line, folding)]


def _dashes(line: Points, perforation: Perforation) -> list[Points]:
    """Dashes with a gap before, between and after them, so that no end of a fold tears open.

    Dash and gap are scaled together until a whole number fits: their ratio stays, and with one more
    gap than dashes the fold is never weaker than requested.
    """
    path = LineString(line)
    dash, gap = perforation.dash, perforation.gap
    count = max(1, round((path.length - gap) / (dash + gap)))
    scale = path.length / (count * dash + (count + 1) * gap)
    starts = scale * (gap + np.arange(count) * (dash + gap))
    return [
        shapely.get_coordinates(substring(path, start, start + scale * dash))
        for start in starts.tolist()
    ]


def overcut(layer: Layer, length: float) -> Layer:
    """The layer with every closed stroke extended by `length` mm, at most once around."""
    return Layer(
        layer.kind,
        tuple(
            StrokeGroup(tuple(_run_on(each, length) for each in shape.strokes))
            for shape in layer.shapes
        ),
    )


def _run_on(stroke: Stroke, length: float) -> Stroke:
    if not stroke.closed:
        return stroke
    more: list[Points] = []
    here, left = stroke.start, length
    for segment in stroke.segments:
        reach = _length_of(here, segment)
        if reach >= left:
            more.append(_first_part(here, segment, left / reach))
            break
        more.append(segment)
        left -= reach
        here = segment[-1]
    return Stroke(stroke.start, (*stroke.segments, *more), closed=False)


def _length_of(here: Points, segment: Points) -> float:
    points = Stroke(here, (segment,), closed=False).flattened(0.01)
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def _first_part(here: Points, segment: Points, share: float) -> Points:
    """The start of a segment, up to a share of the curve's parameter."""
    if len(segment) == 1:
        return here + share * (segment - here)
    first, _ = splitCubicAtT(here, *segment, share)
    return np.array(first[1:])


SWING = math.radians(5)
"""Largest step of a swing at a corner, radians."""


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
            count = math.ceil(abs(turn) / SWING)
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
