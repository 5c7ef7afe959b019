"""Paths as cubic curves, and their flattening within a tolerance.

Everything drawn becomes cubics: a straight line has its control points on it, a quadratic curve is
raised, an arc is split (by svgelements) so finely that its cubics are exact to 3e-6 of the radius.
So the same vectorised code transforms and flattens all of them.
"""

import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from svgelements import Arc

from hingeleaf.artwork.matrices import Matrix, apply
from hingeleaf.model import Points

MAX_PIECES = 4096
"""Greatest number of pieces of a single curve (our own choice)."""
ARC_STEP = math.pi / 6
"""Greatest angle of one cubic of an arc: an error below 3e-6 of the radius."""
_BATCH_SIZE = 100_000
"""Number of segments flattened at a time."""


@dataclass(frozen=True, slots=True)
class Path:
    """Subpaths, one after another.

    `segments` is (n, 4, 2): start, two control points, end of each cubic. `starts` holds the index
    of each subpath's first segment, `closed` whether it was closed explicitly. `vertices` marks the
    segments that end at a point named in the file, not within an arc.
    """

    segments: Points
    starts: NDArray[np.intp]
    closed: NDArray[np.bool_]
    vertices: NDArray[np.bool_]

    def __bool__(self) -> bool:
        return len(self.segments) > 0

    def transformed(self, matrix: Matrix) -> "Path":
        """The path transformed by a matrix."""
        return Path(apply(matrix, self.segments), self.starts, self.closed, self.vertices)

    def bounds(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of all control points, which contain the curve."""
        points = self.segments.reshape(-1, 2)
        left, top = points.min(axis=0)
        right, bottom = points.max(axis=0)
        return float(left), float(top), float(right), float(bottom)


@dataclass(frozen=True, slots=True)
class Polyline:
    """A flattened subpath; `corners` marks the points where one segment ends and another begins."""

    points: Points
    corners: NDArray[np.bool_]
    closed: bool


class PathBuilder:
    """Builds a path from move, line, curve and close commands."""

    def __init__(self) -> None:
        self._numbers = array("d")
        self._starts: list[int] = []
        self._closed: list[bool] = []
        self._within: list[int] = []
        self._count = 0
        self._open = False
        self.x = self.y = self.start_x = self.start_y = 0.0

    def move(self, x: float, y: float) -> None:
        """Begin a subpath."""
        self.x, self.y = self.start_x, self.start_y = x, y
        self._open = False

    def line(self, x: float, y: float) -> None:
        """Draw a straight line to (x, y)."""
        across, down = (x - self.x) / 3, (y - self.y) / 3
        self.cubic(self.x + across, self.y + down, x - across, y - down, x, y)

    def cubic(self, x1: float, y1: float, x2: float, y2: float, x: float, y: float) -> None:
        """Draw a cubic curve to (x, y)."""
        if not self._open:
            self._starts.append(self._count)
            self._closed.append(False)
            self._open = True
        self._numbers.extend((self.x, self.y, x1, y1, x2, y2, x, y))
        self._count += 1
        self.x, self.y = x, y

    def cubics(self, points: Points) -> None:
        """Draw many cubic curves: (n, 3, 2) holds two control points and the end of each."""
        if not self._open:
            self.cubic(*points[0].ravel())
            points = points[1:]
        starts = np.concatenate([[[self.x, self.y]], points[:-1, 2]])
        self._numbers.frombytes(np.concatenate([starts[:, None], points], axis=1).tobytes())
        self._count += len(points)
        self.x, self.y = map(float, points[-1, 2])

    def lines(self, points: Points) -> None:
        """Draw straight lines from the current point to each of (n, 2) points in turn."""
        before = np.concatenate([[[self.x, self.y]], points[:-1]])
        third = (points - before) / 3
        self.cubics(np.stack([before + third, points - third, points], axis=1))

    def quadratic(self, x1: float, y1: float, x: float, y: float) -> None:
        """Draw a quadratic curve to (x, y)."""
        self.cubic(
            (self.x + 2 * x1) / 3,
            (self.y + 2 * y1) / 3,
            (x + 2 * x1) / 3,
            (y + 2 * y1) / 3,
            x,
            y,
        )

    def arc(
        self, rx: float, ry: float, turn: float, large: bool, sweep: bool, x: float, y: float
    ) -> None:
        """Draw an elliptical arc to (x, y) (SVG 2, section 9.5.1).

        A radius whose square underflows counts as 0, which makes a straight line.
        """
        rx, ry = abs(rx), abs(ry)
        if rx * rx == 0 or ry * ry == 0 or (x == self.x and y == self.y):
            if x != self.x or y != self.y:
                self.line(x, y)
            return
        whole = Arc((self.x, self.y), rx, ry, turn, large, sweep, (x, y))
        count = max(1, math.ceil(abs(whole.sweep) / ARC_STEP - 1e-9))
        *within, last = whole.as_cubic_curves(count)
        for curve in within:
            self._within.append(self._count)
            (x1, y1), (x2, y2), (x3, y3) = curve.control1, curve.control2, curve.end
            self.cubic(x1, y1, x2, y2, x3, y3)
        (x1, y1), (x2, y2) = last.control1, last.control2
        self.cubic(x1, y1, x2, y2, x, y)

    def close(self) -> None:
        """Draw back to the start of the subpath."""
        if not self._open or self.x != self.start_x or self.y != self.start_y:
            self.line(self.start_x, self.start_y)
        self._closed[-1] = True
        self._open = False

    def path(self) -> Path:
        """The path drawn so far."""
        vertices = np.ones(self._count, dtype=bool)
        vertices[self._within] = False
        return Path(
            np.frombuffer(self._numbers, dtype=np.float64).reshape(-1, 4, 2),
            np.array(self._starts, dtype=np.intp),
            np.array(self._closed, dtype=np.bool_),
            vertices,
        )


def flatten(path: Path, tolerance: float, reach: float = 0.0) -> list[Polyline]:
    """Each subpath as a polyline within `tolerance` of the curve.

    With `reach`, lines offset by that distance to either side are within the tolerance too: turns
    are divided into steps small enough for the outer edge of a stroke.
    """
    if not path:
        return []
    blocks = [path.segments[i : i + _BATCH_SIZE] for i in range(0, len(path.segments), _BATCH_SIZE)]
    block_counts = [_pieces(block, tolerance, reach) for block in blocks]
    counts = np.concatenate(block_counts)
    points = np.concatenate([_sample(*block) for block in zip(blocks, block_counts, strict=True)])
    ends = np.cumsum(counts)
    corners = np.zeros(len(points), dtype=bool)
    corners[ends - 1] = True
    firsts = np.concatenate([[0], ends])[path.starts]
    lasts = np.append(firsts[1:], len(points))
    lines = []
    for start, first, last, closed in zip(path.starts, firsts, lasts, path.closed, strict=True):
        line = np.concatenate([path.segments[start, :1], points[first:last]])
        lines.append(Polyline(line, np.append(True, corners[first:last]), bool(closed)))
    return lines


def rings(path: Path, tolerance: float) -> list[Points]:
    """Each subpath that encloses an area, as an (n, 2) ring whose last point is its first."""
    closed = []
    for line in flatten(path, tolerance):
        ring = line.points
        if (ring[0] != ring[-1]).any():
            ring = np.concatenate([ring, ring[:1]])
        if len(ring) > 3:
            closed.append(ring)
    return closed


def _pieces(segments: Points, tolerance: float, reach: float) -> NDArray[np.intp]:
    """Number of pieces for each cubic: by Wang's bound (G. Wang, 1984), and by turn."""
    legs = np.diff(segments, axis=1)
    bends = np.diff(legs, axis=1)
    bend = np.hypot(bends[..., 0], bends[..., 1]).max(axis=1)
    counts = np.sqrt(0.75 * bend / tolerance)
    if reach > tolerance:
        cross = legs[:, :-1, 0] * legs[:, 1:, 1] - legs[:, :-1, 1] * legs[:, 1:, 0]
        dot = (legs[:, :-1] * legs[:, 1:]).sum(axis=2)
        turn = np.abs(np.arctan2(cross, dot)).sum(axis=1)
        counts = np.maximum(counts, turn / (2 * math.acos(1 - tolerance / reach)))
    pieces: NDArray[np.intp] = np.clip(np.ceil(counts), 1, MAX_PIECES).astype(np.intp)
    return pieces


def _sample(segments: Points, counts: NDArray[np.intp]) -> Points:
    """Points on every cubic at equal parameter steps, without its start, with its end."""
    index = np.repeat(np.arange(len(segments)), counts)
    before = np.repeat(np.cumsum(counts) - counts, counts)
    t = ((np.arange(len(index)) - before + 1) / counts[index])[:, None]
    u = 1 - t
    p0, p1, p2, p3 = (segments[index, i] for i in range(4))
    sampled: Points = u * u * u * p0 + 3 * u * u * t * p1 + 3 * u * t * t * p2 + t * t * t * p3
    return sampled


def polygon_path(points: Sequence[tuple[float, float]], closed: bool) -> Path:
    """A path of straight lines."""
    builder = PathBuilder()
    builder.move(*points[0])
    for x, y in points[1:]:
        builder.line(x, y)
    if closed:
        builder.close()
    return builder.path()
