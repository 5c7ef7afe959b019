"""Prepare a drawing for cutting: parts, borders and size give windows and slits."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from fnmatch import fnmatchcase
from typing import Annotated

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.artwork.cleaning import clean
from hingeleaf.artwork.colours import hex_colour
from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.artwork.outlines import CLOSE, GUIDE, MEET, TAKE_GUIDES, enclosed
from hingeleaf.artwork.picture import is_sheet, picture, silhouette
from hingeleaf.errors import NothingToCutError, UsageError
from hingeleaf.geometry.winding import polygons_of
from hingeleaf.model import NO_LINES, NO_WINDOWS, Artwork, Finding, Points, Severity, Shape
from hingeleaf.params import LENGTH, Parameter, validate
from hingeleaf.units import format_mm

_ROUNDS = 4
_EXACT = 1e-6


class Border(StrEnum):
    """What is cut for a shape."""

    WINDOW = "window"
    """The shape itself is cut out."""
    BAND = "band"
    """A window of even width follows the shape's edge; the shape stays."""
    LINE = "line"
    """A slit follows the shape's edge, or the middle of an unfilled stroke."""


class Side(StrEnum):
    """Where a band lies."""

    OUTSIDE = "outside"
    INSIDE = "inside"


class Taking(StrEnum):
    """How shapes that lie over each other are taken."""

    PICTURE = "picture"
    """As painted: sheet-coloured paint over other paint is a hole."""
    EACH = "each"
    """Every shape by itself, whatever its colour."""


@dataclass(frozen=True, slots=True)
class Preparation:
    """What is cut of a drawing. Lengths are mm at the real size.

    `keep` and `ignore` name parts by name, layer or colour; `*` stands for anything, and
    `layer:`, `colour:` or `name:` in front says which is meant.
    """

    size: Annotated[
        float | None,
        Parameter(
            "How long it is: 60mm, 2.5in, or as the file says.",
            LENGTH,
            low=0,
            high=100_000,
            above=True,
            label="Longest side",
            none="as drawn",
        ),
    ] = None
    """Longest side of what is cut."""
    keep: Annotated[
        tuple[str, ...],
        Parameter(
            "Only these parts, by name, layer or colour.",
            label="Parts",
            option="--part",
            none="every part",
        ),
    ] = ()
    ignore: Annotated[
        tuple[str, ...],
        Parameter("Parts to leave out, by name, layer or colour.", label="Leave out"),
    ] = ()
    border: Annotated[
        Border,
        Parameter(
            "Shapes cut out (window), as a strip around (band), or along the edge (line).",
            label="Cut as",
        ),
    ] = Border.WINDOW
    borders: Annotated[
        tuple[tuple[str, Border], ...],
        Parameter(
            "Another border for some parts, as in leaf=band.",
            label="Except",
            option="--border-of",
        ),
    ] = ()
    """The first that names a shape counts."""
    band: Annotated[
        float,
        Parameter(
            "How wide the strip around a shape is.",
            LENGTH,
            low=0,
            high=1000,
            above=True,
            title="width of the band",
            label="Band",
            step=0.5,
            when=lambda preparation: preparation.has_band,
        ),
    ] = 3.0
    side: Annotated[
        Side,
        Parameter(
            "Bands lie inside the edge, not outside.",
            option="--inside",
            switch=Side.INSIDE,
            when=lambda preparation: preparation.has_band,
        ),
    ] = Side.OUTSIDE
    taking: Annotated[
        Taking,
        Parameter(
            "Each shape by itself, not the picture they paint over each other.",
            label="Shapes",
            option="--each",
            switch=Taking.EACH,
        ),
    ] = Taking.PICTURE
    sheet: Annotated[
        str,
        Parameter(
            "The colour in the drawing that stands for bare sheet.",
            label="Paper colour",
            option="--sheet-colour",
        ),
    ] = "#ffffff"
    least: Annotated[
        float,
        Parameter(
            "Specks that are nowhere wider than this are removed.",
            LENGTH,
            low=0,
            high=1000,
            title="least width",
            label="Drop specks",
            step=0.1,
        ),
    ] = 0.2
    """Thinner lines are hairlines."""
    close: Annotated[
        float,
        Parameter(
            "Gaps between the ends of hairlines up to this are closed.",
            LENGTH,
            low=0,
            high=1000,
            title="gap to close",
            label="Close gaps",
            step=0.1,
        ),
    ] = CLOSE
    guides: Annotated[bool, Parameter("Rectangles drawn around everything are taken, too.")] = False
    smoothing: Annotated[
        float,
        Parameter(
            "Ragged outlines are smoothed by at most this.",
            LENGTH,
            low=0,
            high=1000,
            label="Smooth",
            option="--smooth",
            step=0.1,
        ),
    ] = 0.0
    join: Annotated[
        float,
        Parameter(
            "Shapes nearer to each other than this become one.",
            LENGTH,
            low=0,
            high=1000,
            title="distance to join",
            label="Join",
            step=0.1,
        ),
    ] = 0.0

    def __post_init__(self) -> None:
        validate(self)
        if hex_colour(self.sheet) is None:
            raise UsageError(f"{self.sheet!r} is not a colour.", "Write for example #ffffff.")

    @property
    def has_band(self) -> bool:
        """Whether some part is cut as a band."""
        return Border.BAND in (self.border, *(border for _, border in self.borders))


