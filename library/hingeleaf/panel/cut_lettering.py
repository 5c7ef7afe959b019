"""Cut out lettering: strokes and webs widened to what the card takes, counters tied."""

from __future__ import annotations

from collections.abc import Callable
from functools import lru_cache

import shapely
from shapely import LineString, MultiPolygon, Point, Polygon, box
from shapely.affinity import translate

from hingeleaf.geometry.widening import narrow_places, widened
from hingeleaf.geometry.winding import polygons_of
from hingeleaf.model import Card, Cuts
from hingeleaf.panel.min_widths import narrow_webs
from hingeleaf.paper.bridges import lay_bridges
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.stencil import tie_counters, usual_width

ROUNDS = 12
"""Times that webs are looked for and widened."""
RESERVE = 1.02
"""Webs are made so many times the least web wide."""
SHORTEST = 2e-3
"""mm by which a web may fall short."""
STROKE_SHARE = 0.5
"""What is left of a stroke between two webs is at least so much of the least window, but for
places smaller together than the square of that."""
MOST_CHANGED = 0.2
"""Share of a letter that may change before it no longer looks like its face (by eye)."""
MOST_TIED = 0.35
"""The same, bridges counted (by eye)."""
THIN = "its strokes are too thin to be cut"
MISSHAPEN = "its letters would lose their shape"


def cut_lettering(outline: MultiPolygon, card: Card, *, widen: bool = False) -> Cuts:
    """The windows of lettering that is cut out whole, its counters tied.

    With `widen` thin strokes and thin webs are made as wide as the card asks for.
    """
    if outline.is_empty:
        return Cuts()
    if not widen:
        return lay_bridges(Cuts(windows=outline), tie_counters(outline, card))
    width = usual_width(outline, card)
    parts = [_placed(_cut_part, part, card, width) for part in outline.geoms]
    return Cuts(windows=_webs_widened(polygons_of(shapely.union_all(parts)), card))


def flaw_of(outline: MultiPolygon, card: Card) -> str:
    """Why lettering that is widened and tied does not hold on a card; empty where it does."""
    width = usual_width(outline, card)
    for part in outline.geoms:
        flaw = _flaw_of_part(_to_origin(part), card, width)
        if flaw:
            return flaw
    return _torn(cut_lettering(outline, card, widen=True).windows, card)


def _flaw_of_part(part: Polygon, card: Card, width: float) -> str:
    """The flaw of one part of a letter, or of letters that are joined."""
    windows = _cut_part(part, card, width)
    if flaw := _torn(windows, card):
        return flaw
    if narrow_places(windows, STROKE_SHARE * card.least_window).area > card.least_window**2:
        return THIN
    solid = MultiPolygon([part])
    ties = solid.difference(
        lay_bridges(Cuts(solid), tie_counters(solid, card, width=width)).windows
    )
    changed = solid.symmetric_difference(windows).area
    misshapen = changed > MOST_TIED * part.area or changed - ties.area > MOST_CHANGED * part.area
    return MISSHAPEN if misshapen else ""


def _torn(windows: MultiPolygon, card: Card) -> str:
    around, cuts = _around(windows, card), Cuts(windows=windows)
    if find_parts(cuts, around).loose:
        return "a counter is too small to be tied"
    webs = narrow_webs(cuts, around, card.least_web)
    if webs and webs[0].width < card.least_web - SHORTEST:
        return "the paper between its strokes is too narrow"
    return ""


def _placed(
    make: Callable[[Polygon, Card, float], MultiPolygon], part: Polygon, card: Card, width: float
) -> MultiPolygon:
    """What is made of a part about the origin, where equal letters are made once, at its place."""
    left, top, _, _ = part.bounds
    return translate(make(_to_origin(part), card, width), left, top)


def _to_origin(part: Polygon) -> Polygon:
    left, top, _, _ = part.bounds
    moved = translate(part, -left, -top)
    return shapely.transform(moved, lambda points: points.round(6))


@lru_cache(maxsize=2048)
def _cut_part(part: Polygon, card: Card, width: float) -> MultiPolygon:
    """One part of a letter: strokes and webs widened, counters tied by bridges of that width."""
    solid = _webs_widened(widened(MultiPolygon([part]), card.least_window), card)
    tied = lay_bridges(Cuts(windows=solid), tie_counters(solid, card, width=width)).windows
    for loose in find_parts(Cuts(windows=tied), _around(tied, card)).loose:
        tied = _tied_upright(tied, loose.polygon, width)
    return _webs_widened(tied, card)


def _tied_upright(windows: MultiPolygon, counter: Polygon, width: float) -> MultiPolygon:
    """The windows less a strip from a small counter up or down to the nearest other paper.

    Bridges proper need more paper to land on; the edges of such strips may be as askew as they
    are.
    """
    x, y = counter.centroid.coords[0]
    _, top, _, bottom = windows.bounds
    strips = []
    for end in (top - width, bottom + width):
        ray = LineString([(x, y), (x, end)])
        met = shapely.get_parts(ray.intersection(windows))
        if len(met):
            crossed = min(met, key=lambda line: line.distance(Point(x, y)))
            strips.append((crossed.length, max(crossed.coords, key=lambda at: abs(at[1] - y))))
    if not strips:
        return windows
    _, (_, far) = min(strips)
    reach = far + (width / 2 if far > y else -width / 2)
    strip = LineString([(x, y), (x, reach)]).buffer(width / 2, cap_style="flat")
    return polygons_of(windows.difference(strip))


def _webs_widened(windows: MultiPolygon, card: Card) -> MultiPolygon:
    """The windows less a disc at every web that is too narrow, until none is left."""
    radius = RESERVE * card.least_web / 2
    for _ in range(ROUNDS):
        webs = narrow_webs(Cuts(windows=windows), _around(windows, card), card.least_web)
        narrow = [web.at for web in webs if web.width < card.least_web - SHORTEST]
        if not narrow:
            break
        discs = shapely.buffer(shapely.points(narrow), radius, quad_segs=8)
        windows = polygons_of(windows.difference(shapely.union_all(discs)))
    return windows


def _around(windows: MultiPolygon, card: Card) -> Polygon:
    """A sheet whose edges are out of the way."""
    left, top, right, bottom = windows.bounds
    margin = 10 * card.least_web
    return box(left - margin, top - margin, right + margin, bottom + margin)
