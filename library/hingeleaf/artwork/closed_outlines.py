"""Close outlines from lines that meet end to end, for DXF and for hairlines in SVG."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, MultiPolygon, Polygon

from hingeleaf.effort import Effort
from hingeleaf.geometry.members import connected_groups
from hingeleaf.geometry.winding import painted_area
from hingeleaf.model import NO_WINDOWS, Points

SAME_POINT = 1e-4
"""Ends nearer than this share of the drawing's length are the same point (our own choice)."""
_MIN_LOOP = 4
"""Least length, in gaps, of a line that is closed on itself (our own choice)."""
_NEIGHBOURS = 4
"""Number of neighbouring ends considered for each end (our own choice)."""
_GUIDE_DEVIATION = 0.02
"""Greatest deviation of a guide from a rectangle around everything, as a share of it (our own
choice)."""
GUIDE_LEFT_OUT = "A rectangle around everything is treated as a guide and left out"
GUIDE_REMEDY = "Include it with --guides."


@dataclass(frozen=True, slots=True)
class Enclosed:
    """The area that lines enclose by the even-odd rule, open lines, and the number of guides."""

    area: MultiPolygon
    open_lines: list[LineString]
    guides: int = 0


def enclosed(
    lines: Sequence[Points],
    meet: float,
    gap: float,
    *,
    around: Points | None = None,
    alone: bool = True,
    effort: Effort | None = None,
) -> Enclosed:
    """The area that closed lines enclose. An outline drawn twice counts once.

    Ends nearer than `meet` are one point; gaps up to `gap` between lines that are still open are
    closed by a straight line. Upright rectangles that match the box `around` ((2, 2): the whole
    drawing's corners) are guides and left out, except one that is `alone`.
    """
    closed, loose = _joined(_meeting(list(lines), meet))
    if loose and gap > meet:
        rings, loose = _joined([shapely.get_coordinates(x) for x in (*loose, *_links(loose, gap))])
        closed += rings
    closed = _each_once(closed, meet)
    inner = closed if around is None else [ring for ring in closed if not _is_guide(ring, around)]
    if alone and not inner and not loose:
        inner = closed
    area = painted_area(inner, even_odd=True, effort=effort) if inner else NO_WINDOWS
    return Enclosed(area, loose, len(closed) - len(inner))


def _is_guide(ring: Points, around: Points) -> bool:
    """Whether a ring is an upright rectangle with the extent of the whole drawing."""
    low, high = ring.min(axis=0), ring.max(axis=0)
    slack = (high - low).max() * _GUIDE_DEVIATION
    reaches = (low <= around[0] + slack).all() and (high >= around[1] - slack).all()
    return bool(reaches and Polygon(ring).area >= (1 - _GUIDE_DEVIATION) * (high - low).prod())


def _joined(lines: Iterable[Points]) -> tuple[list[Points], list[LineString]]:
    """Rings from lines that are closed or meet end to end, and the lines that stay open."""
    closed: list[Points] = []
    open_lines: list[LineString] = []
    for line in lines:
        if len(line) > 3 and (line[0] == line[-1]).all():
            closed.append(line)
        elif len(line) > 1 and (line != line[0]).any():
            open_lines.append(LineString(line))
    loose = []
    for part in shapely.get_parts(shapely.line_merge(MultiLineString(open_lines))):
        if part.is_ring:
            closed.append(shapely.get_coordinates(part))
        elif isinstance(part, LineString) and not part.is_empty:
            loose.append(part)
    return closed, loose


def _each_once(rings: list[Points], meet: float) -> list[Points]:
    """The rings without those drawn over another, which would cancel it."""
    if len(rings) < 2:
        return rings
    snapped = shapely.set_precision([Polygon(ring) for ring in rings], meet, mode="pointwise")
    marks = shapely.to_wkb(shapely.normalize(snapped))
    return list(dict(zip(marks, rings, strict=True)).values())


def _near(ends: Points, distance: float) -> NDArray[np.intp]:
    """Pairs of points nearer to each other than a distance, nearest first; (n, 2)."""
    count = min(_NEIGHBOURS, len(ends))
    apart, other = scipy.spatial.KDTree(ends).query(
        ends, k=range(1, count + 1), distance_upper_bound=distance
    )
    first = np.broadcast_to(np.arange(len(ends))[:, None], other.shape)
    found = np.isfinite(apart) & (first < other)
    order = np.argsort(apart[found], kind="stable")
    return np.column_stack([first[found], other[found]])[order]


def _meeting(lines: list[Points], meet: float) -> list[Points]:
    """The lines with ends that nearly meet moved to the first of them."""
    ends = np.concatenate([line[[0, -1]] for line in lines]) if lines else np.empty((0, 2))
    places, place = np.unique(ends, axis=0, return_inverse=True)
    pairs = _near(places, meet) if len(places) > 1 else np.empty((0, 2), dtype=np.intp)
    if not len(pairs):
        return lines
    group = connected_groups(pairs, len(places))
    first = np.unique(group, return_index=True)[1]
    moved = places[first[group[place.ravel()]]].reshape(-1, 2, 2)
    return [
        np.concatenate([ends[:1], line[1:-1], ends[1:]]) if len(line) > 2 else ends
        for line, ends in zip(lines, moved, strict=True)
    ]


def _links(loose: list[LineString], gap: float) -> list[LineString]:
    """Straight lines across the gaps between open lines, each end used once, nearest first."""
    ends = np.array([(line.coords[0], line.coords[-1]) for line in loose]).reshape(-1, 2)
    used: set[int] = set()
    links = []
    for one, other in _near(ends, gap).tolist():
        itself = one // 2 == other // 2 and loose[one // 2].length <= _MIN_LOOP * gap
        if one not in used and other not in used and not itself:
            used |= {one, other}
            links.append(LineString(ends[[one, other]]))
    return links
