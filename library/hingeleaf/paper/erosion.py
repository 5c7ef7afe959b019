"""Minimum-width tests by morphological erosion of paper and of openings.

Moving every edge of the paper in by half the least web separates whatever is joined by less than
that. Windows are tested the same way with half the least window. A long projection narrower than
the least width counts as a strip if its width is about constant, and tears; a tip, which tapers,
may only fray.
"""

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import SPECK, Geometries, point_in, polygons_of, robust, windows_of
from hingeleaf.geometry.ray_casting import Bools, Floats
from hingeleaf.model import XY, Cuts
from hingeleaf.paper.clean_cuts import sheet_around
from hingeleaf.paper.parts import KERF, faces_of

EPS_WIDTH = 0.002
"""mm by which a width may fall short of the least width."""
MIN_PIECE_SHARE = 0.1
"""A separated piece counts if its inradius is more than this share of the least web's half
width."""

MAX_STRIP_LENGTH = 3.0
"""Allowed length of a strip that is too thin, in least widths (common practice, no source)."""
MAX_TIP_LENGTH = 5.0
"""Allowed length of a tip that is too thin, in least widths: a straight tip of about 10 degrees."""
TAPER_RATIO = 0.65
"""Greatest ratio of mean to maximum width in a tip: 0.5 if its sides are straight."""

MARGINS = 4.0, 6.0
"""Margins about a place, in least widths: searched for strips, and clipped to when eroding."""

SLIVER_SHARE = 0.03
"""Share of the least width by which lost pieces are thinned, to separate slivers at bent edges."""

_OVERLAP = 1e-8
"""mm by which areas grown back overlap what they are subtracted from: where edges all but coincide,
overlays take five times as long (measured)."""
_TOUCH = 1e-4
"""mm: cuts nearer than this count as one cut."""
_ROUND = 16
"""Segments per quarter circle: an error of 0.1 % of the radius."""


@dataclass(frozen=True, slots=True)
class Tip:
    """The end of a pointed piece of paper, narrower than the least web over `length` mm."""

    region: Polygon
    length: float

    @property
    def at(self) -> XY:
        """A point inside it."""
        return point_in(self.region)


def loose_part(cuts: Cuts, *, kerf: float = KERF) -> XY | None:
    """A point in a part that falls out and is wider than the kerf somewhere, if there is one."""
    sheet = sheet_around(cuts)
    faces = faces_of(cuts, sheet)
    loose = faces[~shapely.intersects(faces, sheet.exterior)]
    loose = loose[~shapely.is_empty(shapely.buffer(loose, -kerf / 2))]
    return point_in(loose[0]) if len(loose) else None


def narrow_web(cuts: Cuts, least_web: float) -> XY | None:
    """A point in a web, strip or separating wall of paper narrower than `least_web` mm, if any.

    The cuts must be valid and must leave no part loose.
    """
    radius = (least_web - EPS_WIDTH) / 2
    if radius <= 0:
        return None
    cut, eaten = _grown_cuts(cuts, radius)
    healed = shapely.buffer(eaten, -radius - _OVERLAP, quad_segs=_ROUND)
    if _separates_part(cut, eaten, radius):
        lost = polygons_of(robust(shapely.difference, healed, cuts.windows))
        return point_in(max(lost, key=lambda piece: piece.area, default=healed))
    return _long_strip(healed, cuts.windows, least_web)


def narrow_window(
    windows: MultiPolygon, least_window: float, near: Polygon | None = None
) -> XY | None:
    """A point in a window narrower than `least_window` mm: overall, at a neck, or in a strip.

    If `near` is given, strips are looked for only around it.
    """
    radius = (least_window - EPS_WIDTH) / 2
    if radius <= 0 or windows.is_empty:
        return None
    polygons = shapely.get_parts(windows)
    cores = shapely.buffer(polygons, -radius, quad_segs=_ROUND)
    narrow = np.flatnonzero(_falls_apart(cores, radius))
    doubtful = np.arange(narrow[0] if len(narrow) else len(cores))
    if near is not None:
        pairs = zip(polygons[doubtful], cores[doubtful], strict=True)
        doubtful = doubtful[[_any_strip_near(*pair, least_window, near) for pair in pairs]]
    blunted = shapely.buffer(cores[doubtful], radius + _OVERLAP, quad_segs=_ROUND)
    for window, blunt in zip(polygons[doubtful], blunted, strict=True):
        strip = _long_strip(window, blunt, least_window)
        if strip:
            return strip
    return point_in(polygons[narrow[0]]) if len(narrow) else None


def _falls_apart(cores: Geometries, radius: float) -> Bools:
    """Mask of the eroded windows of which nothing is left, or several pieces that count."""
    apart: Bools = shapely.area(cores) <= SPECK
    for index in np.flatnonzero(shapely.get_num_geometries(cores) > 1):
        apart[index] |= _large_enough(polygons_of(cores[index]), radius).sum() > 1
    return apart


