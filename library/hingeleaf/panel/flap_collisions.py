"""Find flaps that collide when folded up, modelled as rigid plates in space."""

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString, Polygon

from hingeleaf.geometry.members import point_in
from hingeleaf.geometry.ray_casting import Floats
from hingeleaf.model import XY, Card, Finding, Motif, Placement
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.findings import FindingKind, found
from hingeleaf.panel.lifting import Raised, raise_hinges
from hingeleaf.panel.pieces import place_pieces
from hingeleaf.paper.hinges import Hinge
from hingeleaf.units import format_mm

OPENING_STEP = 5.0
"""Degrees between the openings at which flaps are compared."""
MIN_OVERLAP_LENGTH = 0.2
"""mm: shorter intersections of two flaps count as touching only."""
MIN_OVERLAP_AREA = 0.5
"""mm²: smaller overlaps of two flaps that lie flat are not a collision."""
MAX_BEHIND = 1.0
"""mm that a flap may reach past its fold line."""
FLAT_ANGLE = 170.0
"""Degrees from which on a flap counts as lying on the sheet."""

_PARALLEL = 1e-9
"""mm: shorter lengths and vectors count as zero."""
_FAR = 1e5
"""mm: larger than any sheet."""


@dataclass(frozen=True, slots=True)
class Plate:
    """A flap as a flat plate that rotates about its hinge.

    `outline` is the flap with the hinge as x axis and its own side as positive y.
    """

    start: Floats
    along: Floats
    away: Floats
    outline: Polygon

    @classmethod
    def of(cls, hinge: Hinge) -> "Plate":
        """The plate of a hinge's flap."""
        start, end = np.array(hinge.line)
        along = (end - start) / max(hinge.length, _PARALLEL)
        away = np.array([-along[1], along[0]])
        middle = hinge.flap.centroid
        if (np.array([middle.x, middle.y]) - start) @ away < 0:
            away = -away
        axes = np.stack([along, away], axis=1)
        outline = shapely.transform(hinge.flap, lambda points: (points - start) @ axes)
        return cls(start, along, away, outline)

    def axes(self, opening: float) -> Floats:
        """(2, 3): the outline's x and y axes in space; z points up from the sheet."""
        turn = math.radians(opening)
        away = np.append(self.away * math.cos(turn), math.sin(turn))
        return np.stack([np.append(self.along, 0.0), away])

    def swept(self, opening: float) -> Polygon:
        """The region of the sheet above which the plate stays while it is folded."""
        low = min(0.0, math.cos(math.radians(opening)))
        west, south, east, north = self.outline.bounds
        box = shapely.box(west, min(south, low * north), east, max(north, low * south))
        return shapely.transform(
            box, lambda points: self.start + points @ np.stack([self.along, self.away])
        )


def collisions(panel: Panel, flaps: Sequence[Raised]) -> Iterator[Finding]:
    """Pairs of flaps that collide when both are folded up, with the smallest opening at which they
    do.

    All flaps are opened together, step by step. A flap within another flap moves with it.
    """
    for one, two, angle, at in _meetings(flaps):
        names = [panel.pieces[flap.piece].motif.name for flap in (one, two)]
        yield found(
            FindingKind.FLAPS_COLLIDE,
            f"Flaps of {names[0]} and {names[1]} collide when both are opened by {angle:g}°.",
            at,
        )


def motifs_to_replace(
    placements: Sequence[Placement], motifs: Mapping[str, Motif], card: Card, *, both: bool
) -> set[int]:
    """Numbers of placements, counted from 1, whose flaps collide with those of others when opened.

    Of each two the smaller one that is not pinned, or `both`.
    """
    lifting = [number for number, each in enumerate(placements, 1) if motifs[each.motif].hold.lifts]
    pieces = place_pieces([placements[number - 1] for number in lifting], motifs, card)
    hinges = [
        (number, hinge)
        for number, piece in zip(lifting, pieces, strict=True)
        for hinge in piece.hinges
    ]
    found: set[int] = set()
    for one, two, _, _ in _meetings(raise_hinges(hinges, card)):
        if one.piece != two.piece:
            pair = {one.piece, two.piece}
            free = {number for number in pair if not placements[number - 1].pinned}
            smaller = sorted(free, key=lambda number: placements[number - 1].pose.size)
            found.update(smaller if both else smaller[:1])
    return found


def flaps_behind(panel: Panel, flaps: Sequence[Raised]) -> Iterator[Finding]:
    """Flaps that reach past their own fold line: that end goes down when the flap goes up."""
    for flap in flaps:
        plate = Plate.of(flap.hinge)
        _, south, _, _ = plate.outline.bounds
        if flap.opening > 0 and south < -MAX_BEHIND:
            lowest = shapely.get_coordinates(plate.outline)
            x, y = lowest[int(lowest[:, 1].argmin())]
            at = plate.start + x * plate.along + y * plate.away
            yield found(
                FindingKind.FLAP_BEHIND,
                f"A flap of {panel.pieces[flap.piece].motif.name} reaches "
                f"{format_mm(round(-south, 1))} past its fold: that end goes behind the sheet.",
                (float(at[0]), float(at[1])),
            )