@dataclass(frozen=True, slots=True)
class Prepared:
    """What a motif is made of, drawn about the origin."""

    windows: MultiPolygon
    slits: MultiLineString
    size: float
    findings: tuple[Finding, ...] = ()


def prepare(artwork: Artwork, preparation: Preparation) -> Prepared:
    """Windows and slits of the chosen parts at their real size, centred on the origin.

    Raises UsageError if a choice names no part or a length is impossible, NothingToCutError if
    nothing is left to cut.
    """
    shapes = chosen(artwork.shapes, preparation.keep, preparation.ignore)
    if not shapes:
        raise NothingToCutError(
            f"Every part of {artwork.name} is left out.", "Leave out fewer of them."
        )
    windows, slits, notes = _sized_cuts(shapes, preparation)
    if windows.is_empty and slits.is_empty:
        raise NothingToCutError(
            f"Nothing of {artwork.name} is left to cut.",
            "Choose other parts, a larger --size, a smaller --least, or --border line.",
        )
    return finished(windows, slits, notes)


def drawn_at_size(artwork: Artwork, preparation: Preparation, notes: Diagnostics) -> list[Shape]:
    """The chosen shapes at their real size: hairlines as shapes, guides left out.

    Raises UsageError and NothingToCutError as `prepare` does.
    """
    shapes = chosen(artwork.shapes, preparation.keep, preparation.ignore)
    if not shapes:
        raise NothingToCutError(
            f"Every part of {artwork.name} is left out.", "Leave out fewer of them."
        )
    scale = preparation.size / _drawn_size(shapes) if preparation.size else 1.0
    scaled = _visible([_scaled(shape, scale) for shape in shapes], preparation, notes)
    return [shape for shape, _ in _outlined(scaled, preparation, notes)]


def finished(windows: MultiPolygon, slits: MultiLineString, notes: Diagnostics) -> Prepared:
    """What is cut, moved to the origin, with what there is to say."""
    windows, slits = _centred(windows, slits)
    return Prepared(windows, slits, _longest((windows, slits)), notes.findings())


def chosen(
    shapes: Sequence[Shape], keep: Sequence[str] = (), ignore: Sequence[str] = ()
) -> tuple[Shape, ...]:
    """The shapes that are kept, in paint order. Raises UsageError if a name fits no shape."""
    for pattern in (*keep, *ignore):
        if not any(names(pattern, shape) for shape in shapes):
            raise UsageError(
                f"No part is called {pattern!r}.", "See the parts with `hingeleaf inspect`."
            )
    return tuple(
        shape
        for shape in shapes
        if (not keep or any(names(pattern, shape) for pattern in keep))
        and not any(names(pattern, shape) for pattern in ignore)
    )


def names(pattern: str, shape: Shape) -> bool:
    """Whether a pattern means this shape, by its name, its layer or its colour."""
    kind, colon, rest = pattern.partition(":")
    if colon and kind in ("name", "layer", "colour"):
        return _MEANS[kind](rest, shape)
    return any(means(pattern, shape) for means in _MEANS.values())


def _means_name(pattern: str, shape: Shape) -> bool:
    return fnmatchcase(shape.name.casefold(), pattern.casefold())


def _means_layer(pattern: str, shape: Shape) -> bool:
    layers = (shape.layer, *shape.layer.split("/"))
    return any(layer and fnmatchcase(layer.casefold(), pattern.casefold()) for layer in layers)


