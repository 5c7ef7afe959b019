"""Prepare a drawing for cutting: parts, hairlines, borders and size give windows and slits."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon

from hingeleaf.artwork.cleaning import clean
from hingeleaf.artwork.closed_outlines import GUIDE_LEFT_OUT, GUIDE_REMEDY, SAME_POINT, enclosed
from hingeleaf.artwork.colours import is_sheet
from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.artwork.painted_area import dark_area, union_of_shapes
from hingeleaf.artwork.preparation_options import (
    Border,
    Overlap,
    Preparation,
    Side,
    border_of,
    select_shapes,
)
from hingeleaf.artwork.reading import read
from hingeleaf.errors import NothingToCutError, UsageError
from hingeleaf.geometry.members import area_of, longest_side, robust
from hingeleaf.model import NO_LINES, NO_WINDOWS, Artwork, Finding, Points, Severity, Shape
from hingeleaf.params import MAX_LENGTH
from hingeleaf.units import format_mm

_MIN_HOLE_SHARE = 0.95
"""Least share of a hairline shape that must be hole for it to be only the hole's edge (our own
choice)."""


def with_borders(
    shapes: Sequence[Shape], preparation: Preparation, notes: Diagnostics
) -> list[tuple[Shape, Border]]:
    """The shapes with their borders: hairlines as the areas they enclose, open ones as slits.

    Guides (rectangles around everything) are left out unless requested or parts were named.
    """
    around = None
    if shapes and not (preparation.guides or preparation.keep):
        extent = shapely.total_bounds([each for s in shapes for each in (s.area, s.lines)])
        around = extent.reshape(2, 2)
    bordered: list[tuple[Shape, Border]] = []
    hairlines: dict[tuple[str, str, Border], list[Shape]] = {}
    for shape in shapes:
        border = border_of(shape, preparation)
        thin = shape.area.area <= preparation.least * shape.lines.length
        if not shape.lines.is_empty and border is not Border.LINE and thin:
            hairlines.setdefault((shape.layer, shape.colour, border), []).append(shape)
        elif len(shapes) > 1 and around is not None and _is_frame(shape, around):
            notes.add("guide", GUIDE_LEFT_OUT, shape.name, Severity.NOTE, GUIDE_REMEDY)
        else:
            bordered.append((shape, border))
    shown = sum(not is_sheet(shape.colour, preparation.sheet) for shape in shapes)
    filled = [shape for shape, _ in bordered]
    for (_, _, border), group in hairlines.items():
        alone = len(group) == shown
        bordered += _from_hairlines(group, border, preparation, around, alone, filled, notes)
    return bordered


def _without_edges(area: MultiPolygon, shapes: Sequence[Shape], sheet: str) -> MultiPolygon:
    """The areas enclosed by hairlines, without outlines of sheet-coloured holes in other paint."""
    white = [shape.area for shape in shapes if is_sheet(shape.colour, sheet)]
    paint = [shape.area for shape in shapes if not is_sheet(shape.colour, sheet)]
    if area.is_empty or not white or not paint:
        return area
    holes, dark = shapely.STRtree(white), shapely.STRtree(paint)
    sizes = shapely.area(white)

    def is_edge(part: Polygon) -> bool:
        near = holes.query(part)
        alike = near[np.abs(sizes[near] / part.area - 1) < 1 - _MIN_HOLE_SHARE]
        return any(
            robust(shapely.intersection, part, white[k]).area > _MIN_HOLE_SHARE * part.area
            for k in alike
        ) and any(part.intersects(paint[k]) for k in dark.query(part))

    return MultiPolygon([part for part in area.geoms if not is_edge(part)])


def _is_frame(shape: Shape, around: Points) -> bool:
    """Whether a shape is just a line drawn as a rectangle around everything."""
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
    filled: Sequence[Shape],
    notes: Diagnostics,
) -> Iterator[tuple[Shape, Border]]:
    lines = [line for shape in group for line in _points_of(shape)]
    meet = SAME_POINT * longest_side(part for shape in group for part in (shape.area, shape.lines))
    found = enclosed(lines, meet, max(meet, preparation.close), around=around, alone=alone)
    first, area = group[0], _without_edges(found.area, filled, preparation.sheet)
    if found.guides:
        notes.add("guide", GUIDE_LEFT_OUT, first.layer or first.name, Severity.NOTE, GUIDE_REMEDY)
    if not area.is_empty:
        notes.add(
            "hairline",
            "Thin lines that close are treated as shapes",
            first.name,
            Severity.NOTE,
            "Cut along them with --border line.",
        )
        yield replace(first, area=area, lines=NO_LINES), border
    if found.open_lines:
        notes.add(
            "hairline",
            "Thin lines that stay open are treated as slits",
            first.name,
            Severity.NOTE,
            f"Gaps wider than {format_mm(preparation.close)} are closed with a larger --close.",
        )
        yield replace(first, area=NO_WINDOWS, lines=MultiLineString(found.open_lines)), Border.LINE


def _points_of(shape: Shape) -> list[Points]:
    return [shapely.get_coordinates(line) for line in shape.lines.geoms]


_ROUNDS = 4
_EXACT = 1e-6
"""Most rounds of finding the scale for a size, and the share of it to which it is met (our own
choice)."""
_TINY = 1e-9
_EDGE_TOLERANCE = 0.01
"""mm: a line this near to the edge of a body runs along it (our own choice)."""


@dataclass(frozen=True, slots=True)
class Prepared:
    """The cuts of a motif, drawn about the origin."""

    windows: MultiPolygon
    slits: MultiLineString
    size: float
    findings: tuple[Finding, ...] = ()


def prepare(artwork: Artwork, preparation: Preparation) -> Prepared:
    """Windows and slits of the chosen parts at their real size, centred on the origin.

    Raises UsageError if a choice matches no part or a length is impossible, NothingToCutError if
    nothing is left to cut.
    """
    shapes, body = _parts(artwork, preparation)
    windows, slits, notes = _sized_cuts(shapes, body, preparation)
    if windows.is_empty and slits.is_empty:
        raise NothingToCutError(
            f"Nothing of {artwork.name} is left to cut.",
            "Choose other parts, a larger --size, a smaller --least, or --border line.",
        )
    return finished(windows, slits, notes)


def drawn_at_size(
    artwork: Artwork, preparation: Preparation, notes: Diagnostics
) -> tuple[list[Shape], MultiPolygon]:
    """The chosen shapes at their real size, and the body; hairlines as shapes, without guides.

    Raises UsageError and NothingToCutError as `prepare` does.
    """
    shapes, body = _parts(artwork, preparation)
    scale = preparation.size / drawn_size(shapes) if preparation.size else 1.0
    scaled = _visible([_scaled(shape, scale) for shape in shapes], preparation, notes)
    drawn = [shape for shape, _ in with_borders(scaled, preparation, notes)]
    return drawn, union_of_shapes(_scaled(shape, scale) for shape in body)


def _parts(artwork: Artwork, preparation: Preparation) -> tuple[Sequence[Shape], Sequence[Shape]]:
    """The shapes to cut, and those of the body. Raises UsageError, NothingToCutError."""
    shapes = select_shapes(artwork.shapes, preparation.keep, preparation.ignore)
    body = select_shapes(artwork.shapes, preparation.body) if preparation.body else ()
    shapes = tuple(shape for shape in shapes if not any(shape is part for part in body))
    if not shapes:
        raise NothingToCutError(
            f"Every part of {artwork.name} is left out.", "Leave out fewer of them."
        )
    size = drawn_size(shapes)
    if preparation.size is None and size > MAX_LENGTH:
        raise UsageError(
            f"{artwork.name} is drawn {format_mm(size)} long, and a motif is at most "
            f"{format_mm(MAX_LENGTH)}.",
            "Give its intended size, for example --size 60mm.",
        )
    return shapes, body


def finished(windows: MultiPolygon, slits: MultiLineString, notes: Diagnostics) -> Prepared:
    """The cuts centred on the origin, with their findings."""
    windows, slits = _centred(windows, slits)
    return Prepared(windows, slits, longest_side((windows, slits)), notes.findings())


def _sized_cuts(
    shapes: Sequence[Shape], body: Sequence[Shape], preparation: Preparation
) -> tuple[MultiPolygon, MultiLineString, Diagnostics]:
    """The cuts, with the drawing scaled so that they get the requested size.

    Bands add to the drawing's size and centre lines of strokes subtract from it, both nearly
    linearly, so the secant method needs few iterations.
    """
    wanted, slope = preparation.size, drawn_size(shapes)
    scale = 1.0 if wanted is None else wanted / slope
    windows, slits, notes = _cuts(shapes, body, preparation, scale)
    for _ in range(_ROUNDS):
        size = longest_side((windows, slits))
        if wanted is None or size == 0 or abs(size - wanted) < _EXACT * wanted:
            break
        step = max((wanted - size) / slope, -0.9 * scale)
        scale += step
        windows, slits, notes = _cuts(shapes, body, preparation, scale)
        grown = (longest_side((windows, slits)) - size) / step
        slope = grown if grown > 0 else slope
    return windows, slits, notes


def drawn_size(shapes: Iterable[Shape]) -> float:
    """The longest side of the shapes; a tiny number if there are none."""
    return longest_side(part for shape in shapes for part in (shape.area, shape.lines)) or _TINY


def _cuts(
    shapes: Sequence[Shape], body: Sequence[Shape], preparation: Preparation, scale: float
) -> tuple[MultiPolygon, MultiLineString, Diagnostics]:
    """Windows and slits with the drawing scaled `scale` times, and findings."""
    notes = Diagnostics()
    shapes = _visible([_scaled(shape, scale) for shape in shapes], preparation, notes)
    bordered = with_borders(shapes, preparation, notes)
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
            windows = area_of(robust(shapely.union, windows, area))
    if body:
        windows, slits = beside((windows, slits), union_of_shapes(_scaled(s, scale) for s in body))
    return windows, slits, notes


def beside(
    cuts: tuple[MultiPolygon, MultiLineString], body: MultiPolygon
) -> tuple[MultiPolygon, MultiLineString]:
    """Windows and slits without those on a body or along its edge."""
    paper = shapely.buffer(body, _EDGE_TOLERANCE)
    lines = shapely.get_parts(robust(shapely.difference, cuts[1], paper))
    slits = MultiLineString([line for line in lines if not line.is_empty])
    return area_of(robust(shapely.difference, cuts[0], paper)), slits


def _scaled(shape: Shape, scale: float) -> Shape:
    area, lines = (
        shapely.transform(part, lambda points: points * scale) for part in (shape.area, shape.lines)
    )
    return replace(shape, area=area, lines=lines)


def _visible(shapes: list[Shape], preparation: Preparation, notes: Diagnostics) -> list[Shape]:
    """The shapes; if all have the colour of the sheet, they count as dark."""
    if preparation.overlap is Overlap.EACH or not shapes:
        return shapes
    if all(is_sheet(shape.colour, preparation.sheet) for shape in shapes):
        notes.add(
            "sheet-colour",
            "Everything has the colour of the sheet; each shape is taken as it is.",
            severity=Severity.NOTE,
        )
        return [replace(shape, colour="") for shape in shapes]
    return shapes


def _painted(
    bordered: Sequence[tuple[Shape, Border]], preparation: Preparation, border: Border
) -> MultiPolygon:
    """The visible area of all shapes that get this border."""
    mine = (
        shape
        for shape, its_border in bordered
        if its_border is border
        or (preparation.overlap is Overlap.PICTURE and is_sheet(shape.colour, preparation.sheet))
    )
    if preparation.overlap is Overlap.EACH:
        return union_of_shapes(mine)
    return dark_area(mine, preparation.sheet)


def _band(area: MultiPolygon, width: float, side: Side) -> MultiPolygon:
    if side is Side.OUTSIDE:
        grown = shapely.buffer(area, width, quad_segs=32)
        return area_of(robust(shapely.difference, grown, area))
    shrunk = shapely.buffer(area, -width, quad_segs=32)
    return area_of(robust(shapely.difference, area, shrunk))


def _slits(
    bordered: Sequence[tuple[Shape, Border]], preparation: Preparation, area: MultiPolygon
) -> MultiLineString:
    """Outlines of filled shapes, and centre lines of unfilled strokes."""
    strokes = [s for s, border in bordered if border is Border.LINE and not s.lines.is_empty]
    if strokes:
        filled = [(shape, border) for shape, border in bordered if shape.lines.is_empty]
        area = _painted(filled, preparation, Border.LINE)
    merged = shapely.line_merge(
        robust(shapely.union_all, [shapely.boundary(area), *(shape.lines for shape in strokes)])
    )
    parts = [part for part in shapely.get_parts(merged) if isinstance(part, shapely.LineString)]
    return MultiLineString(parts)


def _centred(windows: MultiPolygon, slits: MultiLineString) -> tuple[MultiPolygon, MultiLineString]:
    left, top, right, bottom = shapely.total_bounds([windows, slits])
    centre = (left + right) / 2, (top + bottom) / 2
    windows, slits = (
        shapely.transform(part, lambda points: points - centre) for part in (windows, slits)
    )
    return windows, slits


def read_outline(file: Path) -> MultiPolygon:
    """The area that the shapes of an artwork file cover or enclose, in mm, y down.

    Raises ArtworkError if the file is missing, not artwork, hostile, or encloses nothing.
    """
    artwork = read(file)
    shapes = tuple(_with_enclosed_area(shape) for shape in artwork.shapes)
    windows = prepare(replace(artwork, shapes=shapes), Preparation(least=0)).windows
    if windows.is_empty:
        raise NothingToCutError(
            f"{file} has no closed shape to use as an outline.", "Close the outline and save again."
        )
    return windows


def _with_enclosed_area(shape: Shape) -> Shape:
    """A drawn shape with closed unfilled lines replaced by the area that they enclose, a line
    within another by a hole. Open lines stay unchanged."""
    if shape.lines.is_empty:
        return shape
    enclosed = area_of(shapely.build_area(shapely.union_all(shape.lines)))
    if enclosed.is_empty:
        return shape
    return replace(shape, area=enclosed, lines=NO_LINES)
