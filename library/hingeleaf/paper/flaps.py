"""Flaps: what lifts, about which hinge, and how high it stands."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely
from shapely import LinearRing, LineString, MultiLineString, Point, Polygon
from shapely.geometry.base import BaseGeometry
from shapely.ops import substring

from hingeleaf.model import (
    NO_LINES,
    XY,
    Bridge,
    Card,
    Cuts,
    Finding,
    HoldStyle,
    Motif,
    Severity,
)
from hingeleaf.paper.mouths import open_tongues
from hingeleaf.paper.parts import Part, Parts, find_parts
from hingeleaf.paper.sheets import SPECK, clean, lines_of, polygons_of, sheet_around, slits_of
from hingeleaf.paper.strips import at_size, strip_corners

PLAY = 0.1
"""mm that a hinge may run outside its part: a flattened edge is never quite straight."""
LIP = 0.1
"""A stretch whose flap is smaller than this share of its part's largest flap stays flat."""
DETAIL = 0.1
"""Parts smaller than this share of the largest loose part are details: they stay flat."""


@dataclass(frozen=True, slots=True)
class Flap:
    """A region that folds up about its hinge, as it lies flat."""

    region: Polygon
    hinge: tuple[XY, XY]
    reach: float
    """mm from the hinge's line to the farthest point."""

    def lift(self, opening: float) -> float:
        """Height in mm of its highest point above the sheet: reach × sin(opening).

        `opening` is in degrees between flap and sheet; past upright, the height counts that the
        flap had on its way.
        """
        return self.reach * math.sin(math.radians(min(max(opening, 0.0), 90.0)))

    @property
    def hinge_length(self) -> float:
        """mm of fold."""
        return math.dist(*self.hinge)


@dataclass(frozen=True, slots=True)
class Flaps:
    """All flaps of some cuts, and the hinges that cannot be."""

    flaps: tuple[Flap, ...] = ()
    findings: tuple[Finding, ...] = ()

    @property
    def folds(self) -> MultiLineString:
        """Their hinges as fold lines."""
        return MultiLineString([flap.hinge for flap in self.flaps]) if self.flaps else NO_LINES

    def scaled(self, by: float) -> Flaps:
        """The same flaps `by` times as large, about the origin."""

        def grown(place: XY) -> XY:
            return place[0] * by, place[1] * by

        return Flaps(
            tuple(
                Flap(
                    shapely.transform(flap.region, lambda points: points * by),
                    (grown(flap.hinge[0]), grown(flap.hinge[1])),
                    flap.reach * by,
                )
                for flap in self.flaps
            ),
            tuple(replace(each, at=each.at and grown(each.at)) for each in self.findings),
        )


def motif_flaps(motif: Motif, size: float, card: Card) -> Flaps:
    """The flaps of a motif used at `size` mm on a card, in its own coordinates at that size."""
    artwork, bridges = at_size(motif, size, card)
    return find_flaps(artwork, bridges, motif.hold)


def find_flaps(
    cuts: Cuts,
    bridges: Sequence[Bridge] = (),
    hold: HoldStyle = HoldStyle.TONGUE,
    sheet: Polygon | None = None,
) -> Flaps:
    """The flaps of artwork with bridges laid over it, which its cuts do not know of yet.

    A part has one flap for every stretch of its outline between two neighbouring bridges; the
    hinge is the straight line between their facing edges. As a *door* only its largest flap
    lifts. A part with one bridge hinges across it, and in the hold style *tongue* so does the
    inside of an open slit or window, across its mouth. Nothing lifts in the styles *rigid* and
    *flat*. A hinge that would leave its part or cross a window is a finding and no flap.
    """
    if not hold.lifts:
        return Flaps()
    cuts, _ = clean(cuts)
    if bridges:
        parts = find_parts(cuts, sheet, bridges=bridges)
        most = 1 if hold is HoldStyle.DOOR else len(bridges)
        folded = [_fold(part, parts, bridges, most) for part in _lifting(parts, hold)]
        flaps = tuple(flap for each in folded for flap in each.flaps)
        findings = tuple(finding for each in folded for finding in each.findings)
        if flaps or findings:
            return Flaps(flaps, findings)
    if hold is HoldStyle.TONGUE:
        sheet = sheet if sheet is not None else sheet_around(cuts)
        tongues = open_tongues(cuts, sheet, least_share=DETAIL)
        return Flaps(tuple(_flap(*tongue) for tongue in tongues))
    return Flaps()


