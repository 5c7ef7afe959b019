"""Hinges: fold lines and the flaps they carry, found by a flood fill from each fold line.

Fold lines are proposed between neighbouring bridges of a part and across the mouths of open slits
and windows. A fold line whose flap is joined to the sheet elsewhere is locked.
"""

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LinearRing, LineString, MultiLineString, Point, Polygon

from hingeleaf.geometry.members import GRID, SPECK, lines_of, slits_of
from hingeleaf.geometry.ray_casting import Floats
from hingeleaf.model import NO_LINES, XY, Bridge, Cuts, Finding, HoldStyle, Severity
from hingeleaf.paper.bridges import lay_bridges, strips
from hingeleaf.paper.clean_cuts import clean, sheet_around
from hingeleaf.paper.fold_flood import Flood, Line, largest_of, unit_along
from hingeleaf.paper.open_flaps import find_mouths
from hingeleaf.paper.parts import Part, Parts, find_parts
from hingeleaf.units import format_mm

MIN_REACH = 4.0
"""mm: flaps with less reach cannot be folded cleanly (common practice, no source)."""
SHORT_HINGE = 1 / 4
"""A hinge shorter than this share of its flap's reach may tear (common practice, no source)."""
HINGE_TOL = 0.1
"""mm by which a hinge may run outside its part, since a flattened edge is never quite straight."""
MIN_FLAP_SHARE = 0.1
"""A stretch of outline with a flap below this share of the part's largest stays flat."""
MIN_PART_SHARE = 0.1
"""Parts below this share of the largest loose part's area are details: they stay flat."""
SAME_FLAP_SHARE = 0.5
"""Flaps that share more than this of the larger one's area count as one (our own choice)."""
LOCKED_FLAP = "locked-flap"
"""Kind of finding: a flap that is joined to paper which does not fold with it."""


@dataclass(frozen=True, slots=True)
class Hinge:
    """A fold line and its flap, as it lies flat."""

    line: Line
    flap: Polygon
    reach: float
    """mm from the fold line to the flap's farthest point."""

    @classmethod
    def of(cls, line: Line, flap: Polygon) -> "Hinge":
        """The hinge of a flap, with its reach measured."""
        across = _signed_distances(line, shapely.get_coordinates(flap))
        return cls(line, flap, float(np.abs(across).max(initial=0.0)))

    @property
    def length(self) -> float:
        """mm: length of the fold line."""
        return math.dist(*self.line)

    @property
    def middle(self) -> XY:
        """The middle of the fold line."""
        (x, y), (to_x, to_y) = self.line
        return (x + to_x) / 2, (y + to_y) / 2

    def lift(self, opening: float) -> float:
        """Height in mm of the flap's highest point above the sheet: reach × sin(opening).

        `opening` is the angle in degrees between flap and sheet; beyond 90° the height at 90°
        counts.
        """
        return self.reach * math.sin(math.radians(min(max(opening, 0.0), 90.0)))


