"""Colour the weak places of a panel by the pull that they withstand."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence

import shapely
from shapely import LineString, Point

from hingeleaf.export.picture import Mark
from hingeleaf.export.style import mixed
from hingeleaf.panel.weak_places import named
from hingeleaf.paper.mechanics.formulas import PULL_STEPS
from hingeleaf.paper.mechanics.strength import PlaceKind, WeakPlace

WEAKEST, STRONGEST = "#b2182b", "#2166ac"
"""Red and blue, told apart by all common kinds of colour vision."""
MIDDLE = "#ebd796"
WIDTH, DOT = 1.0, 0.8
"""mm: how wide lines are drawn, and the radius of a slit's end."""
RING, RIM = 5.0, 0.7
"""mm: radius and width of the rings around the places that a report names."""
RING_COLOUR = "#1d1d1d"


def pull_marks(places: Sequence[WeakPlace]) -> list[Mark]:
    """Every place in its colour, the weakest on top, with a ring around those that are named.

    Colours go in the steps of `PULL_STEPS`, from red (weakest) over sand to blue (strongest), so
    that they mean the same in every picture.
    """
    last = len(PULL_STEPS)
    marks = [
        Mark(_area(place), colour_between(bisect_right(PULL_STEPS, place.newtons) / last))
        for place in places
    ]
    rings = [
        Mark(
            Point(place.at).buffer(RING).difference(Point(place.at).buffer(RING - RIM)), RING_COLOUR
        )
        for place in named(places)
    ]
    return [*reversed(marks), *rings]


def _area(place: WeakPlace) -> shapely.Geometry:
    if place.kind is PlaceKind.SLIT_END:
        return Point(place.at).buffer(DOT)
    return LineString(place.line).buffer(WIDTH / 2, cap_style="flat")


def colour_between(share: float) -> str:
    """From red at 0 over sand at 0.5 to blue at 1."""
    if share < 0.5:
        return mixed(WEAKEST, MIDDLE, 2 * share)
    return mixed(MIDDLE, STRONGEST, 2 * share - 1)
