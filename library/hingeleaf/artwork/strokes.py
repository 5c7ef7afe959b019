"""Strokes as areas: width, caps, joins, mitre limit and dashes (SVG 2, section 13.5).

GEOS draws the body with its buffer, whose own mitres follow another rule than SVG's; so the body
gets bevelled or round joins, and the mitre tips that the limit allows are added to it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiLineString, MultiPolygon, Polygon

from hingeleaf.artwork.paths import Path, Polyline, flatten
from hingeleaf.effort import Effort, estimated_crossings
from hingeleaf.geometry.members import area_of
from hingeleaf.geometry.winding import MANY_POINTS
from hingeleaf.model import NO_WINDOWS, Points


def dashed(
    line: Polyline, dashes: tuple[float, ...], offset: float, effort: Effort
) -> list[Polyline]:
    """The pieces of a line that a dash pattern leaves."""
    steps = np.hypot(*np.diff(line.points, axis=0).T)
    along = np.concatenate([[0.0], np.cumsum(steps)])
    pattern = np.array(dashes * (1 + len(dashes) % 2))
    period = pattern.sum()
    rounds = math.ceil(along[-1] / period) + 1
    effort.spend("dashes", rounds * len(pattern) // 2)
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


_CAPS = {"round": "round", "square": "square"}
_STRAIGHT = 1e-6
"""Sines below this do not count as corners (our own choice)."""


@dataclass(frozen=True, slots=True)
class StrokeStyle:
    """Width, caps, joins and dashes of a line, in the units of its coordinate system."""

    width: float
    cap: str = "butt"
    join: str = "miter"
    miter_limit: float = 4.0
    dashes: tuple[float, ...] = ()
    offset: float = 0.0

    @property
    def is_dashed(self) -> bool:
        """Whether the line has gaps."""
        return bool(self.dashes) and sum(self.dashes) > 0 and min(self.dashes) >= 0


def outline(
    path: Path, stroke: StrokeStyle, tolerance: float, effort: Effort | None = None
) -> MultiPolygon:
    """The area that a stroke paints, each edge within `tolerance` of the true one.

    Raises HostileArtworkError if the budget is spent.
    """
    effort = effort or Effort()
    half = stroke.width / 2
    lines = flatten(path, tolerance, half)
    effort.spend("points", sum(len(line.points) for line in lines))
    if stroke.is_dashed:
        lines = [
            piece for line in lines for piece in dashed(line, stroke.dashes, stroke.offset, effort)
        ]
    parts: list[shapely.Geometry] = []
    bodies: list[Points] = []
    steps = _quarter_steps(half, tolerance)
    for line in lines:
        points, corners = _without_repeats(line)
        if len(points) < 2:
            parts += _dot(points[0], stroke, steps)
        else:
            bodies += [points] if line.closed else _with_loose_ends(points)
            turns = line.closed or corners[1:-1].any()
            if turns and stroke.join not in ("round", "bevel"):
                parts += _mitre_tips(points, corners, line.closed, half, stroke.miter_limit)
    if bodies:
        body = MultiLineString(bodies)
        if shapely.get_num_coordinates(body) > MANY_POINTS or not shapely.is_simple(body):
            effort.spend("crossings", estimated_crossings([line.points for line in lines]))
        parts.append(
            shapely.buffer(
                body,
                half,
                quad_segs=steps,
                cap_style=_CAPS.get(stroke.cap, "flat"),
                join_style="round" if stroke.join == "round" else "bevel",
            )
        )
    if not parts:
        return NO_WINDOWS
    return area_of(parts[0] if len(parts) == 1 else shapely.union_all(parts))


def centre_lines(path: Path, stroke: StrokeStyle, tolerance: float) -> list[Points]:
    """The centre line of a stroke as polylines, ignoring dashes."""
    lines = (_without_repeats(line)[0] for line in flatten(path, tolerance, stroke.width / 2))
    return [points for points in lines if len(points) > 1]


def _without_repeats(line: Polyline) -> tuple[Points, NDArray[np.bool_]]:
    """Points and corner marks without zero-length steps (a corner mark is kept)."""
    moved = np.append(True, (np.diff(line.points, axis=0) != 0).any(axis=1))
    if moved.all():
        return line.points, line.corners
    group = np.cumsum(moved) - 1
    corners = np.bincount(group, line.corners) > 0
    return line.points[moved], corners


def _with_loose_ends(points: Points) -> list[Points]:
    """An open line, in two parts if its ends meet, which GEOS would take for an uncapped ring."""
    if (points[0] != points[-1]).any():
        return [points]
    longest = int(np.argmax(np.hypot(*np.diff(points, axis=0).T)))
    middle = points[longest : longest + 2].mean(axis=0, keepdims=True)
    before, after = points[: longest + 1], points[longest + 1 :]
    return [np.concatenate([before, middle]), np.concatenate([middle, after])]


def _dot(point: Points, stroke: StrokeStyle, steps: int) -> list[Polygon]:
    """The area painted by a line of zero length: its caps."""
    half = stroke.width / 2
    x, y = point
    if stroke.cap == "round":
        return [shapely.Point(x, y).buffer(half, quad_segs=steps)]
    if stroke.cap == "square":
        return [shapely.box(x - half, y - half, x + half, y + half)]
    return []


def _quarter_steps(radius: float, tolerance: float) -> int:
    """Pieces of a quarter circle with a sagitta within the tolerance."""
    if radius <= tolerance:
        return 2
    return min(256, max(2, math.ceil(math.pi / 4 / math.acos(1 - tolerance / radius))))


def _mitre_tips(
    points: Points, corners: NDArray[np.bool_], closed: bool, half: float, limit: float
) -> Sequence[Polygon]:
    """The tips beyond the bevels of a line's corners, where the mitre limit allows them."""
    steps = np.diff(points, axis=0)
    directions = steps / np.hypot(*steps.T)[:, None]
    if closed and (points[0] == points[-1]).all():
        before, after, at = np.roll(directions, 1, axis=0), directions, points[:-1]
        marked = corners[:-1]
    else:
        before, after, at, marked = directions[:-1], directions[1:], points[1:-1], corners[1:-1]
    cross = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    dot = (before * after).sum(axis=1)
    half_angle = np.sqrt(np.clip((1 + dot) / 2, 0, 1))
    sharp = marked & (np.abs(cross) > _STRAIGHT) & (half_angle * limit >= 1)
    side = -np.sign(cross[sharp])[:, None] * half
    first = side * np.column_stack([-before[sharp, 1], before[sharp, 0]])
    second = side * np.column_stack([-after[sharp, 1], after[sharp, 0]])
    tip = (first + second) / (1 + dot[sharp])[:, None]
    corner = at[sharp]
    tips = np.stack([corner, corner + first, corner + tip, corner + second, corner], axis=1)
    return list(shapely.polygons(tips))
