"""Cut out letters: strokes and webs widened to the card's limits, counters and outlines tied."""

from collections.abc import Callable
from functools import lru_cache

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LinearRing, LineString, MultiLineString, MultiPolygon, Point, Polygon, box
from shapely.affinity import translate
from shapely.ops import substring

from hingeleaf.geometry.members import area_of
from hingeleaf.geometry.offsets import narrow_places, widened
from hingeleaf.model import NO_LINES, Card, Cuts
from hingeleaf.panel.min_widths import narrow_webs
from hingeleaf.paper.bridges import lay_bridges
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.stencil import default_width, tie_counters

TIE_SPACING = 60.0
"""mm of outline between two ties, at most."""
MIN_TIES = 3
"""Three ties keep a piece flat; with two it could swing."""
TIE_WEBS = 2.0
"""Width of a tie in least webs; it carries more load than other webs."""


def tied_outline(outline: MultiPolygon, card: Card) -> MultiLineString:
    """The rings of `outline` as slits with evenly spread ties left uncut.

    Every ring, counters included, gets at least three ties `TIE_WEBS` least webs wide, each moved
    to the straightest place of its stretch. A ring too short for three ties is not cut at all.
    """
    slits: list[LineString] = []
    width = TIE_WEBS * card.least_web
    for polygon in shapely.get_parts(outline):
        for ring in (polygon.exterior, *polygon.interiors):
            slits.extend(_tied(ring, width))
    return MultiLineString(slits) if slits else NO_LINES


def _tied(ring: LinearRing, width: float) -> list[LineString]:
    count = max(MIN_TIES, round(ring.length / TIE_SPACING))
    if ring.length < 2 * width * count:
        return []
    middles = _straightest(ring, count, width)
    starts = middles + width / 2
    ends = np.roll(middles, -1) - width / 2
    ends[-1] += ring.length
    return [_stretch(ring, start, end) for start, end in zip(starts, ends, strict=True)]


def _straightest(ring: LinearRing, count: int, width: float, tries: int = 9) -> NDArray[np.float64]:
    """The position of each tie along the ring: the straightest place in the middle half of a
    stretch.

    A tie over a corner would be weak.
    """
    stretch = ring.length / count
    offsets = np.linspace(-0.25, 0.25, tries) * stretch
    offsets = offsets[np.argsort(np.abs(offsets), kind="stable")]
    places = (np.arange(count)[:, None] + 0.5) * stretch + offsets[None, :]
    before = shapely.line_interpolate_point(ring, (places - width / 2) % ring.length)
    after = shapely.line_interpolate_point(ring, (places + width / 2) % ring.length)
    bend = np.round(width - shapely.distance(before, after), 3)
    straightest: NDArray[np.float64] = places[np.arange(count), np.argmin(bend, axis=1)]
    return straightest


def _stretch(ring: LinearRing, start: float, end: float) -> LineString:
    """The ring from `start` to `end` along it; `end` may be beyond the ring's first point."""
    twice = LineString(np.vstack([ring.coords[:-1], ring.coords]))
    return substring(twice, start, end)


MAX_ROUNDS = 12
"""How often webs are searched for and widened at most."""
WIDENING_FACTOR = 1.02
"""Webs are widened to this multiple of the least web."""
WIDTH_TOLERANCE = 2e-3
"""mm by which a web may be too narrow."""
STROKE_SHARE = 0.5
"""A stroke between two webs keeps at least this share of the least window, except in places that
together are smaller than the square of that."""
MAX_CHANGED = 0.2
"""Share of a letter's area that may change before the letter looks misshapen (by eye)."""
MAX_CHANGED_WITH_TIES = 0.35
"""The same, with the area of bridges included (by eye)."""
TOO_THIN = "its strokes are too thin to be cut"
MISSHAPEN = "its letters would lose their shape"


def cut_lettering(outline: MultiPolygon, card: Card, *, widen: bool = False) -> Cuts:
    """The windows of lettering that is cut out, with its counters tied.

    With `widen`, strokes and webs that are too thin are widened to the card's limits.
    """
    if outline.is_empty:
        return Cuts()
    if not widen:
        return lay_bridges(Cuts(windows=outline), tie_counters(outline, card))
    width = default_width(outline, card)
    parts = [_make_cached(_cut_part, part, card, width) for part in outline.geoms]
    return Cuts(windows=_webs_widened(area_of(shapely.union_all(parts)), card))


