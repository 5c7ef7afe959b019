"""Drawing in mm for all file writers: strokes, groups, layers and line styles.

Writers do not depend on panels, nor this module on file formats. Colours are only an aid: every
kind of line also has its own named group and its own dash or width.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from pathlib import Path
from types import MappingProxyType

import numpy as np
import shapely
from numpy.typing import NDArray

from hingeleaf.errors import UsageError, reason_of
from hingeleaf.geometry.members import lines_through
from hingeleaf.structured import from_data, strict_converter, to_data

Points = NDArray[np.float64]
Flags = NDArray[np.bool_]
LENGTH_TOLERANCE = 0.01
"""mm: flattening tolerance for lengths, half of a curve's usual tolerance (our own choice)."""


class LineKind(StrEnum):
    """The kinds of line, in working order: lines that loosen paper come last."""

    GUIDES = "guides"
    """Visible, not cut."""
    MARKS = "marks"
    """Crosses and names for joining several sheets; not cut."""
    FOLDS = "folds"
    SLITS = "slits"
    WINDOWS = "windows"
    EDGE = "edge"


CUT = (LineKind.SLITS, LineKind.WINDOWS, LineKind.EDGE)
NOT_CUT = (LineKind.GUIDES, LineKind.MARKS, LineKind.FOLDS)
TITLES = {
    LineKind.GUIDES: "Guides: not cut",
    LineKind.MARKS: "Marks and names of sheets: not cut",
    LineKind.FOLDS: "Folds: scored or perforated",
    LineKind.SLITS: "Slits: cut, nothing falls away",
    LineKind.WINDOWS: "Windows: cut, the paper inside falls away",
    LineKind.EDGE: "Edge of the sheet: cut last",
}


@dataclass(frozen=True, slots=True)
class Stroke:
    """One path of the tool: consecutive cubic Bézier curves (n, 4, 2).

    Those that are `straight` (n,) are lines, with control points at their thirds. A closed stroke
    ends where it starts.
    """

    curves: Points
    straight: Flags
    closed: bool

    @classmethod
    def through(cls, points: Points) -> Stroke:
        """Straight lines from point to point (n, 2); closed if the last point is the first."""
        start, end = points[:-1], points[1:]
        third = (end - start) / 3
        curves = np.stack([start, start + third, end - third, end], axis=1)
        closed = bool(np.array_equal(points[0], points[-1]))
        return cls(curves, np.ones(len(curves), bool), closed)

    @property
    def start(self) -> Points:
        """The point where the tool is lowered."""
        start: Points = self.curves[0, 0]
        return start

    @property
    def end(self) -> Points:
        """The point where the tool lifts."""
        end: Points = self.curves[-1, 3]
        return end

    @property
    def nodes(self) -> Points:
        """The points on the path that a machine passes, from start to end (n + 1, 2)."""
        return np.vstack([self.curves[:, 0], self.end])

    @property
    def segments(self) -> list[Points]:
        """The further points of each curve: one of a line, three of another."""
        pairs = zip(self.curves, self.straight, strict=True)
        return [curve[3:] if straight else curve[1:] for curve, straight in pairs]

    @property
    def points(self) -> Points:
        """Nodes and control points, in order."""
        return np.vstack([self.start, *self.segments])

    def flattened(self, tolerance: float) -> Points:
        """Points (n, 2) along the stroke, within `tolerance` of it."""
        return flatten([self], tolerance)[0]

    def reversed(self) -> Stroke:
        """The path in the opposite direction."""
        return Stroke(self.curves[::-1, ::-1], self.straight[::-1], self.closed)

    def transformed(self, by: Callable[[Points], Points]) -> Stroke:
        """The path with its points (…, 2) transformed by an affine map."""
        return Stroke(by(self.curves), self.straight, self.closed)

    def starting_at(self, index: int) -> Stroke:
        """A closed stroke that begins at one of its nodes."""
        curves = np.roll(self.curves, -index, axis=0)
        return Stroke(curves, np.roll(self.straight, -index), self.closed)


Shape = tuple[Stroke, ...]
"""Strokes that belong together: an outer ring with its holes, or a single line."""


@dataclass(frozen=True, slots=True)
class Drawing:
    """The lines of a sheet."""

    name: str
    width: float
    height: float
    layers: Mapping[LineKind, Sequence[Shape]]
    """The shapes of each kind that there is, both in working order."""
    perforated: bool = False
    """Whether fold lines are dashes that are cut through, not scored."""
    purpose: str = ""
    """The panel's purpose."""

    def changed(self, by: Callable[[Stroke], Stroke], *kinds: LineKind) -> Drawing:
        """The drawing with every stroke of some kinds changed."""
        new = {
            kind: tuple(tuple(map(by, shape)) for shape in shapes) if kind in kinds else shapes
            for kind, shapes in self.layers.items()
        }
        return replace(self, layers=new)

    def scaled(self, by: float) -> Drawing:
        """The drawing in another unit, `by` of which are 1 mm."""

        def enlarged(stroke: Stroke) -> Stroke:
            return stroke.transformed(lambda points: points * by)

        changed = self.changed(enlarged, *LineKind)
        return replace(changed, width=self.width * by, height=self.height * by)

    def strokes(self, *kinds: LineKind) -> list[Stroke]:
        """The strokes of some kinds, or else of all, in working order."""
        return [
            stroke
            for kind, shapes in self.layers.items()
            if kind in (kinds or LineKind)
            for shape in shapes
            for stroke in shape
        ]

    @property
    def nodes(self) -> int:
        """Number of points on curves that a machine passes."""
        return sum(len(stroke.curves) + (not stroke.closed) for stroke in self.strokes())


