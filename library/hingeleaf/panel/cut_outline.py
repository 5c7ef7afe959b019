"""Cut out a letter or frame, with ties so that neither it nor its counters drop out."""

from __future__ import annotations

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LinearRing, LineString, MultiLineString, MultiPolygon
from shapely.ops import substring

from hingeleaf.model import NO_LINES, Card

TIE_SPACING = 60.0
"""mm of outline between two ties, at most."""
FEWEST_TIES = 3
"""Three ties keep a piece flat; with two it could swing."""
TIE_WEBS = 2.0
"""Width of a tie in least webs; it carries more load than other webs."""


def tied_outline(
    outline: MultiPolygon, card: Card, spacing: float = TIE_SPACING
) -> MultiLineString:
    """The rings of `outline` as slits with evenly spread ties left uncut.

    Every ring, counters included, gets at least three ties `TIE_WEBS` least webs wide, each moved
    to the straightest place of its stretch. A ring too short for three ties is not cut at all.
    """
    slits: list[LineString] = []
    width = TIE_WEBS * card.least_web
    for polygon in shapely.get_parts(outline):
        for ring in (polygon.exterior, *polygon.interiors):
            slits.extend(_tied(ring, width, spacing))
    return MultiLineString(slits) if slits else NO_LINES


def _tied(ring: LinearRing, width: float, spacing: float) -> list[LineString]:
    count = max(FEWEST_TIES, round(ring.length / spacing))
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
