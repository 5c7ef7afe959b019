"""Minimum-width tests by morphological erosion of paper and of openings.

What comes apart when every edge of the paper moves in by half the least web hung on something
narrower than that. Windows are tried the same way with half the least window. What sticks out
and is narrower than the least width over a long way is a strip if it is about evenly wide, and
tears; a tip, which tapers, may only fray.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import Geometries, polygons_of, robust, windows_of
from hingeleaf.geometry.ray_casting import Bools, Floats
from hingeleaf.model import XY, Cuts
from hingeleaf.paper.parts import KERF, faces_of
from hingeleaf.paper.sheets import sheet_around

EPS_WIDTH = 0.002
"""mm by which a width may fall short of the least."""
MIN_PIECE_SHARE = 0.1
"""A piece that comes off counts if its largest circle exceeds the web's by this share."""

LONGEST_STRIP = 3.0
"""Least widths that a thinner strip may be long (common practice, no source)."""
LONGEST_TIP = 5.0
"""Least widths that a thinner tip may be long: a straight one of about 10 degrees is."""
TAPERED = 0.65
"""Mean width of a tip, at most, as a share of its greatest: half if its sides are straight."""

NEARBY = 4.0, 6.0
"""Least widths about a place in which strips are looked for, and from which they are told."""

SLIVER_SHARE = 0.03
"""Share of the least width by which slivers are thinned: along bent edges hairs join corners."""

_TOUCH = 1e-4
"""mm: cuts nearer than this are one cut."""
_ROUND = 16
"""Segments of a quarter circle: 0.1 % of the radius off."""


@dataclass(frozen=True, slots=True)
class Tip:
    """The end of pointed paper, where it is narrower than the least web over `length` mm."""

    region: Polygon
    length: float

    @property
    def at(self) -> XY:
        """A place in it."""
        return _inside(self.region)


def loose_part(cuts: Cuts, *, kerf: float = KERF) -> XY | None:
    """Where a part falls out, if one does that is anywhere wider than the kerf."""
    sheet = sheet_around(cuts)
    faces = faces_of(cuts, sheet)
    loose = faces[~shapely.intersects(faces, sheet.exterior)]
    loose = loose[~shapely.is_empty(shapely.buffer(loose, -kerf / 2))]
    return _inside(loose[0]) if len(loose) else None


def narrow_web(cuts: Cuts, least_web: float) -> XY | None:
    """Where paper narrower than `least_web` mm ties a piece, parts two cuts, or is a long strip.

    The cuts must be valid and must leave no part loose.
    """
    radius = (least_web - EPS_WIDTH) / 2
    if radius <= 0:
        return None
    cut, eaten = _eaten(cuts, radius)
    healed = shapely.buffer(eaten, -radius, quad_segs=_ROUND)
    if _parts_more(cut, eaten, radius):
        lost = polygons_of(robust(shapely.difference, healed, cuts.windows))
        return _inside(max(lost, key=lambda piece: piece.area, default=healed))
    return _long_strip(healed, cuts.windows, least_web)


def narrow_window(
    windows: MultiPolygon, least_window: float, near: Polygon | None = None
) -> XY | None:
    """Where a window is narrower than `least_window` mm: all over, between, or in a strip.

    Strips are looked for only about `near`, if it is given.
    """
    radius = (least_window - EPS_WIDTH) / 2
    if radius <= 0 or windows.is_empty:
        return None
    polygons = shapely.get_parts(windows)
    cores = shapely.buffer(polygons, -radius, quad_segs=_ROUND)
    for window, core in zip(polygons, cores, strict=True):
        pieces = polygons_of(core)
        if not len(pieces) or (len(pieces) > 1 and _counting(pieces, radius).sum() > 1):
            return _inside(window)
        if near is not None and not _any_strip_near(window, core, least_window, near):
            continue
        strip = _long_strip(window, shapely.buffer(core, radius, quad_segs=_ROUND), least_window)
        if strip:
            return strip
    return None


def _any_strip_near(window: Polygon, core: BaseGeometry, least: float, near: Polygon) -> bool:
    """Whether there may be a strip near a place, by the paper within a few widths of it."""
    box, wider = (shapely.buffer(near.envelope, least * widths).bounds for widths in NEARBY)
    blunt = shapely.buffer(shapely.clip_by_rect(core, *wider), least / 2, quad_segs=_ROUND)
    lost = _Lost.between(shapely.clip_by_rect(window, *box).buffer(0), blunt, least)
    return bool((lost.length > LONGEST_STRIP * least).any())


