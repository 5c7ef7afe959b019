"""Hinges: fold lines and the flaps they carry, found by cutting each fold line and flooding.

Fold lines are proposed between neighbouring bridges of a part and across the mouths of open slits
and windows. Then all of them are noded with what is cut, and the faces of paper between make a
graph with an edge wherever a fold line runs between two faces. A flap is what loses its way to the
sheet when the edges of one fold line go; if nothing does, the flap is locked.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree
from shapely import LinearRing, LineString, MultiLineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from hingeleaf.model import (
    NO_LINES,
    XY,
    Bridge,
    Cuts,
    Finding,
    HoldStyle,
    Severity,
)
from hingeleaf.paper.bridges import lay_bridges
from hingeleaf.paper.necks import find_necks
from hingeleaf.paper.parts import KERF, Part, Parts, apart_under, find_parts
from hingeleaf.paper.sheets import (
    SPECK,
    Geometries,
    boundary_lines,
    clean,
    lines_of,
    polygons_of,
    sheet_around,
    slits_of,
)
from hingeleaf.paper.strips import strip_corners
from hingeleaf.units import format_mm

MIN_REACH = 4.0
"""mm: a flap that reaches less far cannot be folded cleanly (common practice, no source)."""
SHORT_HINGE = 1 / 4
"""A hinge shorter than this share of its flap's reach may tear (common practice, no source)."""
HINGE_TOL = 0.1
"""mm that a hinge may run outside its part: a flattened edge is never quite straight."""
MIN_FLAP_SHARE = 0.1
"""A stretch whose flap is smaller than this share of its part's largest flap stays flat."""
MIN_PART_SHARE = 0.1
"""Parts smaller than this share of the largest loose part are details: they stay flat."""
MIN_DEPTH = 0.2
"""A bay that is less deep than this share of its mouth is a bend and no flap."""
MIN_INNER_SHARE = 0.7
"""What share of a bay lies behind its mouth at least, else the mouth is its whole opening."""
NARROWS = 0.6
"""A mouth lies inside its bay if that makes it shorter than this share of the opening."""

_STEP = 0.2
"""mm: between the places along a bay at which its mouth is looked for."""
_EXTRA = 1e-4
"""mm that a fold line is drawn longer at both ends, so that it surely meets the cuts there."""
_SNAP = 1e-6
"""mm from a corner of a cut at which a fold line ends in it."""
_BESIDE = 1e-3
"""mm beside a fold line at which is asked which face lies there."""

Line = tuple[XY, XY]
Floats = NDArray[np.float64]
Ints = NDArray[np.intp]


@dataclass(frozen=True, slots=True)
class Hinge:
    """A fold line and the flap that folds up about it, as it lies flat."""

    line: Line
    flap: Polygon
    reach: float
    """mm from the line to the flap's farthest point."""

    @classmethod
    def of(cls, line: Line, flap: Polygon) -> Hinge:
        """The hinge of a flap, its reach measured."""
        across = _across(line, shapely.get_coordinates(flap))
        return cls(line, flap, float(np.abs(across).max(initial=0.0)))

    @property
    def length(self) -> float:
        """mm of fold."""
        return math.dist(*self.line)

    @property
    def second_moment(self) -> float:
        """∬ d² dA in mm⁴ over the flap, d being the distance from the fold line."""
        moment = 0.0
        polygon = shapely.orient_polygons(self.flap, exterior_cw=False)
        for ring in [polygon.exterior, *polygon.interiors]:
            points = np.asarray(ring.coords)
            d = _across(self.line, points)
            along = (points - self.line[0]) @ _unit(self.line)
            cross = along[:-1] * d[1:] - along[1:] * d[:-1]
            moment += float((cross * (d[:-1] ** 2 + d[:-1] * d[1:] + d[1:] ** 2)).sum()) / 12
        return abs(moment)

    def lift(self, opening: float) -> float:
        """Height in mm of its highest point above the sheet: reach × sin(opening).

        `opening` is in degrees between flap and sheet; past upright, the height counts that the
        flap had on its way.
        """
        return self.reach * math.sin(math.radians(min(max(opening, 0.0), 90.0)))


