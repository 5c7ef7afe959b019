"""Data model: motifs, bridges, cuts, cards, fields and placements as frozen dataclasses.

Lengths are millimetres, angles degrees. The x axis points right and the y axis *down*, as on a
screen and in SVG; a positive turn is clockwise as seen. A motif is drawn about the origin: the
centre of its artwork's bounding box is (0, 0). The size of a motif is the longest side of that box.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum
from typing import Annotated, TypeVar

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.card import Card as Card
from hingeleaf.cubic_map import CubicMap, image
from hingeleaf.hold import HingeSide as HingeSide, HoldStyle as HoldStyle
from hingeleaf.notebook import BRIDGE, CARD, CUT_LINE, CUT_OUT, svg_picture
from hingeleaf.params import ANY_TURN, BENDING, MIRROR, NOTES, TAGS, TURN, parameter
from hingeleaf.source import MaySell as MaySell, Source as Source
from hingeleaf.units import ANY_SIZE as ANY_SIZE, SizeRange as SizeRange

Geometry = TypeVar("Geometry", bound=BaseGeometry)
Points = NDArray[np.float64]
"""Points in mm, (n, 2)."""
XY = tuple[float, float]

BENT_SEGMENT = 0.02
"""Longest segment of a bent outline, as a share of the motif's size: chord errors stay below
3e-5."""
NO_WINDOWS = MultiPolygon()
NO_LINES = MultiLineString()


class BridgeScaling(StrEnum):
    """What happens to a bridge's width when its motif is used at another size."""

    FIXED = "fixed"
    """The width in mm stays: small motifs keep bridges that hold."""
    SCALED = "scaled"
    """The width shrinks with the motif, but not below the card's least web."""


class Severity(StrEnum):
    """How serious a finding is."""

    FAULT = "fault"
    """The panel would fail: something falls out, tears, or does not fit."""
    CAUTION = "caution"
    """It can be cut, but should be looked at first."""
    NOTE = "note"
    """Worth knowing."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One result of a check: what, how serious, where, and what to do about it."""

    kind: str
    severity: Severity
    message: str
    at: XY | None = None
    remedy: str = ""


@dataclass(frozen=True, slots=True)
class Shape:
    """One painted shape of a file: `area` is what is painted, `lines` are open paths."""

    name: str
    area: MultiPolygon
    lines: MultiLineString = NO_LINES
    """The centre lines of an unfilled stroke, for cutting a slit instead of a window."""
    layer: str = ""
    colour: str = ""
    """`#rrggbb`; empty if the file has none."""
    line_number: int | None = None
    opacity: float = 1.0
    """The opacity of the paint, from 0 to 1."""
    dashed: bool = False
    """Whether its lines are dashed."""


@dataclass(frozen=True, slots=True)
class Artwork:
    """The shapes of one file in their order. `findings` say what was left out or guessed."""

    name: str
    shapes: tuple[Shape, ...]
    width: float
    height: float
    findings: tuple[Finding, ...] = ()
    states_size: bool = True
    """Whether the file gives its size in a physical unit, not in pixels or none."""


@dataclass(frozen=True, slots=True)
class Cuts:
    """The cuts of a motif or panel at its size of use: closed windows, open slits, and fold
    lines."""

    windows: MultiPolygon = NO_WINDOWS
    slits: MultiLineString = NO_LINES
    folds: MultiLineString = NO_LINES


@dataclass(frozen=True, slots=True)
class Bridge:
    """An uncut strip across a window, or the gap it leaves in a slit.

    The strip is a rectangle centred on `at`, `reach` long in `direction` and `width` wide, in the
    coordinates of the motif as drawn. Its ends are in the paper on either side.
    """

    at: XY
    direction: float
    """Degrees from the x axis, clockwise as seen."""
    reach: float
    width: float
    pinned: bool = False
    """Set by hand; planning keeps it."""
    folds: tuple[bool, bool] = (True, True)
    """Whether a flap may begin at its left and at its right edge, seen along `direction`; otherwise
    the paper on that side stays flat."""

    @property
    def centre_line(self) -> LineString:
        """The centre line of the strip, from end to end."""
        along = math.radians(self.direction)
        x, y = math.cos(along) * self.reach / 2, math.sin(along) * self.reach / 2
        return LineString([(self.at[0] - x, self.at[1] - y), (self.at[0] + x, self.at[1] + y)])