def flatten(strokes: Sequence[Stroke], tolerance: float) -> list[Points]:
    """Points (n, 2) along every stroke, within `tolerance` of it.

    The steps on a curve follow from its second differences (Wang's bound).
    """
    if not strokes:
        return []
    controls = np.concatenate([stroke.curves for stroke in strokes])
    bend = np.linalg.norm(np.diff(controls, 2, axis=1), axis=2).max(axis=1)
    steps = np.maximum(1, np.ceil(np.sqrt(0.75 * bend / tolerance))).astype(np.intp)
    owner = np.repeat(np.arange(len(controls)), steps)
    begins = np.cumsum(steps) - steps
    t = ((np.arange(len(owner)) - begins[owner] + 1) / steps[owner])[:, None]
    a, b, c, d = (controls[owner, i] for i in range(4))
    s = 1.0 - t
    points = s**3 * a + 3 * s * s * t * b + 3 * s * t * t * c + t**3 * d
    ends = np.cumsum(steps)[np.cumsum([len(stroke.curves) for stroke in strokes]) - 1]
    runs = np.split(points, ends[:-1])
    return [np.vstack([each.start, run]) for each, run in zip(strokes, runs, strict=True)]


def length_of(strokes: Sequence[Stroke]) -> float:
    """Total length in mm, flattened to 0.01 mm."""
    return float(shapely.length(lines_through(flatten(strokes, LENGTH_TOLERANCE))).sum())


_COLOUR = re.compile(r"#[0-9a-f]{6}", re.IGNORECASE)


def check_colour(text: str) -> None:
    """Raise UsageError for text that is not a colour `#rrggbb`; empty text is allowed."""
    if text and not _COLOUR.fullmatch(text):
        raise UsageError(f"{text!r} is not a colour.", "Write for example #37424f.")


def mixed(one: str, other: str, share: float) -> str:
    """A mix of two colours, with the given share of the second."""
    ways = ((int(each[at : at + 2], 16) for each in (one, other)) for at in (1, 3, 5))
    return "#" + "".join(f"{round(begin + share * (end - begin)):02x}" for begin, end in ways)


@dataclass(frozen=True, slots=True)
class LineStyle:
    """Colour `#rrggbb`, width and dashes in mm; `fill` is the fill colour, if any."""

    colour: str
    width: float = 0.1
    dash: tuple[float, ...] = ()
    fill: str = ""

    def __post_init__(self) -> None:
        for colour in (self.colour, self.fill):
            check_colour(colour)
        lengths = (self.width, *self.dash)
        if not all(0 <= length < 100 for length in lengths):
            raise UsageError("Widths and dashes of lines are numbers of mm from 0 to 100.")
        if not (self.colour or self.fill):
            raise UsageError("A kind of line needs a colour or a fill, or it cannot be seen.")

    def scaled(self, by: float) -> LineStyle:
        """The style in another unit, `by` of which are 1 mm."""
        return replace(self, width=self.width * by, dash=tuple(each * by for each in self.dash))


Style = Mapping[LineKind, LineStyle]

STYLE: Style = MappingProxyType(
    {
        LineKind.GUIDES: LineStyle("#8a8f98", 0.1, (1.2, 0.4)),
        LineKind.MARKS: LineStyle("#5a6aa0", 0.15),
        LineKind.FOLDS: LineStyle("#2f6f4f", 0.1, (3.0, 2.0)),
        LineKind.SLITS: LineStyle("#1f2933", 0.1),
        LineKind.WINDOWS: LineStyle("", 0.0, fill="#37424f"),
        LineKind.EDGE: LineStyle("#1f2933", 0.2),
    }
)
"""Windows are filled and unstroked, so that the painted area is exactly what is removed."""


def read_drawing_style(file: Path) -> Style:
    """The user's own style: a TOML file with a table for each kind of line that differs.

    Raises UsageError if it cannot be read or contains something invalid.
    """
    try:
        changes = tomllib.loads(file.read_text(encoding="utf-8"))
    except OSError as error:
        raise UsageError(
            f"The style file {file} cannot be read: {reason_of(error)}.",
            "Name another with --style.",
        ) from error
    except ValueError as error:
        message = "it is not UTF-8" if isinstance(error, UnicodeDecodeError) else error
        raise UsageError(
            f"The style file {file} is not valid TOML: {message}.", "Fix it in a text editor."
        ) from error
    style, converter = dict(STYLE), strict_converter()
    for name, facts in changes.items():
        if name not in TITLES or not isinstance(facts, dict):
            raise UsageError(
                f"{file.name} names {name!r}, which is not a kind of line.",
                f"There are {', '.join(LineKind)}.",
            )
        given = to_data(converter, style[LineKind(name)]) | facts
        style[LineKind(name)] = from_data(
            converter, given, LineStyle, f"style of {name} in {file.name}"
        )
    return MappingProxyType(style)