@dataclass(frozen=True, slots=True)
class Hinges:
    """All hinges of some cuts, and what is wrong with those that cannot fold or may tear."""

    hinges: tuple[Hinge, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def folds(self) -> MultiLineString:
        """The fold lines."""
        return MultiLineString([hinge.line for hinge in self.hinges]) if self.hinges else NO_LINES

    def scaled(self, by: float) -> Hinges:
        """The same hinges `by` times as large, about the origin."""

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
) -> Hinges:
    """The hinges of artwork with bridges laid over it, which its cuts do not know of yet.

    A part has one flap for every stretch of its outline between two neighbouring bridges; the
    hinge is the straight line between their facing edges. As a *door* only its largest flap
    lifts. A part with one bridge hinges across it. An open slit hinges across its mouth, and in
    the hold style *tongue*, where no bridges make hinges, so does what hangs on one neck or lies
    inside an open window. Nothing lifts in the styles *rigid* and *flat*.

    Flaps that reach less than `least_reach` mm do not count. A hinge that would leave its part or
    cross a window, or whose flap is joined to the sheet elsewhere, is a finding and no hinge.
    """
    if not hold.lifts:
        return Hinges()
    cuts, _ = clean(cuts)
    sheet = sheet if sheet is not None else sheet_around(cuts)
    parts = find_parts(cuts, sheet, bridges=bridges) if bridges else None
    hung = [part for part in parts.parts if part.hops > 0] if parts else []
    proposed, findings = _between_bridges(parts, hung, bridges, hold) if parts else ([], [])
    laid = lay_bridges(cuts, bridges)
    necks = hold is HoldStyle.TONGUE and not proposed
    mouths = _mouths(laid, sheet, hung, proposed, necks=necks)
    flood = Flood(laid, sheet, [*proposed, *mouths])
    hinges: list[Hinge] = []
    for index, line in enumerate(proposed):
        flap = flood.flap(index) or Flood(laid, sheet, proposed, kerf=0.0).flap(index)
        if flap is None:
            findings.append(_locked(line, cuts, bridges, sheet))
        else:
            hinges.append(Hinge.of(line, flap))
    hinges += _of_mouths(mouths, flood, len(proposed), hinges)
    hinges = [hinge for hinge in hinges if hinge.reach >= least_reach]
    findings += [_short(hinge) for hinge in hinges if hinge.length < SHORT_HINGE * hinge.reach]
    return Hinges(tuple(hinges), tuple(findings))


class Flood:
    """The faces of paper between cuts and fold lines, and which of them each fold line carries.

    Paper narrower than the kerf counts as cut.
    """

    def __init__(
        self, cuts: Cuts, sheet: Polygon, lines: Sequence[Line], kerf: float = KERF
    ) -> None:
        if not lines:
            return
        paper = shapely.difference(sheet, cuts.windows)
        walls = [*boundary_lines(polygons_of(paper)), *shapely.get_parts(cuts.slits)]
        folds = _fold_lines(lines, shapely.get_coordinates(walls))
        noded = shapely.get_parts(shapely.union_all([*walls, *folds]))
        faces = polygons_of(shapely.polygonize(noded))
        shapely.prepare(paper)
        faces = faces[shapely.contains(paper, shapely.point_on_surface(faces))]
        self._faces: Geometries = apart_under(kerf, faces, cuts)
        self._on_sheet = shapely.dwithin(self._faces, sheet.exterior, _BESIDE)
        self._join(noded, folds)

    def _join(self, noded: Geometries, folds: Geometries) -> None:
        """The pairs of faces that meet across a fold line, and which one that is."""
        edges = lines_of(noded)
        middles = shapely.line_interpolate_point(edges, 0.5, normalized=True)
        edge, fold = shapely.STRtree(folds).query(middles, predicate="dwithin", distance=SPECK)
        ends = shapely.get_coordinates(folds).reshape(-1, 4, 2)[fold][:, [0, 3]]
        along = ends[:, 1] - ends[:, 0]
        across = np.stack([-along[:, 1], along[:, 0]], axis=1)
        across *= _BESIDE / np.maximum(np.hypot(*along.T), SPECK)[:, None]
        at = shapely.get_coordinates(middles)[edge]
        tree = shapely.STRtree(self._faces)
        sides = [_face_at(tree, at + across), _face_at(tree, at - across)]
        joined = (sides[0] >= 0) & (sides[1] >= 0) & (sides[0] != sides[1])
        self._pairs = np.stack(sides, axis=1)[joined]
        self._edge, self._fold = edge[joined], fold[joined]

    @cached_property
    def _held(self) -> NDArray[np.bool_]:
        """Which faces hang on the sheet."""
        return self._reached(np.ones(len(self._fold), dtype=bool))

    def _reached(self, kept: NDArray[np.bool_]) -> NDArray[np.bool_]:
        """Which faces hang on the sheet by the folds that are kept."""
        count = len(self._faces)
        rows, columns = self._pairs[kept].T
        graph = coo_array((np.ones(len(rows)), (rows, columns)), shape=(count, count))
        _, label = connected_components(graph, directed=False)
        reached: NDArray[np.bool_] = np.isin(label, label[self._on_sheet])
        return reached

    def flap(self, index: int) -> Polygon | None:
        """What comes free when one fold line is cut; None if nothing does."""
        own = np.isin(self._edge, self._edge[self._fold == index])
        if not own.any():
            return None
        free = self._faces[self._held & ~self._reached(~own)]
        return _largest(shapely.union_all(free)) if len(free) else None