def _means_colour(pattern: str, shape: Shape) -> bool:
    colour = hex_colour(pattern)
    return colour is not None and colour == shape.colour


_MEANS = {"name": _means_name, "layer": _means_layer, "colour": _means_colour}


def _sized_cuts(
    shapes: Sequence[Shape], preparation: Preparation
) -> tuple[MultiPolygon, MultiLineString, Diagnostics]:
    """What is cut, with the drawing enlarged so that it comes out at the wanted size.

    Bands add to the drawing's size and the middles of strokes fall short of it, both nearly in a
    straight line: so the secant method needs few rounds.
    """
    wanted, slope = preparation.size, _drawn_size(shapes)
    scale = 1.0 if wanted is None else wanted / slope
    windows, slits, notes = _cuts(shapes, preparation, scale)
    for _ in range(_ROUNDS):
        size = _longest((windows, slits))
        if wanted is None or abs(size - wanted) < _EXACT * wanted:
            break
        step = max((wanted - size) / slope, -0.9 * scale)
        scale += step
        windows, slits, notes = _cuts(shapes, preparation, scale)
        grown = (_longest((windows, slits)) - size) / step
        slope = grown if grown > 0 else slope
    return windows, slits, notes


def _drawn_size(shapes: Iterable[Shape]) -> float:
    return _longest([geometry for shape in shapes for geometry in (shape.area, shape.lines)])


def _longest(geometries: Iterable[BaseGeometry]) -> float:
    """The longest side of the box around all geometries; tiny where there are none."""
    left, top, right, bottom = shapely.total_bounds(list(geometries))
    longest = max(right - left, bottom - top)
    return float(longest) if longest > 0 else 1e-9


def _cuts(
    shapes: Sequence[Shape], preparation: Preparation, scale: float
) -> tuple[MultiPolygon, MultiLineString, Diagnostics]:
    """Windows and slits with the drawing enlarged `scale` times, and what there is to say."""
    notes = Diagnostics()
    shapes = _visible([_scaled(shape, scale) for shape in shapes], preparation, notes)
    bordered = _outlined(shapes, preparation, notes)
    used = {border for _, border in bordered}
    windows, slits = NO_WINDOWS, NO_LINES
    for border in (each for each in Border if each in used):
        area = _painted(bordered, preparation, border)
        if border is Border.LINE:
            slits = _slits(bordered, preparation, area)
            continue
        area = clean(area, preparation.join, preparation.smoothing, preparation.least, notes)
        if border is Border.BAND:
            area = _band(area, preparation.band, preparation.side)
        if windows.is_empty or area.is_empty:
            windows = area if windows.is_empty else windows
        else:
            windows = polygons_of(shapely.union(windows, area))
    return windows, slits, notes


def _outlined(
    shapes: Sequence[Shape], preparation: Preparation, notes: Diagnostics
) -> list[tuple[Shape, Border]]:
    """The shapes with their borders; hairlines as what they enclose, those left open as slits.

    Guides, rectangles around everything, are left out unless parts were named or they are wanted.
    """
    around = None
    if shapes and not (preparation.guides or preparation.keep):
        extent = shapely.total_bounds([each for s in shapes for each in (s.area, s.lines)])
        around = extent.reshape(2, 2)
    bordered: list[tuple[Shape, Border]] = []
    hairlines: dict[tuple[str, str, Border], list[Shape]] = {}
    for shape in shapes:
        border = _border_of(shape, preparation)
        thin = shape.area.area <= preparation.least * shape.lines.length
        if not shape.lines.is_empty and border is not Border.LINE and thin:
            hairlines.setdefault((shape.layer, shape.colour, border), []).append(shape)
        elif len(shapes) > 1 and around is not None and _is_frame(shape, around):
            notes.add("guide", GUIDE, shape.name, Severity.NOTE, TAKE_GUIDES)
        else:
            bordered.append((shape, border))
    for (_, _, border), group in hairlines.items():
        alone = len(group) == len(shapes)
        bordered += _from_hairlines(group, border, preparation, around, alone, notes)
    return bordered


def _is_frame(shape: Shape, around: Points) -> bool:
    """Whether a shape is nothing but a line drawn as a rectangle around everything."""
    if shape.lines.is_empty or not shape.area.envelope.area >= 0.9 * np.ptp(around, axis=0).prod():
        return False
    found = enclosed(_points_of(shape), 0.0, 0.0, around=around, alone=False)
    return found.guides > 0 and found.area.is_empty and not found.open_lines