def _meetings(flaps: Sequence[Raised]) -> Iterator[tuple[Raised, Raised, float, XY]]:
    """Pairs of flaps that collide, the smallest opening at which they do, and where."""
    plates = [Plate.of(flap.hinge) for flap in flaps]
    for one, two in _candidates(flaps, plates):
        opening = max(flaps[one].opening, flaps[two].opening)
        meeting = _first_meeting(plates[one], plates[two], opening)
        if meeting is not None:
            yield flaps[one], flaps[two], *meeting


def _candidates(flaps: Sequence[Raised], plates: Sequence[Plate]) -> Iterator[tuple[int, int]]:
    """Pairs of flaps that are disjoint when flat and pass over the same place of the sheet."""
    swept = np.array(
        [plate.swept(flap.opening) for plate, flap in zip(plates, flaps, strict=True)],
        dtype=object,
    )
    first, second = shapely.STRtree(swept).query(swept, predicate="intersects")
    for one, two in zip(first.tolist(), second.tolist(), strict=True):
        if one < two and not _overlap(flaps[one].hinge.flap, flaps[two].hinge.flap):
            yield one, two


def _overlap(one: Polygon, two: Polygon) -> bool:
    return bool(
        shapely.intersects(one, two) and shapely.intersection(one, two).area > MIN_OVERLAP_AREA
    )


def _first_meeting(one: Plate, two: Plate, opening: float) -> tuple[float, XY] | None:
    """The smallest opening, up to a limit, at which two plates meet, and where on the sheet."""
    for angle in [*np.arange(OPENING_STEP, opening, OPENING_STEP).tolist(), opening]:
        at = meet(one, two, angle)
        if at is not None:
            return angle, at
    return None


def meet(one: Plate, two: Plate, opening: float) -> XY | None:
    """Where on the sheet two plates meet at a given opening; None if they do not."""
    if opening >= FLAT_ANGLE:
        return _overlap_flat(one, two, opening)
    axes = one.axes(opening), two.axes(opening)
    normals = np.cross(axes[0][0], axes[0][1]), np.cross(axes[1][0], axes[1][1])
    line = np.cross(*normals)
    length = float(np.hypot(np.hypot(line[0], line[1]), line[2]))
    if length < _PARALLEL:
        return None
    line /= length
    starts = np.append(one.start, 0.0), np.append(two.start, 0.0)
    planes = np.array([normals[0], normals[1], line])
    point = np.linalg.solve(planes, [normals[0] @ starts[0], normals[1] @ starts[1], 0.0])
    shared = _shared(
        _intervals(one, axes[0], point - starts[0], line),
        _intervals(two, axes[1], point - starts[1], line),
    )
    if shared is None:
        return None
    at = point + shared * line
    return float(at[0]), float(at[1])


def _overlap_flat(one: Plate, two: Plate, opening: float) -> XY | None:
    """Where two flaps that lie on the sheet overlap."""

    def seen(plate: Plate) -> Polygon:
        across = plate.axes(opening)[:, :2]
        return shapely.transform(plate.outline, lambda points: plate.start + points @ across)

    shared = shapely.intersection(seen(one), seen(two))
    if shared.area <= MIN_OVERLAP_AREA:
        return None
    return point_in(shared)


def _intervals(plate: Plate, axes: Floats, from_start: Floats, line: Floats) -> Floats:
    """(n, 2): the intervals of a line in space that are within a plate, mm along it."""
    place, step = axes @ from_start, axes @ line
    chord = LineString([place - _FAR * step, place + _FAR * step])
    pieces = shapely.get_parts(shapely.intersection(plate.outline, chord))
    ends = np.array(
        [shapely.get_coordinates(piece)[[0, -1]] for piece in pieces if piece.length > 0]
    ).reshape(-1, 2, 2)
    return np.sort((ends - place) @ step, axis=1)


def _shared(one: Floats, two: Floats) -> float | None:
    """The middle of the longest common interval, if it is longer than a touch."""
    if not (len(one) and len(two)):
        return None
    low = np.maximum(one[:, None, 0], two[None, :, 0])
    high = np.minimum(one[:, None, 1], two[None, :, 1])
    longest = np.unravel_index(int((high - low).argmax()), low.shape)
    if high[longest] - low[longest] <= MIN_OVERLAP_LENGTH:
        return None
    return float((low[longest] + high[longest]) / 2)