def _face_at(tree: shapely.STRtree, points: Floats) -> Ints:
    """The face that each point lies on, -1 for none."""
    found = np.full(len(points), -1)
    point, face = tree.query(shapely.points(points), predicate="within")
    found[point] = face
    return found


def _fold_lines(lines: Sequence[Line], corners: Floats) -> Geometries:
    """Fold lines that surely meet the cuts: by way of their corners, and a little longer."""
    ends = np.array(lines, dtype=np.float64)
    step = ends[:, 1] - ends[:, 0]
    extra = step * (_EXTRA / np.maximum(np.hypot(*step.T), SPECK))[:, None]
    away, corner = cKDTree(corners).query(ends)
    at = np.where((away < _SNAP)[..., None], corners[corner], ends)
    points = np.stack([ends[:, 0] - extra, at[:, 0], at[:, 1], ends[:, 1] + extra], axis=1)
    folds: Geometries = shapely.linestrings(points)
    return folds


def _unit(line: Line) -> Floats:
    step = np.subtract(line[1], line[0])
    unit: Floats = step / max(float(np.hypot(*step)), SPECK)
    return unit


def _across(line: Line, points: Floats) -> Floats:
    """(n,): signed distances of points from a line."""
    x, y = _unit(line)
    across: Floats = (points - line[0]) @ np.array([-y, x])
    return across


def _between_bridges(
    parts: Parts, hung: list[Part], bridges: Sequence[Bridge], hold: HoldStyle
) -> tuple[list[Line], list[Finding]]:
    """The fold lines of hung parts, and what keeps some from being any; details only as doors."""
    lines: list[Line] = []
    findings: list[Finding] = []
    door = hold is HoldStyle.DOOR
    largest = max((part.polygon.area for part in hung), default=0.0)
    for part in hung:
        if not door and part.polygon.area < MIN_PART_SHARE * largest:
            continue
        for line in _part_lines(part, parts, bridges, most=1 if door else len(bridges)):
            blocked = _blocked(LineString(line), part.polygon)
            if blocked:
                findings.append(blocked)
            else:
                lines.append(line)
    return lines, findings


def _part_lines(part: Part, parts: Parts, bridges: Sequence[Bridge], most: int) -> Iterator[Line]:
    """One line for each stretch of a part's outline that may fold between bridges to the sheet.

    At the `most` the largest; stretches that carry next to nothing are left out.
    """
    outline = part.polygon.exterior
    supports = [
        _Support.under(outline, bridges[tie.bridge], tie.at)
        for tie in part.ties
        if parts.parts[tie.other].hops <= part.hops
    ]
    arcs = [_arc(outline, *stretch) for stretch in _between(supports, outline.length)]
    areas = [_enclosed(arc) for arc in arcs]
    for index in sorted(range(len(arcs)), key=lambda index: -areas[index])[:most]:
        if areas[index] <= SPECK or areas[index] < MIN_FLAP_SHARE * max(areas):
            break
        yield arcs[index].coords[0], arcs[index].coords[-1]


