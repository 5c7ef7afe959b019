"""Outlines as runs of cubic curves, and their flattening within a tolerance.

Everything drawn becomes cubics: a straight line is one whose control points lie on it, a
quadratic curve is raised, an arc is split so finely that its cubics are exact to 4e-6 of the
radius. So one vectorised piece of code transforms and flattens them all.
"""

from __future__ import annotations

import math
from array import array
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hingeleaf.artwork.matrices import Matrix, Points, apply

MAX_PIECES = 4096
"""No single curve is cut into more pieces than this."""
_ARC_STEP = math.pi / 4
_BLOCK = 100_000


@dataclass(frozen=True, slots=True)
class Path:
    """Subpaths one after another.

    `segments` is (n, 4, 2): start, two control points, end of each cubic. `starts` holds the
    index of each subpath's first segment, `closed` whether it ends where it began by intent.
    `vertices` says which segments end at a point that the file names, and not within an arc.
    """

    segments: Points
    starts: NDArray[np.intp]
    closed: NDArray[np.bool_]
    vertices: NDArray[np.bool_]

    def __bool__(self) -> bool:
        return len(self.segments) > 0

    def transformed(self, matrix: Matrix) -> Path:
        """The same path in another coordinate system."""
        return Path(apply(matrix, self.segments), self.starts, self.closed, self.vertices)

    def bounds(self) -> tuple[float, float, float, float]:
        """Left, top, right, bottom of all control points: never less than the curve's own."""
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
    """Draws a path with the usual pen strokes."""

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
        """Draw many straight lines, from where the pen is to each of (n, 2) points in turn."""
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
        """Draw an elliptical arc to (x, y) (SVG 2, appendix B.2, with its corrections)."""
        rx, ry = abs(rx), abs(ry)
        if rx == 0 or ry == 0 or (x == self.x and y == self.y):
            if x != self.x or y != self.y:
                self.line(x, y)
            return
        cosine, sine = math.cos(math.radians(turn)), math.sin(math.radians(turn))
        half_x, half_y = (self.x - x) / 2, (self.y - y) / 2
        u = (cosine * half_x + sine * half_y) / rx
        v = (cosine * half_y - sine * half_x) / ry
        square = u * u + v * v
        if square > 1:
            grow = math.sqrt(square)
            rx, ry, u, v, square = rx * grow, ry * grow, u / grow, v / grow, 1.0
        lift = math.sqrt(max(0.0, 1 / square - 1)) * (-1 if large == sweep else 1)
        centre_u, centre_v = lift * v, -lift * u
        start = math.atan2(v - centre_v, u - centre_u)
        span = math.atan2(-v - centre_v, -u - centre_u) - start
        if sweep and span < 0:
            span += 2 * math.pi
        elif not sweep and span > 0:
            span -= 2 * math.pi
        frame = (cosine * rx, sine * rx, -sine * ry, cosine * ry)
        middle_x, middle_y = (self.x + x) / 2, (self.y + y) / 2
        self._unit_arc(
            (
                *frame,
                middle_x + frame[0] * centre_u + frame[2] * centre_v,
                middle_y + frame[1] * centre_u + frame[3] * centre_v,
            ),
            start,
            span,
            (x, y),
        )

    def _unit_arc(
        self, matrix: Matrix, start: float, span: float, end: tuple[float, float]
    ) -> None:
        """Draw an arc of the unit circle, as `matrix` maps it."""
        a, b, c, d, e, f = matrix
        count = max(1, math.ceil(abs(span) / _ARC_STEP - 1e-9))
        step = span / count
        handle = 4 / 3 * math.tan(step / 4)
        for i in range(count):
            p, q = start + i * step, start + (i + 1) * step
            u1, v1 = math.cos(p) - handle * math.sin(p), math.sin(p) + handle * math.cos(p)
            u3, v3 = math.cos(q), math.sin(q)
            u2, v2 = u3 + handle * v3, v3 - handle * u3
            if i < count - 1:
                self._within.append(self._count)
            x, y = end if i == count - 1 else (a * u3 + c * v3 + e, b * u3 + d * v3 + f)
            self.cubic(
                a * u1 + c * v1 + e,
                b * u1 + d * v1 + f,
                a * u2 + c * v2 + e,
                b * u2 + d * v2 + f,
                x,
                y,
            )

    def close(self) -> None:
        """Draw back to where the subpath began."""
        if not self._open or self.x != self.start_x or self.y != self.start_y:
            self.line(self.start_x, self.start_y)
        self._closed[-1] = True
        self._open = False

    def path(self) -> Path:
        """What has been drawn so far."""
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

    With `reach`, lines offset by so much to either side are within the tolerance too: turns are
    cut into steps small enough for the outer edge of a stroke.
    """
    if not path:
        return []
    blocks = [path.segments[i : i + _BLOCK] for i in range(0, len(path.segments), _BLOCK)]
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
    """Each subpath that encloses something, as an (n, 2) ring whose last point is its first."""
    closed = []
    for line in flatten(path, tolerance):
        ring = line.points
        if (ring[0] != ring[-1]).any():
            ring = np.concatenate([ring, ring[:1]])
        if len(ring) > 3:
            closed.append(ring)
    return closed


def _pieces(segments: Points, tolerance: float, reach: float) -> NDArray[np.intp]:
    """How many pieces each cubic needs: Wang's bound (G. Wang, 1984), and turn by turn."""
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
    """Points on every cubic at equal steps, its start left out and its end included."""
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
