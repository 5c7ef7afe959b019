"""Plan the weeding order, and find strips thin enough to tear."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import near_pairs
from hingeleaf.model import XY, Card, Cuts, Finding
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.findings import FindingKind, found
from hingeleaf.units import format_mm

SLENDER_RATIO = 20.0
"""Strips with at least this ratio of length to width tear easily (common practice, no source)."""
MIN_STRIP_LENGTH = 15.0
"""mm: shorter strips come out in one piece."""
MAX_TEARING_WIDTH = 2.0
"""mm: wider waste does not tear under a weeding hook (common practice, no source)."""
ROW_HEIGHT = 20.0
"""mm: motifs whose centres are within this height count as one row."""
QUARTER_SEGMENTS = 2
"""Segments of a quarter circle in buffers."""


@dataclass(frozen=True, slots=True)
class WeedingStep:
    """The windows of one motif, to be weeded together."""

    number: int
    piece: int
    """Index of the motif among the panel's pieces."""
    at: XY
    windows: int


def weeding_order(panel: Panel) -> tuple[WeedingStep, ...]:
    """The motifs with windows, row by row from the far side, in alternating directions.

    So the hand never rests on parts that are already weeded (common practice, no source).
    """
    pieces = [index for index, piece in enumerate(panel.pieces) if not piece.cuts.windows.is_empty]
    places = {
        index: shapely.get_coordinates(panel.pieces[index].cuts.windows.envelope.centroid)[0]
        for index in pieces
    }
    ordered = [
        index
        for number, row in enumerate(rows_of(places))
        for index in sorted(row, key=lambda each: places[each][0], reverse=bool(number % 2))
    ]
    return tuple(
        WeedingStep(
            number,
            index,
            (float(places[index][0]), float(places[index][1])),
            len(panel.pieces[index].cuts.windows.geoms),
        )
        for number, index in enumerate(ordered, start=1)
    )


def rows_of(places: Mapping[int, NDArray[np.float64]]) -> list[list[int]]:
    """Indices of things at these places, in rows from the far side, at most `ROW_HEIGHT` high."""
    rows: list[list[int]] = []
    for index in sorted(places, key=lambda each: (places[each][1], places[each][0])):
        if not rows or places[index][1] - places[rows[-1][0]][1] > ROW_HEIGHT:
            rows.append([])
        rows[-1].append(index)
    return rows


def slender_strips(cuts: Cuts, card: Card) -> Iterator[Finding]:
    """Long thin waste, and long thin paper between windows."""
    for strip, width, length in _slender(cuts.windows, MAX_TEARING_WIDTH):
        yield found(
            FindingKind.SLENDER_WASTE,
            f"A window is {length:.0f} mm long and only about {width:.1f} mm wide: its waste may "
            "tear as it is weeded.",
            strip,
        )
    for edge, width in _thin_paper(cuts, 2 * card.least_web):
        if width < card.least_web:
            continue  # reported as a separate fault
        yield found(
            FindingKind.SLENDER_PAPER,
            f"A strip of paper is {edge.length:.0f} mm long and only about {width:.1f} mm wide: it "
            "may tear as the windows beside it are weeded.",
            edge.interpolate(0.5, normalized=True),
        )


def small_scraps(cuts: Cuts, longest: float | None) -> Iterator[Finding]:
    """One note about all waste up to `longest` mm; none if that is None."""
    windows = shapely.get_parts(cuts.windows)
    if longest is None or not len(windows):
        return
    boxes = shapely.get_coordinates(shapely.minimum_rotated_rectangle(windows)[:, None])
    corners = boxes.reshape(len(windows), -1, 2)
    sides = np.hypot(*np.diff(corners[:, :3], axis=1).transpose(2, 0, 1)).max(axis=1)
    small = np.flatnonzero(sides <= longest)
    if len(small):
        pieces = "1 piece" if len(small) == 1 else f"{len(small)} pieces"
        yield found(
            FindingKind.SMALL_SCRAPS,
            f"{pieces} of waste no longer than {format_mm(longest)}: such scraps stay on the mat "
            "or under the blade.",
            windows[small[0]],
        )


def _thin_paper(cuts: Cuts, widest: float) -> Iterator[tuple[LineString, float]]:
    """Stretches of a window's edge within `widest` mm of another window, with their distance."""
    windows = shapely.get_parts(cuts.windows)
    windows = windows[shapely.length(windows) >= 2 * MIN_STRIP_LENGTH]
    if not len(windows):
        return
    one, other = near_pairs(windows, widest)
    near = shapely.buffer(windows[one], widest, quad_segs=QUARTER_SEGMENTS)
    beside = shapely.intersection(shapely.boundary(windows[other]), near)
    edges, pair = shapely.get_parts(shapely.line_merge(beside), return_index=True)
    width = shapely.distance(edges, windows[one[pair]])
    slender = shapely.length(edges) >= np.maximum(SLENDER_RATIO * width, MIN_STRIP_LENGTH)
    for index in np.flatnonzero(slender).tolist():
        yield edges[index], float(width[index])


def _slender(areas: BaseGeometry, widest: float) -> Iterator[tuple[BaseGeometry, float, float]]:
    """Slender strips with the width and length of a rectangle of equal area and perimeter."""
    parts = shapely.get_parts(areas)
    if not len(parts):
        return
    area, half = shapely.area(parts), shapely.length(parts) / 2
    # Sides a and b of a rectangle with that area and half that outline: a + b = half, a·b = area.
    root = np.sqrt(np.maximum(half**2 - 4 * area, 0.0))
    width, length = (half - root) / 2, (half + root) / 2
    slender = (
        (length >= np.maximum(SLENDER_RATIO * width, MIN_STRIP_LENGTH))
        & (width <= widest)
        & (width > 0)
    )
    for index in np.flatnonzero(slender).tolist():
        yield parts[index], float(width[index]), float(length[index])