def _from_hairlines(
    group: list[Shape],
    border: Border,
    preparation: Preparation,
    around: Points | None,
    alone: bool,
    notes: Diagnostics,
) -> Iterator[tuple[Shape, Border]]:
    lines = [line for shape in group for line in _points_of(shape)]
    meet = MEET * _drawn_size(group)
    found = enclosed(lines, meet, max(meet, preparation.close), around=around, alone=alone)
    first = group[0]
    if found.guides:
        notes.add("guide", GUIDE, first.layer or first.name, Severity.NOTE, TAKE_GUIDES)
    if not found.area.is_empty:
        notes.add(
            "hairline",
            "Thin lines that close are taken as shapes",
            first.name,
            Severity.NOTE,
            "Cut along them with --border line.",
        )
        yield replace(first, area=found.area, lines=NO_LINES), border
    if found.open_lines:
        notes.add(
            "hairline",
            "Thin lines that stay open are taken as slits",
            first.name,
            Severity.NOTE,
            f"Gaps wider than {format_mm(preparation.close)} are closed with a larger --close.",
        )
        yield replace(first, area=NO_WINDOWS, lines=MultiLineString(found.open_lines)), Border.LINE


def _points_of(shape: Shape) -> list[Points]:
    return [shapely.get_coordinates(line) for line in shape.lines.geoms]


def _scaled(shape: Shape, scale: float) -> Shape:
    def move(points: Points) -> Points:
        scaled: Points = points * scale
        return scaled

    return replace(
        shape,
        area=shapely.transform(shape.area, move),
        lines=shapely.transform(shape.lines, move),
    )


def _visible(shapes: list[Shape], preparation: Preparation, notes: Diagnostics) -> list[Shape]:
    """The shapes; if all have the colour of the sheet, they are taken as dark."""
    if preparation.taking is Taking.EACH or not shapes:
        return shapes
    if all(is_sheet(shape.colour, preparation.sheet) for shape in shapes):
        notes.add(
            "sheet-colour",
            "Everything has the colour of the sheet; each shape is taken as it is.",
            severity=Severity.NOTE,
        )
        return [replace(shape, colour="") for shape in shapes]
    return shapes


def _border_of(shape: Shape, preparation: Preparation) -> Border:
    for pattern, border in preparation.borders:
        if names(pattern, shape):
            return border
    return preparation.border


def _painted(
    bordered: Sequence[tuple[Shape, Border]], preparation: Preparation, border: Border
) -> MultiPolygon:
    """The visible area of all shapes that get this border."""
    mine = (
        shape
        for shape, its_border in bordered
        if its_border is border
        or (preparation.taking is Taking.PICTURE and is_sheet(shape.colour, preparation.sheet))
    )
    if preparation.taking is Taking.EACH:
        return silhouette(mine)
    return picture(mine, preparation.sheet)


def _band(area: MultiPolygon, width: float, side: Side) -> MultiPolygon:
    if side is Side.OUTSIDE:
        grown = shapely.buffer(area, width, quad_segs=32)
        return polygons_of(shapely.difference(grown, area))
    shrunk = shapely.buffer(area, -width, quad_segs=32)
    return polygons_of(shapely.difference(area, shrunk))


def _slits(
    bordered: Sequence[tuple[Shape, Border]], preparation: Preparation, area: MultiPolygon
) -> MultiLineString:
    """Outlines of filled shapes, and the middles of unfilled strokes."""
    strokes = [s for s, border in bordered if border is Border.LINE and not s.lines.is_empty]
    if strokes:
        filled = [(shape, border) for shape, border in bordered if shape.lines.is_empty]
        area = _painted(filled, preparation, Border.LINE)
    merged = shapely.line_merge(
        shapely.union_all([shapely.boundary(area), *(shape.lines for shape in strokes)])
    )
    parts = [part for part in shapely.get_parts(merged) if isinstance(part, shapely.LineString)]
    return MultiLineString(parts)


def _centred(windows: MultiPolygon, slits: MultiLineString) -> tuple[MultiPolygon, MultiLineString]:
    left, top, right, bottom = shapely.total_bounds([windows, slits])
    centre = np.array([(left + right) / 2, (top + bottom) / 2])

    def move(points: Points) -> Points:
        moved: Points = points - centre
        return moved

    return shapely.transform(windows, move), shapely.transform(slits, move)