def thin_tips(cuts: Cuts, least_web: float) -> tuple[Tip, ...]:
    """Tips of paper that are narrower than `least_web` mm over a long way, longest first."""
    radius = (least_web - EPS_WIDTH) / 2
    if radius <= 0:
        return ()
    _, eaten = _eaten(cuts, radius)
    healed = shapely.buffer(eaten, -radius, quad_segs=_ROUND)
    lost = _Lost.between(healed, cuts.windows, least_web)
    length = lost.length + least_web / 2  # the circle that still fits reaches into the tip
    long = lost.tapers & (length > LONGEST_TIP * least_web)
    tips = map(Tip, lost.pieces[long], length[long].tolist())
    return tuple(sorted(tips, key=lambda tip: -tip.length))


def round_tips(windows: MultiPolygon, least_web: float) -> MultiPolygon:
    """The windows with thin tips of paper cut off round, `least_web` mm wide where they end."""
    tips = thin_tips(Cuts(windows), least_web)
    if not tips:
        return windows
    grown = shapely.buffer([tip.region for tip in tips], 2 * SLIVER_SHARE * least_web)
    radius = (least_web - EPS_WIDTH) / 2
    _, eaten = _eaten(Cuts(windows), radius)
    healed = shapely.buffer(eaten, -radius, quad_segs=_ROUND)
    rounded = shapely.union(windows, shapely.intersection(shapely.union_all(grown), healed))
    left = _holes(polygons_of(rounded))
    return windows_of(shapely.union_all([rounded, *left[shapely.covers(healed, left)]]))


def _eaten(cuts: Cuts, radius: float) -> tuple[BaseGeometry, BaseGeometry]:
    """What is cut, and the same with its edges moved out by `radius`."""
    cut = shapely.geometrycollections([cuts.windows, cuts.slits])
    return cut, shapely.buffer(cut, radius, quad_segs=_ROUND)


def _parts_more(cut: BaseGeometry, eaten: BaseGeometry, radius: float) -> bool:
    """Whether cuts that were eaten wider enclose a piece, or meet where they were apart."""
    pieces = polygons_of(eaten)
    if _counting(_holes(pieces), radius).any():
        return True
    most = sum(shapely.get_num_geometries(kind) for kind in cut.geoms)
    return len(pieces) < most and len(pieces) < len(polygons_of(shapely.buffer(cut, _TOUCH)))


def _long_strip(whole: BaseGeometry, blunted: BaseGeometry, least: float) -> XY | None:
    """Where a strip longer than corners leave is narrower than `least` mm and was lost."""
    lost = _Lost.between(whole, blunted, least)
    long = ~lost.tapers & (lost.length > LONGEST_STRIP * least)
    return _inside(lost.pieces[long][0]) if long.any() else None


@dataclass(frozen=True, slots=True)
class _Lost:
    """What an opening by the least width loses, corners apart."""

    pieces: Geometries
    length: Floats
    """mm along each piece: half its outline, less its width."""
    tapers: Bools

    @classmethod
    def between(cls, whole: BaseGeometry, blunted: BaseGeometry, least: float) -> _Lost:
        """The pieces of `whole` that `blunted` lacks."""
        corner = least**2 / 2
        if whole.area - blunted.area <= corner:  # the overlay is dear, and seldom needed
            return cls(np.array([], dtype=object), np.zeros(0), np.zeros(0, dtype=bool))
        lost = shapely.buffer(robust(shapely.difference, whole, blunted), -SLIVER_SHARE * least)
        pieces = polygons_of(lost)
        pieces = pieces[shapely.area(pieces) > corner]
        half = shapely.length(pieces) / 2
        mean = shapely.area(pieces) / np.maximum(half, _TOUCH)
        tapers = ~shapely.is_empty(shapely.buffer(pieces, -mean / (2 * TAPERED)))
        return cls(pieces, half - mean, tapers)


def _counting(pieces: Geometries, radius: float) -> Bools:
    """Which pieces are no trifles."""
    counting: Bools = ~shapely.is_empty(
        shapely.buffer(pieces, -MIN_PIECE_SHARE * radius, quad_segs=_ROUND)
    )
    return counting


def _holes(polygons: Geometries) -> Geometries:
    rings, owner = shapely.get_rings(polygons, return_index=True)
    inner = np.append(False, owner[1:] == owner[:-1]) if len(rings) else np.zeros(0, dtype=bool)
    holes: Geometries = shapely.polygons(rings[inner])
    return holes


def _inside(area: BaseGeometry) -> XY:
    point = area.representative_point()
    return point.x, point.y