@dataclass(frozen=True, slots=True)
class Hinges:
    """All hinges of some cuts, and findings about those that cannot fold or may tear."""

    hinges: tuple[Hinge, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def folds(self) -> MultiLineString:
        """The fold lines."""
        return MultiLineString([hinge.line for hinge in self.hinges]) if self.hinges else NO_LINES

    def scaled(self, by: float) -> "Hinges":
        """The same hinges scaled by a factor about the origin."""

        def grown(place: XY) -> XY:
            return place[0] * by, place[1] * by

        return Hinges(
            tuple(
                Hinge(
                    (grown(hinge.line[0]), grown(hinge.line[1])),
                    shapely.transform(hinge.flap, lambda points: points * by),
                    hinge.reach * by,
                )
                for hinge in self.hinges
            ),
            tuple(replace(each, at=each.at and grown(each.at)) for each in self.findings),
        )


def find_hinges(
    cuts: Cuts,
    bridges: Sequence[Bridge] = (),
    hold: HoldStyle = HoldStyle.TONGUE,
    sheet: Polygon | None = None,
    *,
    least_reach: float = MIN_REACH,
    bridged_cuts: Cuts | None = None,
) -> Hinges:
    """The hinges of artwork with bridges that are not yet subtracted from its cuts.

    A part has one flap for every stretch of its outline between two neighbouring bridges; the hinge
    is the straight line between their facing edges. In the style *door* only the largest flap
    lifts. A part with one bridge hinges across it. An open slit hinges across its mouth, and in the
    style *tongue*, where bridges make no hinge, so does paper that hangs on one neck or lies inside
    an open window. Nothing lifts in the styles *rigid* and *flat*.

    Flaps with less reach than `least_reach` mm are left out. A hinge that would leave its part,
    cross a window, or carry a flap joined to the sheet elsewhere is reported as a finding instead.
    `bridged_cuts` are the cuts without what lies under the bridges, if they are known already.
    """
    if not hold.lifts:
        return Hinges()
    cuts, _ = clean(cuts)
    sheet = sheet if sheet is not None else sheet_around(cuts)
    parts = find_parts(cuts, sheet, bridges=bridges) if bridges else None
    tied_parts = [part for part in parts.parts if part.hops > 0] if parts else []
    proposed, findings = _between_bridges(parts, tied_parts, bridges, hold) if parts else ([], [])
    bridged_cuts = bridged_cuts or lay_bridges(cuts, bridges)
    necks = hold is HoldStyle.TONGUE and not proposed
    mouths = find_mouths(bridged_cuts, sheet, tied_parts, proposed, necks=necks)
    flood = Flood(bridged_cuts, sheet, [*proposed, *mouths])
    hinges: list[Hinge] = []
    for index, line in enumerate(proposed):
        flap = flood.flap(index) or Flood(bridged_cuts, sheet, proposed, kerf=0.0).flap(index)
        if flap is None:
            findings.append(_locked_finding(line, cuts, bridges, sheet))
        else:
            hinges.append(Hinge.of(line, flap))
    hinges += _mouth_hinges(mouths, flood, len(proposed), hinges)
    hinges = [hinge for hinge in hinges if hinge.reach >= least_reach]
    findings += [
        _short_finding(hinge) for hinge in hinges if hinge.length < SHORT_HINGE * hinge.reach
    ]
    return Hinges(tuple(hinges), tuple(findings))


def _signed_distances(line: Line, points: Floats) -> Floats:
    """(n,): signed distances of points from a line."""
    x, y = unit_along(line)
    across: Floats = (points - line[0]) @ np.array([-y, x])
    return across


def _between_bridges(
    parts: Parts, tied_parts: list[Part], bridges: Sequence[Bridge], hold: HoldStyle
) -> tuple[list[Line], list[Finding]]:
    """The fold lines of hung parts, and findings for those blocked; details fold only as doors."""
    lines: list[Line] = []
    findings: list[Finding] = []
    door = hold is HoldStyle.DOOR
    largest = max((part.polygon.area for part in tied_parts), default=0.0)
    for part in tied_parts:
        if not door and part.polygon.area < MIN_PART_SHARE * largest:
            continue
        for line in _fold_lines(part, parts, bridges, most=1 if door else len(bridges)):
            blocked = _blocked_finding(LineString(line), part.polygon)
            if blocked:
                findings.append(blocked)
            else:
                lines.append(line)
    return lines, findings


def _fold_lines(part: Part, parts: Parts, bridges: Sequence[Bridge], most: int) -> Iterator[Line]:
    """One line for each stretch of a part's outline that may fold between bridges to the sheet.

    At most the `most` largest are given, without stretches of negligible area.
    """
    outline = part.polygon.exterior
    supports = [
        _Support.under(outline, bridges[tie.bridge], tie.at)
        for tie in part.ties
        if parts.parts[tie.other].hops <= part.hops
    ]
    arcs = [_arc(outline, *stretch) for stretch in _free_stretches(supports, outline.length)]
    areas = [_enclosed(arc) for arc in arcs]
    for index in sorted(range(len(arcs)), key=lambda index: -areas[index])[:most]:
        if areas[index] <= SPECK or areas[index] < MIN_FLAP_SHARE * max(areas):
            break
        (x, y), (to_x, to_y) = arcs[index][[0, -1]].tolist()
        yield (x, y), (to_x, to_y)


@dataclass(frozen=True, slots=True)
class _Support:
    """Where a bridge holds a part: positions along its outline from start to end."""

    start: float
    end: float
    folds: tuple[bool, bool]
    """Whether the paper next to the bridge may fold: before the start, beyond the end."""

    @classmethod
    def under(cls, outline: LinearRing, bridge: Bridge, at: XY) -> "_Support":
        """The support of a bridge that meets a part's outline `at`."""
        covered = slits_of(shapely.intersection(outline, strips([bridge], beyond=0.5)[0]))
        if covered.is_empty:
            place = outline.project(Point(at))
            return cls(place, place, bridge.folds)
        stretches = shapely.get_parts(covered)
        stretch = stretches[int(np.argmin(shapely.distance(stretches, Point(at))))]
        points = shapely.line_interpolate_point(stretch, [0.0, 0.5, 1.0], normalized=True)
        start, middle, end = shapely.line_locate_point(outline, points).tolist()
        angle = math.radians(bridge.direction)
        off = shapely.get_coordinates(points) - bridge.at
        right = off @ np.array([-math.sin(angle), math.cos(angle)]) > 0
        folds = bridge.folds[int(right[0])], bridge.folds[int(right[2])]
        forward = (middle - start) % outline.length <= (end - start) % outline.length
        return cls(start, end, folds) if forward else cls(end, start, folds[::-1])


def _free_stretches(supports: list[_Support], length: float) -> list[tuple[float, float]]:
    """The stretches of an outline between supports that may fold, as start and end positions."""
    if not supports:
        return []
    first = min(support.start for support in supports)
    turned = sorted(
        ((each.start - first) % length, (each.end - each.start) % length, each.folds)
        for each in supports
    )
    free: list[tuple[float, float]] = []
    covered, may_fold = 0.0, False
    for start, width, folds in [*turned, (length, 0.0, turned[0][2])]:
        if start > covered and may_fold and folds[0]:
            free.append(((covered + first) % length, (start + first) % length))
        if start + width >= covered:
            covered, may_fold = start + width, folds[1]
    return free


def _arc(outline: LinearRing, start: float, end: float) -> Floats:
    """(n, 2): the points of an outline from one position forwards to another."""
    points = shapely.get_coordinates(outline)
    places = np.cumsum(np.hypot(*np.diff(points, axis=0, prepend=points[:1]).T))
    onwards = (places[:-1] - start) % places[-1]
    inner = np.flatnonzero((onwards > 0) & (onwards < ((end - start) % places[-1] or places[-1])))
    inner = inner[np.argsort(onwards[inner], kind="stable")]
    ends = shapely.get_coordinates(shapely.line_interpolate_point(outline, [start, end]))
    return np.concatenate([ends[:1], points[inner], ends[1:]])


def _enclosed(arc: Floats) -> float:
    """The area between an arc and the straight line between its ends."""
    if len(arc) < 3:
        return 0.0
    region = Polygon(arc)
    return float((region if region.is_valid else largest_of(shapely.make_valid(region))).area)


def _mouth_hinges(
    mouths: list[Line], flood: Flood, first: int, between: Sequence[Hinge]
) -> list[Hinge]:
    """Hinges at mouths: the outermost of nested ones, not those of bridges, no details."""
    found: list[Hinge] = []
    for index, line in enumerate(mouths):
        flap = flood.flap(first + index)
        if flap is None or any(_is_same(flap, other.flap) for other in between):
            continue
        place = flap.representative_point()
        if not any(
            shapely.intersects(other.flap, place) or shapely.contains(flap, other.flap)
            for other in found
        ):
            found.append(Hinge.of(line, flap))
    largest = max((hinge.flap.area for hinge in found), default=0.0)
    return [hinge for hinge in found if hinge.flap.area >= MIN_PART_SHARE * largest]


def _is_same(one: Polygon, other: Polygon) -> bool:
    return bool(
        shapely.intersection(one, other, grid_size=GRID).area
        > SAME_FLAP_SHARE * max(one.area, other.area)
    )


def _blocked_finding(hinge: LineString, part: Polygon) -> Finding | None:
    """The finding for a hinge that leaves its part or crosses a window, if it does."""
    off = shapely.difference(hinge, part)
    if hinge.length <= SPECK or off.length < min(hinge.length, HINGE_TOL / 2):
        return None  # what is off the part begins on it, so is no farther away than it is long
    if shapely.covers(shapely.buffer(part, HINGE_TOL, quad_segs=2), hinge):
        return None
    solid = shapely.buffer(Polygon(part.exterior), HINGE_TOL, quad_segs=2)
    where = "across a window" if shapely.covers(solid, hinge) else "outside its part"
    stretches = lines_of(off)
    longest = stretches[int(np.argmax(shapely.length(stretches)))]
    middle = longest.interpolate(0.5, normalized=True)
    return Finding(
        "blocked-hinge",
        Severity.CAUTION,
        f"A hinge would run {where}.",
        (middle.x, middle.y),
        "Move its bridges so that the line between them is paper.",
    )


def _locked_finding(line: Line, cuts: Cuts, bridges: Sequence[Bridge], sheet: Polygon) -> Finding:
    """The finding for a flap joined elsewhere, naming a bridge to remove if that would free it."""
    middle = np.mean(line, axis=0)
    locks = None
    for bridge in sorted(bridges, key=lambda bridge: math.dist(bridge.at, middle)):
        others = [other for other in bridges if other is not bridge]
        if Flood(lay_bridges(cuts, others), sheet, [line]).flap(0) is not None:
            locks = bridge
            break
    return Finding(
        LOCKED_FLAP,
        Severity.FAULT,
        "A flap cannot fold: a bridge joins it to paper that stays flat or folds another way."
        if locks
        else "A flap cannot fold: it is still joined to the sheet in more than one place.",
        locks.at if locks else (float(middle[0]), float(middle[1])),
        "Delete that bridge, or hold the part flat.",
    )


def _short_finding(hinge: Hinge) -> Finding:
    return Finding(
        "short-hinge",
        Severity.CAUTION,
        f"A hinge of {format_mm(round(hinge.length, 1))} carries a flap that reaches "
        f"{format_mm(round(hinge.reach, 1))}: it may tear.",
        hinge.middle,
        "Move its bridges farther apart, or choose another hold style.",
    )
