"""Closed cuts that run on past their start, for knives whose tip trails behind the tool."""

from __future__ import annotations

import numpy as np

from hingeleaf.export.drawing import Layer, Points, Shape, Stroke


def overcut(layer: Layer, length: float) -> Layer:
    """The layer with every closed stroke run on by `length` mm, at most once around."""
    return Layer(
        layer.kind,
        tuple(
            Shape(tuple(_run_on(each, length) for each in shape.strokes)) for shape in layer.shapes
        ),
    )


def _run_on(stroke: Stroke, length: float) -> Stroke:
    if not stroke.closed:
        return stroke
    more: list[Points] = []
    here, left = stroke.start, length
    for segment in stroke.segments:
        reach = _length(here, segment)
        if reach >= left:
            more.append(_first_part(here, segment, left / reach))
            break
        more.append(segment)
        left -= reach
        here = segment[-1]
    return Stroke(stroke.start, (*stroke.segments, *more), closed=False)


def _length(here: Points, segment: Points) -> float:
    points = Stroke(here, (segment,), closed=False).flattened(0.01)
    return float(np.hypot(*np.diff(points, axis=0).T).sum())


def _first_part(here: Points, segment: Points, share: float) -> Points:
    """A segment up to a share of it (de Casteljau); the share is taken of the curve's parameter."""
    if len(segment) == 1:
        return here + share * (segment - here)
    first = np.vstack([here, segment])
    controls = []
    while len(first) > 1:
        first = first[:-1] + share * (first[1:] - first[:-1])
        controls.append(first[0])
    part: Points = np.array(controls)
    return part
