"""Split a stroke into dashes by its dash pattern (SVG 2, section 13.5.6)."""

from __future__ import annotations

import math

import numpy as np

from hingeleaf.artwork.paths import Path, Polyline, flatten
from hingeleaf.effort import Effort
from hingeleaf.model import Points


def dashed(
    line: Polyline, dashes: tuple[float, ...], offset: float, effort: Effort
) -> list[Polyline]:
    """The pieces of a line that a dash pattern leaves."""
    steps = np.hypot(*np.diff(line.points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    pattern = np.array(dashes * (1 + len(dashes) % 2))
    period = pattern.sum()
    rounds = math.ceil(along[-1] / period) + 1
    effort.spend_dashes(rounds * len(pattern) // 2)
    begin = -(offset % period)
    ends = begin + np.cumsum(np.tile(pattern, rounds + 1))
    starts = np.concatenate([[begin], ends[:-1]])
    pieces = [
        _stretch_of(line, along, max(start, 0.0), min(end, along[-1]))
        for start, end in zip(starts[::2], ends[::2], strict=False)
        if end >= 0 and start <= along[-1] and (end > 0 or start == end == 0)
    ]
    return _joined_at_seam(pieces) if line.closed and len(pieces) > 1 else pieces


def _joined_at_seam(pieces: list[Polyline]) -> list[Polyline]:
    """The pieces of a closed line, with the last and first joined if they meet."""
    first, last = pieces[0], pieces[-1]
    if (first.points[0] != last.points[-1]).any():
        return pieces
    points = np.concatenate([last.points, first.points[1:]])
    corners = np.concatenate([last.corners, first.corners[1:]])
    return [*pieces[1:-1], Polyline(points, corners, closed=False)]


def _stretch_of(line: Polyline, along: Points, start: float, end: float) -> Polyline:
    inside = (along > start) & (along < end)
    edges = np.array([start, end])
    cuts = np.column_stack([np.interp(edges, along, line.points[:, axis]) for axis in (0, 1)])
    points = np.concatenate([cuts[:1], line.points[inside], cuts[1:]])
    corners = np.concatenate([[True], line.corners[inside], [True]])
    return Polyline(points, corners, closed=False)


def stretched(path: Path, path_length: float, tolerance: float) -> float:
    """Ratio of a path's length to its stated length, in which its dashes are measured."""
    true = sum(np.hypot(*np.diff(line.points, axis=0).T).sum() for line in flatten(path, tolerance))
    return float(true) / path_length
