"""Paper that is too narrow, and openings that are too small, anywhere on a sheet."""

from __future__ import annotations

import math
from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import Point, Polygon

from hingeleaf.model import Card, Cuts, Finding
from hingeleaf.panel.doubles import lines_of
from hingeleaf.panel.findings import Kind, found
from hingeleaf.paper.necks import Neck, find_necks
from hingeleaf.paper.triangulation import Sampling
from hingeleaf.units import format_mm

SIMPLER = 0.02
"""Outlines are simplified by so much before webs are sought; their widths are exact again."""
SAMPLING = Sampling(passes=2)
"""A whole panel is sampled a little less finely than one motif."""
ABOUT = 0.1
"""Webs that come so near to the card's least web are measured again."""
EXACT = 1e-3
"""mm: a web is under the least web only if it is so by more than this."""


def webs_of(cuts: Cuts, sheet: Polygon, card: Card) -> tuple[Neck, ...]:
    """All webs of a sheet, narrowest first.

    The narrowest, and all that are about as narrow as the card's least web, are exact; the
    others may be wrong by twice what outlines were simplified.
    """
    leaner = Cuts(
        shapely.simplify(cuts.windows, SIMPLER), shapely.simplify(cuts.slits, SIMPLER), cuts.folds
    )
    if not leaner.windows.is_valid:
        leaner = cuts
    webs = find_necks(leaner, sheet, sampling=SAMPLING)
    if not webs:
        return ()
    limit = max(card.least_web + ABOUT, webs[0].width + 4 * SIMPLER)
    count = bisect_right(webs, limit, key=lambda web: web.width)
    exact = _measured(webs[:count], cuts, sheet)
    return tuple(sorted([*exact, *webs[count:]], key=lambda web: web.width))


def _measured(webs: Sequence[Neck], cuts: Cuts, sheet: Polygon) -> Iterator[Neck]:
    """The webs between the cuts as they are, about where they were found."""
    lines = np.concatenate([lines_of(cuts), [sheet.exterior]])
    tree = shapely.STRtree(lines)
    for web in webs:
        reach = 0.4 * web.width + SIMPLER
        sides = []
        for end in (web.start, web.end):
            around = Point(end).buffer(reach)
            near = lines[tree.query(around, predicate="intersects")]
            sides.append(shapely.union_all(shapely.intersection(near, around)))
        if any(side.is_empty for side in sides):
            yield web
            continue
        start, end = shapely.get_coordinates(shapely.shortest_line(*sides)).tolist()
        yield replace(web, start=tuple(start), end=tuple(end), width=math.dist(start, end))


def thin_webs(webs: tuple[Neck, ...], card: Card) -> Iterator[Finding]:
    """Webs under the card's least web."""
    for web in webs:
        if web.width >= card.least_web - EXACT:
            return
        hangs = f", and {web.comes_away:.0f} mm² hang on it" if web.comes_away > 0 else ""
        yield found(
            Kind.THIN_WEB,
            f"The paper is only {format_mm(web.width)} wide here{hangs}; "
            f"{card.name} needs {format_mm(card.least_web)}.",
            web.at,
        )


def small_windows(cuts: Cuts, card: Card) -> Iterator[Finding]:
    """Windows in which no circle as wide as the card's least window fits anywhere."""
    windows = shapely.get_parts(cuts.windows)
    if not len(windows):
        return
    room = shapely.buffer(windows, EXACT - card.least_window / 2, quad_segs=4)
    for window in windows[shapely.is_empty(room)]:
        width = 2 * shapely.maximum_inscribed_circle(window).length
        at = window.representative_point()
        yield found(
            Kind.SMALL_WINDOW,
            f"A window is only {format_mm(width)} wide; "
            f"{card.name} needs {format_mm(card.least_window)}.",
            (at.x, at.y),
        )


def choking(parts: Iterable[Polygon], widest: float = 31.7) -> Iterator[Finding]:
    """Loose parts so small that a child could swallow them.

    The test cylinder for small parts is 31.7 mm wide (EN 71-1, 16 CFR 1501.4; from memory).
    """
    for part in parts:
        if 2 * shapely.minimum_bounding_radius(part) < widest:
            at = part.representative_point()
            yield found(Kind.CHOKING, "A loose part is small enough to swallow.", (at.x, at.y))
