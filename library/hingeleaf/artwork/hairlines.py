"""Convert hairlines to the shapes that they enclose or to slits, and leave out guides."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon, Polygon

from hingeleaf.artwork.closed_outlines import GUIDE, MEET, TAKE_GUIDES, enclosed
from hingeleaf.artwork.colours import is_sheet
from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.artwork.part_names import border_of
from hingeleaf.artwork.preparation import Border, Preparation
from hingeleaf.geometry.members import longest_side, robust
from hingeleaf.model import NO_LINES, NO_WINDOWS, Points, Severity, Shape
from hingeleaf.units import format_mm

_HOLE = 0.95
"""Least share of a hairline shape that must be hole for it to be only the hole's edge."""


def with_borders(
    shapes: Sequence[Shape], preparation: Preparation, notes: Diagnostics
) -> list[tuple[Shape, Border]]:
    """The shapes with their borders: hairlines as the areas they enclose, open ones as slits.

    Guides, i.e. rectangles around everything, are left out unless parts were named or guides
    wanted.
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
            notes.add("guide", GUIDE, shape.name, Severity.NOTE, TAKE_GUIDES)
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
        alike = near[np.abs(sizes[near] / part.area - 1) < 1 - _HOLE]
        return any(
            robust(shapely.intersection, part, white[k]).area > _HOLE * part.area for k in alike
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
    meet = MEET * longest_side(part for shape in group for part in (shape.area, shape.lines))
    found = enclosed(lines, meet, max(meet, preparation.close), around=around, alone=alone)
    first, area = group[0], _without_edges(found.area, filled, preparation.sheet)
    if found.guides:
        notes.add("guide", GUIDE, first.layer or first.name, Severity.NOTE, TAKE_GUIDES)
    if not area.is_empty:
        notes.add(
            "hairline",
            "Thin lines that close are taken as shapes",
            first.name,
            Severity.NOTE,
            "Cut along them with --border line.",
        )
        yield replace(first, area=area, lines=NO_LINES), border
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
