"""Joining what nearly touches, smoothing what is ragged, removing what no blade can cut."""

from __future__ import annotations

import shapely
from shapely import MultiPolygon, Polygon

from hingeleaf.artwork.fills import polygons_of, valid
from hingeleaf.artwork.notes import Notes
from hingeleaf.model import Severity
from hingeleaf.units import format_mm


def clean(
    area: MultiPolygon, join: float, smoothing: float, least: float, notes: Notes
) -> MultiPolygon:
    """The area joined, smoothed and without specks; each step is left out at 0."""
    if join > 0:
        area = joined(area, join)
    if smoothing > 0:
        area = smoothed(area, smoothing)
    return without_specks(area, least, notes) if least > 0 else area


def joined(area: MultiPolygon, distance: float) -> MultiPolygon:
    """Parts nearer to each other than `distance` as one (a morphological closing)."""
    grown = shapely.buffer(area, distance / 2, quad_segs=16)
    closed = shapely.buffer(grown, -distance / 2, quad_segs=16)
    return polygons_of(shapely.union(area, closed))


def smoothed(area: MultiPolygon, tolerance: float) -> MultiPolygon:
    """Outlines with fewer and smoother points, nowhere further off than `tolerance`."""
    return valid(polygons_of(shapely.simplify(area, tolerance, preserve_topology=True)))


def without_specks(area: MultiPolygon, least: float, notes: Notes) -> MultiPolygon:
    """The area without windows, and without paper inside windows, nowhere wider than `least`."""
    kept, specks, islands = [], 0, 0
    for polygon in area.geoms:
        if not is_wider(polygon, least):
            specks += 1
            continue
        holes = [hole for hole in polygon.interiors if is_wider(Polygon(hole), least)]
        islands += len(polygon.interiors) - len(holes)
        if len(holes) < len(polygon.interiors):
            polygon = Polygon(polygon.exterior, holes)
        kept.append(polygon)
    size = format_mm(least)
    if specks:
        notes.add(
            "speck", f"{specks} windows narrower than {size} removed.", severity=Severity.NOTE
        )
    if islands:
        notes.add(
            "speck",
            f"{islands} specks of paper narrower than {size} removed.",
            severity=Severity.NOTE,
        )
    return MultiPolygon(kept) if specks or islands else area


def is_wider(polygon: Polygon, least: float) -> bool:
    """Whether a circle of this diameter fits in somewhere."""
    left, top, right, bottom = polygon.bounds
    if min(right - left, bottom - top) < least:
        return False
    if polygon.area > 2 * least * polygon.length:
        return True
    return not shapely.is_empty(shapely.buffer(polygon, -least / 2, quad_segs=8))
