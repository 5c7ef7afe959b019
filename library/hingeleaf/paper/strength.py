"""Minimum-width tests by morphological erosion of paper and of openings.

What comes apart when every edge of the paper moves in by half the least web hung on something
narrower than that. Windows are tried the same way with half the least window.
"""

from __future__ import annotations

import numpy as np
import shapely
from shapely import MultiPolygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import XY, Cuts
from hingeleaf.paper.parts import faces_of
from hingeleaf.paper.sheets import Geometries, polygons_of, sheet_around

TOLERANCE = 0.002
"""mm by which a width may fall short of the least."""
TRIFLE = 0.1
"""A piece that comes off counts if its largest circle exceeds the web's by this share."""

LONG = 2.5
"""Area, in squares of the least width, up to which what is narrower is taken for a corner.

Every corner narrows to nothing; one of 10 degrees leaves this much.
"""

HAIR = 0.03
"""Share of the least width by which slivers are thinned: along bent edges hairs join corners."""

_TOUCH = 1e-4
"""mm: cuts nearer than this are one cut."""
_ROUND = 16
"""Segments of a quarter circle: 0.1 % of the radius off."""


def loose_part(cuts: Cuts, *, kerf: float = 0.2) -> XY | None:
    """Where a part falls out, if one does that is anywhere wider than the kerf."""
    sheet = sheet_around(cuts)
    faces = faces_of(cuts, sheet)
    loose = faces[~shapely.intersects(faces, sheet.exterior)]
    loose = loose[~shapely.is_empty(shapely.buffer(loose, -kerf / 2))]
    return _inside(loose[0]) if len(loose) else None


def narrow_web(cuts: Cuts, least_web: float) -> XY | None:
    """Where paper narrower than `least_web` mm ties a piece, parts two cuts, or sticks out far.

    The cuts must be valid and must leave no part loose.
    """
    radius = (least_web - TOLERANCE) / 2
    if radius <= 0:
        return None
    cut = shapely.geometrycollections([cuts.windows, cuts.slits])
    eaten = shapely.buffer(cut, radius, quad_segs=_ROUND)
    healed = shapely.buffer(eaten, -radius, quad_segs=_ROUND)
    if not _parts_more(cut, eaten, radius) and not _has_tail(healed, cuts.windows, least_web):
        return None
    lost = polygons_of(shapely.difference(healed, cuts.windows))
    return _inside(max(lost, key=lambda piece: piece.area, default=healed))


def _parts_more(cut: BaseGeometry, eaten: BaseGeometry, radius: float) -> bool:
    """Whether cuts that were eaten wider enclose a piece, or meet where they were apart."""
    pieces = polygons_of(eaten)
    if _counting(_holes(pieces), radius).any():
        return True
    most = sum(shapely.get_num_geometries(kind) for kind in cut.geoms)
    return len(pieces) < most and len(pieces) < len(polygons_of(shapely.buffer(cut, _TOUCH)))


def narrow_window(windows: MultiPolygon, least_window: float) -> XY | None:
    """Where a window is narrower than `least_window` mm: all over, between, or in a tail."""
    radius = (least_window - TOLERANCE) / 2
    if radius <= 0 or windows.is_empty:
        return None
    polygons = shapely.get_parts(windows)
    cores = shapely.buffer(polygons, -radius, quad_segs=_ROUND)
    blunted = shapely.buffer(cores, radius, quad_segs=_ROUND)
    for window, core, blunt in zip(polygons, cores, blunted, strict=True):
        pieces = polygons_of(core)
        parted = len(pieces) > 1 and _counting(pieces, radius).sum() > 1
        if not len(pieces) or parted or _has_tail(window, blunt, least_window):
            return _inside(window)
    return None


def _has_tail(whole: BaseGeometry, blunted: BaseGeometry, least: float) -> bool:
    """Whether something longer than corners leave is narrower than `least` mm and was lost."""
    most = LONG * least**2
    if whole.area - blunted.area <= most:  # the overlay is dear, and seldom needed
        return False
    lost = shapely.buffer(shapely.difference(whole, blunted), -HAIR * least)
    return bool((shapely.area(polygons_of(lost)) > most).any())


def _counting(pieces: Geometries, radius: float) -> np.ndarray[tuple[int], np.dtype[np.bool_]]:
    """Which pieces are no trifles."""
    inner = shapely.buffer(pieces, -TRIFLE * radius, quad_segs=_ROUND)
    counting: np.ndarray[tuple[int], np.dtype[np.bool_]] = ~shapely.is_empty(inner)
    return counting


def _holes(polygons: Geometries) -> Geometries:
    rings, owner = shapely.get_rings(polygons, return_index=True)
    inner = np.append(False, owner[1:] == owner[:-1]) if len(rings) else np.zeros(0, dtype=bool)
    holes: Geometries = shapely.polygons(rings[inner])
    return holes


def _inside(area: BaseGeometry) -> XY:
    point = area.representative_point()
    return point.x, point.y