@dataclass(frozen=True, slots=True)
class Motif:
    """A motif: artwork and bridges stored separately, so that bridges can be re-cut at any size."""

    name: str
    windows: MultiPolygon
    slits: MultiLineString
    footprint: Polygon
    """The outer shape of the motif, for spacing."""
    size: float
    """Longest side of the artwork as drawn."""
    bridges: tuple[Bridge, ...] = ()
    hold: HoldStyle = HoldStyle.RIGID
    scaling: BridgeScaling = parameter(
        BridgeScaling.FIXED,
        "At smaller sizes bridges keep their width (fixed) or shrink too (scaled).",
        label="Bridges",
    )
    turn_limit: Annotated[float, TURN] = ANY_TURN
    may_mirror: Annotated[bool, MIRROR] = True
    may_bend: Annotated[bool, BENDING] = False
    sizes: SizeRange = ANY_SIZE
    """The sizes that its owner allows, regardless of strength."""
    tags: Annotated[tuple[str, ...], TAGS] = ()
    notes: Annotated[str, NOTES] = ""
    source: Source = field(default_factory=Source)
    revision: int = 1

    def _repr_svg_(self) -> str:
        strips = [(each.centre_line, f'{BRIDGE}{each.width:g}"') for each in self.bridges]
        return svg_picture((self.windows, CUT_OUT), (self.slits, CUT_LINE), *strips)


@dataclass(frozen=True, slots=True)
class Pose:
    """Position and turn of a motif: its origin at (x, y), mirrored, then turned, `size` mm long.

    The `size` of a bent motif is that of the straight one.
    """

    x: float
    y: float
    turn: float
    size: float
    mirrored: bool = False
    bend: CubicMap | None = None
    """Map that bends the motif at size 1, applied before mirroring, turning and scaling."""

    def matrix(self, drawn_size: float) -> tuple[float, float, float, float, float, float]:
        """(a, b, d, e, x, y) for shapely: x' = a·x + b·y + xoff, y' = d·x + e·y + yoff."""
        scale = self.size / drawn_size
        cosine = math.cos(math.radians(self.turn)) * scale
        sine = math.sin(math.radians(self.turn)) * scale
        flip = -1.0 if self.mirrored else 1.0
        return (cosine * flip, -sine, sine * flip, cosine, self.x, self.y)

    def place(self, geometry: Geometry, drawn_size: float) -> Geometry:
        """The geometry of a motif drawn `drawn_size` mm long, placed at this pose."""
        if self.bend is not None:
            geometry = bent(geometry, self.bend, drawn_size)
        a, b, d, e, x, y = self.matrix(drawn_size)
        linear = np.array([[a, d], [b, e]])

        def move(points: NDArray[np.float64]) -> NDArray[np.float64]:
            moved_points: NDArray[np.float64] = points @ linear + (x, y)
            return moved_points

        moved: Geometry = shapely.transform(geometry, move)
        return moved


def bent(geometry: Geometry, bend: CubicMap, drawn_size: float) -> Geometry:
    """A geometry drawn `drawn_size` mm long, bent; straight sides are subdivided first."""
    fine = shapely.segmentize(geometry, BENT_SEGMENT * drawn_size)
    curved: Geometry = shapely.transform(
        fine, lambda points: image(bend, points / drawn_size) * drawn_size
    )
    return curved


def place_all(
    geometries: NDArray[np.object_], drawn_sizes: NDArray[np.float64], poses: Sequence[Pose]
) -> NDArray[np.object_]:
    """Place geometries (n,), each with its drawn size in mm, at n poses; vectorised `Pose.place`.

    The results differ from that by rounding only.
    """
    if not len(poses):
        return np.empty(0, dtype=object)
    if any(pose.bend is not None for pose in poses):
        geometries = np.array(
            [
                shape if pose.bend is None else bent(shape, pose.bend, size)
                for shape, pose, size in zip(geometries, poses, drawn_sizes, strict=True)
            ],
            dtype=object,
        )
    points, owner = shapely.get_coordinates(geometries, return_index=True)
    maps = np.array([pose.matrix(size) for pose, size in zip(poses, drawn_sizes, strict=True)])
    a, b, d, e, x, y = maps[owner].T
    moved = np.column_stack(
        [a * points[:, 0] + b * points[:, 1] + x, d * points[:, 0] + e * points[:, 1] + y]
    )
    placed: NDArray[np.object_] = shapely.set_coordinates(geometries.copy(), moved)
    return placed


@dataclass(frozen=True, slots=True)
class Placement:
    """A revision of a motif at a pose."""

    motif: str
    revision: int
    pose: Pose
    pinned: bool = False

    def moved(self, pose: Pose) -> Placement:
        """The same motif at another pose."""
        return replace(self, pose=pose)


@dataclass(frozen=True, slots=True)
class Field:
    """The area to be filled, and the outline that may be cut with it."""

    kind: str
    """letter, word, border or outline."""
    label: str
    """The letters, or a name for the shape."""
    area: MultiPolygon
    """Where motifs may be placed; holes and keep-out areas are already subtracted."""
    outline: MultiPolygon
    """The letter or frame itself, if its edge is to be cut; otherwise empty."""
    axis: tuple[XY, XY] | None = None
    """A mirror axis, where the field has one."""

    def _repr_svg_(self) -> str:
        return svg_picture((self.area, CARD))
