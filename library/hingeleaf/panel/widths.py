"""Paper that is too narrow for a card, and openings that are too small."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator

import shapely

from hingeleaf.model import Card, Cuts, Finding
from hingeleaf.panel.findings import Kind, found
from hingeleaf.paper.necks import Neck
from hingeleaf.units import format_mm

EXACT = 2e-3
"""mm: a width falls short only by more than this, the grain of stored geometry."""


def thin_webs(webs: Iterable[Neck], card: Card) -> Iterator[Finding]:
    """Webs under the card's least web."""
    for web in webs:
        if web.width < card.least_web - EXACT:
            hangs = f", and {web.comes_away:.0f} mm² hang on it" if web.comes_away >= 1 else ""
            yield found(
                Kind.THIN_WEB,
                f"The paper is only {_short(web.width)} wide here{hangs}; "
                f"{card.name} needs {format_mm(card.least_web)}.",
                web.at,
            )


def small_windows(cuts: Cuts, card: Card) -> Iterator[Finding]:
    """Windows in which no circle as wide as the card's least window fits anywhere."""
    windows = shapely.get_parts(cuts.windows)
    if not len(windows):
        return
    radius = card.least_window / 2 - EXACT
    inside = shapely.distance(shapely.point_on_surface(windows), shapely.boundary(windows))
    doubtful = windows[inside < radius]
    room = shapely.buffer(doubtful, -radius, quad_segs=4)
    for window in doubtful[shapely.is_empty(room)]:
        width = 2 * shapely.maximum_inscribed_circle(window).length
        at = window.representative_point()
        yield found(
            Kind.SMALL_WINDOW,
            f"A window is only {_short(width)} wide; "
            f"{card.name} needs {format_mm(card.least_window)}.",
            (at.x, at.y),
        )


def _short(width: float) -> str:
    """Rounded down: 0.996 mm falls short of 1 mm, and must not read as if it did not."""
    return format_mm(math.floor(width * 100) / 100)