def _any_strip_near(window: Polygon, core: BaseGeometry, least: float, near: Polygon) -> bool:
    """Whether the part of a window within a few widths of a place may contain a strip."""
    outwards = least * np.array([-1.0, -1.0, 1.0, 1.0])
    box, wider = (near.bounds + outwards * widths for widths in MARGINS)
    blunt = shapely.buffer(shapely.clip_by_rect(core, *wider), least / 2, quad_segs=_ROUND)
    lost = _ErodedPieces.between(shapely.clip_by_rect(window, *box).buffer(0), blunt, least)
    return bool((lost.length > MAX_STRIP_LENGTH * least).any())


def thin_tips(cuts: Cuts, least_web: float) -> tuple[Tip, ...]:
    """Tips of paper that are narrower than `least_web` mm over a long way, longest first."""
    radius = (least_web - EPS_WIDTH) / 2
    if radius <= 0:
        return ()
    _, eaten = _grown_cuts(cuts, radius)
    healed = shapely.buffer(eaten, -radius - _OVERLAP, quad_segs=_ROUND)
    lost = _ErodedPieces.between(healed, cuts.windows, least_web)
    length = lost.length + least_web / 2  # the largest circle that still fits extends into the tip
    long = lost.tapers & (length > MAX_TIP_LENGTH * least_web)
    tips = map(Tip, lost.pieces[long], length[long].tolist())
    return tuple(sorted(tips, key=lambda tip: -tip.length))


def round_tips(windows: MultiPolygon, least_web: float) -> MultiPolygon:
    """The windows with thin tips of paper cut off in an arc, `least_web` mm wide at the end."""
    tips = thin_tips(Cuts(windows), least_web)
    if not tips:
        return windows
    grown = shapely.buffer([tip.region for tip in tips], 2 * SLIVER_SHARE * least_web)
    radius = (least_web - EPS_WIDTH) / 2
    _, eaten = _grown_cuts(Cuts(windows), radius)
    healed = shapely.buffer(eaten, -radius, quad_segs=_ROUND)
    rounded = shapely.union(windows, shapely.intersection(shapely.union_all(grown), healed))
    left = _holes(polygons_of(rounded))
    return windows_of(shapely.union_all([rounded, *left[shapely.covers(healed, left)]]))


def _grown_cuts(cuts: Cuts, radius: float) -> tuple[BaseGeometry, BaseGeometry]:
    """The cut geometry, and the same grown by `radius`."""
    cut = shapely.geometrycollections([cuts.windows, cuts.slits])
    return cut, shapely.buffer(cut, radius, quad_segs=_ROUND)


def _separates_part(cut: BaseGeometry, eaten: BaseGeometry, radius: float) -> bool:
    """Whether growing the cuts encloses a piece of paper, or joins cuts that were apart."""
    pieces = polygons_of(eaten)
    if _large_enough(_holes(pieces), radius).any():
        return True
    most = sum(shapely.get_num_geometries(kind) for kind in cut.geoms)
    return len(pieces) < most and len(pieces) < len(polygons_of(shapely.buffer(cut, _TOUCH)))


def _long_strip(whole: BaseGeometry, blunted: BaseGeometry, least: float) -> XY | None:
    """A point in a strip of non-tapering width below `least` that is too long, if there is one."""
    lost = _ErodedPieces.between(whole, blunted, least)
    long = ~lost.tapers & (lost.length > MAX_STRIP_LENGTH * least)
    return point_in(lost.pieces[long][0]) if long.any() else None


@dataclass(frozen=True, slots=True)
class _ErodedPieces:
    """The pieces removed by a morphological opening of the least width, without corners."""

    pieces: Geometries
    length: Floats
    """mm along each piece: half its perimeter minus its mean width."""
    tapers: Bools

    @classmethod
    def between(cls, whole: BaseGeometry, blunted: BaseGeometry, least: float) -> "_ErodedPieces":
        """The pieces of `whole` missing from `blunted`."""
        corner = least**2 / 2
        if whole.area - blunted.area <= corner:  # overlay is slow and seldom needed
            return cls(np.array([], dtype=object), np.zeros(0), np.zeros(0, dtype=bool))
        lost = polygons_of(robust(shapely.difference, whole, blunted))
        large = shapely.multipolygons(lost[shapely.area(lost) > corner])
        pieces = polygons_of(shapely.buffer(large, -SLIVER_SHARE * least))
        pieces = pieces[shapely.area(pieces) > corner]
        half = shapely.length(pieces) / 2
        mean = shapely.area(pieces) / np.maximum(half, _TOUCH)
        tapers = ~shapely.is_empty(shapely.buffer(pieces, -mean / (2 * TAPER_RATIO)))
        return cls(pieces, half - mean, tapers)


def _large_enough(pieces: Geometries, radius: float) -> Bools:
    """Mask of the pieces large enough to count."""
    counting: Bools = ~shapely.is_empty(
        shapely.buffer(pieces, -MIN_PIECE_SHARE * radius, quad_segs=_ROUND)
    )
    return counting


def _holes(polygons: Geometries) -> Geometries:
    rings, owner = shapely.get_rings(polygons, return_index=True)
    inner = np.append(False, owner[1:] == owner[:-1]) if len(rings) else np.zeros(0, dtype=bool)
    holes: Geometries = shapely.polygons(rings[inner])
    return holes