def flaw_of(outline: MultiPolygon, card: Card) -> str:
    """Why lettering does not hold on a card even when widened and tied; empty if it does."""
    width = default_width(outline, card)
    for part in outline.geoms:
        flaw = _flaw_of_part(_to_origin(part), card, width)
        if flaw:
            return flaw
    return _weakness(cut_lettering(outline, card, widen=True).windows, card)


def _flaw_of_part(part: Polygon, card: Card, width: float) -> str:
    """The flaw of one part of a letter, or of joined letters."""
    windows = _cut_part(part, card, width)
    if flaw := _weakness(windows, card):
        return flaw
    if narrow_places(windows, STROKE_SHARE * card.least_window).area > card.least_window**2:
        return TOO_THIN
    solid = MultiPolygon([part])
    ties = solid.difference(
        lay_bridges(Cuts(solid), tie_counters(solid, card, width=width)).windows
    )
    changed = solid.symmetric_difference(windows).area
    misshapen = (
        changed > MAX_CHANGED_WITH_TIES * part.area or changed - ties.area > MAX_CHANGED * part.area
    )
    return MISSHAPEN if misshapen else ""


def _weakness(windows: MultiPolygon, card: Card) -> str:
    around, cuts = _around(windows, card), Cuts(windows=windows)
    if find_parts(cuts, around).loose:
        return "a counter is too small to be tied"
    webs = narrow_webs(cuts, around, card.least_web)
    if webs and webs[0].width < card.least_web - WIDTH_TOLERANCE:
        return "the paper between its strokes is too narrow"
    return ""


def _make_cached(
    make: Callable[[Polygon, Card, float], MultiPolygon], part: Polygon, card: Card, width: float
) -> MultiPolygon:
    """Apply `make` to a part moved to the origin, so that equal letters share a cached result."""
    left, top, _, _ = part.bounds
    return translate(make(_to_origin(part), card, width), left, top)


def _to_origin(part: Polygon) -> Polygon:
    left, top, _, _ = part.bounds
    moved = translate(part, -left, -top)
    return shapely.transform(moved, lambda points: points.round(6))


@lru_cache(maxsize=2048)
def _cut_part(part: Polygon, card: Card, width: float) -> MultiPolygon:
    """One part of a letter with strokes and webs widened, counters tied by bridges `width` wide."""
    solid = _webs_widened(widened(MultiPolygon([part]), card.least_window), card)
    tied = lay_bridges(Cuts(windows=solid), tie_counters(solid, card, width=width)).windows
    for loose in find_parts(Cuts(windows=tied), _around(tied, card)).loose:
        tied = _tied_upright(tied, loose.polygon, width)
    return _webs_widened(tied, card)


def _tied_upright(windows: MultiPolygon, counter: Polygon, width: float) -> MultiPolygon:
    """The windows minus a strip from a small counter up or down to the nearest other paper.

    Used where there is too little paper for a regular bridge.
    """
    x, y = counter.centroid.coords[0]
    _, top, _, bottom = windows.bounds
    strips = []
    for end in (top - width, bottom + width):
        ray = LineString([(x, y), (x, end)])
        crossings = shapely.get_parts(ray.intersection(windows))
        if len(crossings):
            crossed = min(crossings, key=lambda line: line.distance(Point(x, y)))
            strips.append((crossed.length, max(crossed.coords, key=lambda at: abs(at[1] - y))))
    if not strips:
        return windows
    _, (_, far) = min(strips)
    reach = far + (width / 2 if far > y else -width / 2)
    strip = LineString([(x, y), (x, reach)]).buffer(width / 2, cap_style="flat")
    return area_of(windows.difference(strip))


def _webs_widened(windows: MultiPolygon, card: Card) -> MultiPolygon:
    """The windows minus a disc at every web that is too narrow, repeated until none is."""
    radius = WIDENING_FACTOR * card.least_web / 2
    for _ in range(MAX_ROUNDS):
        webs = narrow_webs(Cuts(windows=windows), _around(windows, card), card.least_web)
        narrow = [web.at for web in webs if web.width < card.least_web - WIDTH_TOLERANCE]
        if not narrow:
            break
        discs = shapely.buffer(shapely.points(narrow), radius, quad_segs=8)
        windows = area_of(windows.difference(shapely.union_all(discs)))
    return windows


def _around(windows: MultiPolygon, card: Card) -> Polygon:
    """A sheet with a wide margin around the windows."""
    left, top, right, bottom = windows.bounds
    margin = 10 * card.least_web
    return box(left - margin, top - margin, right + margin, bottom + margin)