def _lifting(parts: Parts, hold: HoldStyle) -> list[Part]:
    """The parts that lift; details do so only as doors."""
    hung = [part for part in parts.parts if part.hops > 0]
    if hold is HoldStyle.DOOR or not hung:
        return hung
    least = DETAIL * max(part.polygon.area for part in hung)
    return [part for part in hung if part.polygon.area >= least]


def _fold(part: Part, parts: Parts, bridges: Sequence[Bridge], most: int) -> Flaps:
    """A part's flaps, one for each stretch of its outline between bridges towards the sheet.

    At the `most` the largest lift; lips stay flat.
    """
    outline = part.polygon.exterior
    supports = [
        _under(outline, bridges[tie.bridge], tie.at)
        for tie in part.ties
        if parts.parts[tie.other].hops <= part.hops
    ]
    arcs = [_arc(outline, *stretch) for stretch in _between(supports, outline.length)]
    arcs.sort(key=lambda arc: -_enclosed(arc).area)
    flaps: list[Flap] = []
    findings: list[Finding] = []
    for arc in arcs[:most]:
        area = _enclosed(arc).area
        if area <= SPECK or area < LIP * _enclosed(arcs[0]).area:
            break
        hinge = (arc.coords[0], arc.coords[-1])
        blocked = _blocked(LineString(hinge), part.polygon)
        if blocked:
            findings.append(blocked)
        else:
            flaps.append(_flap(_without_holes(_enclosed(arc), part.polygon), hinge))
    return Flaps(tuple(flaps), tuple(findings))


def _under(outline: LinearRing, bridge: Bridge, at: XY) -> tuple[float, float]:
    """From where to where, along a part's outline, a bridge that meets it `at` holds it."""
    deeper = replace(bridge, reach=bridge.reach + bridge.width)
    covered = slits_of(shapely.intersection(outline, Polygon(strip_corners([deeper])[0])))
    if covered.is_empty:
        place = outline.project(Point(at))
        return place, place
    stretches = shapely.get_parts(covered)
    stretch = stretches[int(np.argmin(shapely.distance(stretches, Point(at))))]
    start, middle, end = shapely.line_locate_point(
        outline, shapely.line_interpolate_point(stretch, [0.0, 0.5, 1.0], normalized=True)
    ).tolist()
    forward = (middle - start) % outline.length <= (end - start) % outline.length
    return (start, end) if forward else (end, start)


def _between(supports: list[tuple[float, float]], length: float) -> list[tuple[float, float]]:
    """The stretches of an outline that no support covers, each from where to where."""
    if not supports:
        return []
    first = min(start for start, _ in supports)
    turned = sorted(((start - first) % length, (end - start) % length) for start, end in supports)
    free: list[tuple[float, float]] = []
    covered = 0.0
    for start, width in [*turned, (length, 0.0)]:
        if start > covered:
            free.append(((covered + first) % length, (start + first) % length))
        covered = max(covered, start + width)
    return free


def _arc(outline: LinearRing, start: float, end: float) -> LineString:
    """An outline's stretch from one place on it to another, onwards."""
    line = LineString(outline.coords)
    if start < end:
        return substring(line, start, end)
    pieces = (substring(line, start, line.length), substring(line, 0.0, end))
    return LineString([xy for piece in pieces for xy in piece.coords])


def _enclosed(arc: LineString) -> Polygon:
    """The region between an arc and the straight line between its ends."""
    if len(arc.coords) < 3:
        return Polygon()
    region = Polygon(arc.coords)
    return region if region.is_valid else _largest(shapely.make_valid(region))


def _without_holes(region: Polygon, part: Polygon) -> BaseGeometry:
    """A region bounded by a part's outline, less the part's holes."""
    holes = shapely.polygons(part.interiors) if part.interiors else []
    return shapely.difference(region, shapely.union_all(holes)) if len(holes) else region


def _blocked(hinge: LineString, part: Polygon) -> Finding | None:
    """Why a hinge cannot be folded, if so."""
    if hinge.length <= SPECK or shapely.covers(shapely.buffer(part, PLAY, quad_segs=2), hinge):
        return None
    solid = shapely.buffer(Polygon(part.exterior), PLAY, quad_segs=2)
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


def _flap(region: BaseGeometry, hinge: tuple[XY, XY]) -> Flap:
    start, end = np.array(hinge)
    along = (end - start) / max(float(np.hypot(*(end - start))), SPECK)
    polygon = _largest(region)
    over = shapely.get_coordinates(polygon) - start
    reach = np.abs(over[:, 0] * along[1] - over[:, 1] * along[0]).max(initial=0.0)
    return Flap(polygon, hinge, float(reach))


def _largest(region: BaseGeometry) -> Polygon:
    return max(polygons_of(region), key=lambda piece: piece.area, default=Polygon())