@dataclass(frozen=True, slots=True)
class _Support:
    """Where a bridge holds a part: from one place along its outline onwards to another."""

    start: float
    end: float
    folds: tuple[bool, bool] = (True, True)
    """Whether the paper beside it may fold, before its start and beyond its end."""

    @classmethod
    def under(cls, outline: LinearRing, bridge: Bridge, at: XY) -> _Support:
        """The support of a bridge that meets a part's outline `at`."""
        deeper = replace(bridge, reach=bridge.reach + bridge.width)
        covered = slits_of(shapely.intersection(outline, Polygon(strip_corners([deeper])[0])))
        if covered.is_empty:
            place = outline.project(Point(at))
            return cls(place, place, bridge.folds)
        stretches = shapely.get_parts(covered)
        stretch = stretches[int(np.argmin(shapely.distance(stretches, Point(at))))]
        points = shapely.line_interpolate_point(stretch, [0.0, 0.5, 1.0], normalized=True)
        start, middle, end = shapely.line_locate_point(outline, points).tolist()
        forward = (middle - start) % outline.length <= (end - start) % outline.length
        angle = math.radians(bridge.direction)
        right = (points[0].y - points[2].y) * math.cos(angle)
        right -= (points[0].x - points[2].x) * math.sin(angle)
        folds = bridge.folds[::-1] if right > 0 else bridge.folds
        return cls(start, end, folds) if forward else cls(end, start, folds[::-1])


def _between(supports: list[_Support], length: float) -> list[tuple[float, float]]:
    """The stretches of an outline between supports that may fold, each from where to where."""
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


def _arc(outline: LinearRing, start: float, end: float) -> LineString:
    """An outline's stretch from one place on it to another, onwards."""
    line = LineString(outline.coords)
    if start < end:
        return substring(line, start, end)
    pieces = (substring(line, start, line.length), substring(line, 0.0, end))
    return LineString([xy for piece in pieces for xy in piece.coords])


def _enclosed(arc: LineString) -> float:
    """The area between an arc and the straight line between its ends."""
    if len(arc.coords) < 3:
        return 0.0
    region = Polygon(arc.coords)
    return float((region if region.is_valid else _largest(shapely.make_valid(region))).area)


def _mouths(
    cuts: Cuts, sheet: Polygon, hung: list[Part], known: list[Line], *, necks: bool
) -> list[Line]:
    """The mouths of open slits; with `necks` those of single necks and open windows, too.

    Cuts along a part that bridges tie are left out, and lines that are known already.
    """
    outlines = shapely.get_exterior_ring(np.array([part.polygon for part in hung], dtype=object))

    def divides(cut: BaseGeometry) -> bool:
        return bool(shapely.dwithin(outlines, cut, _BESIDE).any())

    slits = [slit for slit in shapely.get_parts(slits_of(cuts.slits)) if not divides(slit)]
    found = list(_slit_mouths(slits, cuts))
    if necks:
        found += [(neck.start, neck.end) for neck in find_necks(cuts, sheet) if neck.comes_away]
        windows = [window for window in shapely.get_parts(cuts.windows) if not divides(window)]
        found += _window_mouths(windows, cuts)
    return _new(found, known)


def _new(lines: list[Line], known: list[Line]) -> list[Line]:
    """The lines that end neither where a known one nor where an earlier one does."""
    new: list[Line] = []
    for line in lines:
        ends = np.array([*known, *new, line])
        apart = np.abs(ends - line).max(axis=(1, 2)), np.abs(ends[:, ::-1] - line).max(axis=(1, 2))
        if np.minimum(*apart)[:-1].min(initial=np.inf) > HINGE_TOL:
            new.append(line)
    return new


def _slit_mouths(slits: Sequence[LineString], cuts: Cuts) -> Iterator[Line]:
    """The straight lines between the ends of open slits."""
    for slit in slits:
        mouth = (slit.coords[0], slit.coords[-1])
        is_open = len(slit.coords) > 2 and mouth[0] != mouth[1]
        if is_open and _is_deep(Polygon(slit.coords), mouth) and not _is_cut(mouth, cuts):
            yield mouth


def _window_mouths(windows: Sequence[Polygon], cuts: Cuts) -> Iterator[Line]:
    """Across the bays of windows that enclose more paper than the window takes away."""
    for window in windows:
        solid = Polygon(window.exterior)
        for bay in polygons_of(shapely.difference(solid.convex_hull, solid)):
            mouth = _mouth(bay, solid)
            if bay.area > window.area and _is_deep(bay, mouth) and not _is_cut(mouth, cuts):
                yield mouth


