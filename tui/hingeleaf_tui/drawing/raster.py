"""Rasterize areas (scan lines, even-odd) and lines."""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from hingeleaf.geometry.members import Polylines, line_points, ring_points
from hingeleaf.geometry.silhouette import Shape
from hingeleaf_tui.drawing.view import View

Dots = NDArray[np.bool_]
Points = NDArray[np.float64]


def fill(area: Shape, view: View) -> Dots:
    """The dots (height, width) whose centres are inside the polygons of `area`."""
    starts, ends = _segments(ring_points(area), view)
    upward = starts[:, 1] > ends[:, 1]
    starts[upward], ends[upward] = ends[upward], starts[upward].copy()
    first = np.clip(np.ceil(starts[:, 1] - 0.5), 0, view.height).astype(np.int64)
    last = np.clip(np.ceil(ends[:, 1] - 0.5), 0, view.height).astype(np.int64)
    edge, row = _spread(first, last - first)
    slope = (ends[edge, 0] - starts[edge, 0]) / (ends[edge, 1] - starts[edge, 1])
    crossing = starts[edge, 0] + (row + 0.5 - starts[edge, 1]) * slope
    column = np.clip(np.ceil(crossing - 0.5), 0, view.width).astype(np.int64)
    stride = view.width + 1
    toggles = np.bincount(row * stride + column, minlength=view.height * stride)
    parity = np.cumsum(toggles.reshape(view.height, stride), axis=1) & 1
    return parity[:, :-1].astype(np.bool_)


def cover(area: Shape, view: View, least: float = 0.35, fine: int = 3) -> Dots:
    """The dots of which at least the share `least` is inside the polygons of `area`.

    Sampled at `fine` × `fine` points per dot, so that thin shapes are not broken.
    """
    if fine == 1:
        return fill(area, view)
    closer = replace(view, dot=view.dot / fine, width=view.width * fine, height=view.height * fine)
    points = fill(area, closer).reshape(view.height, fine, view.width, fine)
    dots: Dots = points.sum(axis=(1, 3)) >= least * fine * fine
    return dots


def trace(lines: Shape, view: View, dash: int = 0) -> Dots:
    """The dots that lines, or the outlines of areas, pass through.

    With a `dash` of n, every second run of n dots is omitted.
    """
    dots = np.zeros((view.height, view.width), dtype=np.bool_)
    pieces = line_points(lines)
    if len(pieces[0]) == 0:
        return dots
    starts, ends = _clip(*_segments(pieces, view), view)
    steps = np.ceil(np.abs(ends - starts).max(axis=1)).astype(np.int64) + 1
    segment, step = _spread(np.zeros(len(steps), dtype=np.int64), steps)
    along = step / np.maximum(steps[segment] - 1, 1)
    points = starts[segment] + (ends - starts)[segment] * along[:, None]
    if dash:
        lengths = np.hypot(*(ends - starts).T)
        before = np.concatenate([[0.0], np.cumsum(lengths)[:-1]]) if len(lengths) else lengths
        run = before[segment] + along * lengths[segment]
        points = points[(run // dash).astype(np.int64) % 2 == 0]
    column, row = np.floor(points).astype(np.int64).T
    inside = (column >= 0) & (column < view.width) & (row >= 0) & (row < view.height)
    dots[row[inside], column[inside]] = True
    return dots


def hatch(dots: Dots, every: int = 4) -> Dots:
    """Only those of `dots` that are on every `every`-th diagonal: a light grey."""
    rows, columns = np.indices(dots.shape)
    chosen: Dots = dots & ((rows + columns) % every == 0)
    return chosen


def _segments(lines: Polylines, view: View) -> tuple[Points, Points]:
    """Start and end (n, 2) of every segment, in dots."""
    points, owner = lines
    points = view.dots(points)
    joined = owner[1:] == owner[:-1]
    return points[:-1][joined].copy(), points[1:][joined].copy()


def _clip(starts: Points, ends: Points, view: View) -> tuple[Points, Points]:
    """Clip segments to the view (Liang and Barsky 1984), dropping those outside."""
    delta = ends - starts
    limits = np.array([view.width, view.height], dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        low, high = -starts / delta, (limits - starts) / delta
    parallel = delta == 0
    inside = (starts >= 0) & (starts <= limits)
    enter = np.where(parallel, np.where(inside, 0.0, 2.0), np.minimum(low, high)).max(axis=1)
    leave = np.where(parallel, 1.0, np.maximum(low, high)).min(axis=1)
    enter, leave = np.maximum(enter, 0.0), np.minimum(leave, 1.0)
    keep = enter <= leave
    starts, delta = starts[keep], delta[keep]
    return starts + delta * enter[keep, None], starts + delta * leave[keep, None]


def _spread(
    first: NDArray[np.int64], counts: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Expand ranges: for every index, `counts` integers from `first` on, as (index, integer)
    pairs."""
    counts = np.maximum(counts, 0)
    owner = np.repeat(np.arange(len(counts)), counts)
    before = np.repeat(np.cumsum(counts) - counts, counts)
    return owner, np.arange(len(owner)) - before + first[owner]