def _mouth(bay: Polygon, solid: Polygon) -> Line:
    """Across the opening of a bay; where its banks come much nearer inside it, there.

    From the straight side that is not the window's own edge, both ends go inwards as long as they
    come nearer to each other.
    """
    ends = np.stack([bay.exterior.coords[:-1], bay.exterior.coords[1:]], axis=1)
    outer = int(shapely.distance(shapely.points(ends.mean(axis=1)), solid).argmax())
    bank = shapely.segmentize(LineString(np.roll(ends[:, 0], -outer - 1, axis=0)), _STEP)
    points = shapely.get_coordinates(bank)
    first, last = 0, len(points) - 1
    while True:
        steps = [(first + 1, last), (first, last - 1), (first + 1, last - 1)]
        nearest = min(steps, key=lambda step: math.dist(points[step[0]], points[step[1]]))
        if math.dist(*points[list(nearest)]) > math.dist(points[first], points[last]) - SPECK:
            break
        first, last = nearest
    inner = Polygon(points[first : last + 1]) if last - first > 1 else Polygon()
    narrow = math.dist(points[first], points[last]) < NARROWS * math.dist(points[0], points[-1])
    if not narrow or inner.area < MIN_INNER_SHARE * bay.area:
        first, last = 0, len(points) - 1
    (x1, y1), (x2, y2) = points[[first, last]].tolist()
    return (x1, y1), (x2, y2)


def _is_deep(bay: Polygon, mouth: Line) -> bool:
    width = math.dist(*mouth)
    if not bay.is_valid or bay.area <= SPECK or width <= SPECK:
        return False
    depth = shapely.distance(LineString(mouth), shapely.points(shapely.get_coordinates(bay))).max()
    return bool(depth >= MIN_DEPTH * width)


def _is_cut(mouth: Line, cuts: Cuts) -> bool:
    """Whether a mouth crosses a cut between its ends."""
    way = substring(LineString(mouth), 0.01, 0.99, normalized=True)
    return bool(shapely.intersects(way, cuts.windows) or shapely.intersects(way, cuts.slits))


def _of_mouths(
    mouths: list[Line], flood: Flood, first: int, between: Sequence[Hinge]
) -> list[Hinge]:
    """The hinges of mouths: of those in others one, none that bridges make, no details of them."""
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
    return bool(shapely.intersection(one, other).area > 0.5 * max(one.area, other.area))


def _blocked(hinge: LineString, part: Polygon) -> Finding | None:
    """Why a hinge cannot be folded, if so."""
    if hinge.length <= SPECK or shapely.covers(shapely.buffer(part, HINGE_TOL, quad_segs=2), hinge):
        return None
    solid = shapely.buffer(Polygon(part.exterior), HINGE_TOL, quad_segs=2)
    where = "across a window" if shapely.covers(solid, hinge) else "outside its part"
    off = lines_of(shapely.difference(hinge, part))
    middle = off[int(np.argmax(shapely.length(off)))].interpolate(0.5, normalized=True)
    return Finding(
        "blocked-hinge",
        Severity.CAUTION,
        f"A hinge would run {where}.",
        (middle.x, middle.y),
        "Move its bridges so that the line between them is paper.",
    )


def _locked(line: Line, cuts: Cuts, bridges: Sequence[Bridge], sheet: Polygon) -> Finding:
    """That a flap is still joined elsewhere, and by which bridge, if taking one would free it."""
    middle = np.mean(line, axis=0)
    locks = None
    for bridge in sorted(bridges, key=lambda bridge: math.dist(bridge.at, middle)):
        others = [other for other in bridges if other is not bridge]
        if Flood(lay_bridges(cuts, others), sheet, [line]).flap(0) is not None:
            locks = bridge
            break
    return Finding(
        "locked-flap",
        Severity.FAULT,
        "A flap cannot fold: a bridge joins it to paper that stays flat or folds another way."
        if locks
        else "A flap cannot fold: it is still joined to the sheet in more than one place.",
        locks.at if locks else (float(middle[0]), float(middle[1])),
        "Delete that bridge, or hold the part flat.",
    )


def _short(hinge: Hinge) -> Finding:
    middle = np.mean(hinge.line, axis=0)
    return Finding(
        "short-hinge",
        Severity.CAUTION,
        f"A hinge of {format_mm(round(hinge.length, 1))} carries a flap that reaches "
        f"{format_mm(round(hinge.reach, 1))}: it may tear.",
        (float(middle[0]), float(middle[1])),
        "Move its bridges farther apart, or choose another hold style.",
    )


def _largest(region: BaseGeometry) -> Polygon:
    return max(polygons_of(region), key=lambda piece: piece.area, default=Polygon())
