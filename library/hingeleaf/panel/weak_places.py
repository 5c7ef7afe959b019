"""Rate the places where a cut sheet tears first, and describe them with a remedy."""

from collections.abc import Sequence
from typing import Any

from shapely import Polygon

from hingeleaf.model import XY, Card, Cuts, Finding, Motif, Severity
from hingeleaf.panel.min_widths import narrow_webs
from hingeleaf.paper.clean_cuts import sheet_around
from hingeleaf.paper.hinges import Hinge
from hingeleaf.paper.mechanics.formulas import HOOK_PULL, SLEEVE_PULL
from hingeleaf.paper.mechanics.starting_values import material_of
from hingeleaf.paper.mechanics.strength import (
    PlaceKind,
    WeakPlace,
    hinge_places,
    slit_end_places,
    weakest_first,
    web_places,
)
from hingeleaf.paper.necks import Neck
from hingeleaf.paper.resized import Resized

LISTED_PLACES = 3
"""Number of weak places listed in a report."""
WEB_REACH = 3.0
"""Webs up to this multiple of the card's least web are rated. Notch and grain together leave a web
at least two fifths of its strength, so a wider one is never weaker than one of the least width."""
DAMP_CAUTION = "Damp paper is weaker: work and keep it dry."
RANKING_CAUTION = "These forces rank the places; they are not guaranteed."


REMEDIES = {
    PlaceKind.WEB: "Widen it, or use the motif larger",
    PlaceKind.SLIT_END: "Round the slit's end with a small hole",
    PlaceKind.HINGE: "Give the flap a longer hinge, or a shorter reach",
}
MIN_TURNING_GAIN = 1.1
"""Least ratio of gain in strength at which another grain direction is advised."""


def webs_to_rate(cuts: Cuts, sheet: Polygon, card: Card) -> tuple[Neck, ...]:
    """The webs that may be weak, narrowest first; if all are wide, the narrowest one."""
    return narrow_webs(cuts, sheet, WEB_REACH * card.least_web)


def weak_places(
    cuts: Cuts,
    sheet: Polygon,
    hinges: Sequence[Hinge],
    card: Card,
    webs: Sequence[Neck] | None = None,
) -> tuple[WeakPlace, ...]:
    """Rate the webs, slit ends and hinges of a cut sheet, weakest first.

    `webs` are those of `webs_to_rate`, where they are known.

    Uses the card's measured material, or starting values by its grammage, and its grain; an unknown
    grain is assumed to be in the weaker direction.
    """
    left, top, right, bottom = sheet.bounds
    material, grain = material_of(card), card.grain.direction(right - left, bottom - top)
    webs = webs_to_rate(cuts, sheet, card) if webs is None else webs
    return weakest_first(
        [
            *web_places(webs, cuts, material, grain),
            *slit_end_places(cuts, material, grain),
            *hinge_places(hinges, material, grain),
        ]
    )


def motif_weak_places(motif: Motif, card: Card) -> tuple[WeakPlace, ...]:
    """The same for a single motif at its drawn size; positions are relative to its centre."""
    resized = Resized(motif, card, motif.size)
    return weak_places(resized.cuts, sheet_around(resized.cuts), resized.hinges.hinges, card)


def listed_weak_places(places: Sequence[WeakPlace]) -> Sequence[WeakPlace]:
    """The weakest places, as listed in a report."""
    return places[:LISTED_PLACES]


def describe_weak_place(place: WeakPlace) -> str:
    """A sentence that describes what can tear there."""
    pull = f"{place.newtons:.2g} N"
    if place.kind is PlaceKind.WEB:
        what = f"A web {place.length:.1f} mm wide tears at about {pull}"
    elif place.kind is PlaceKind.SLIT_END:
        what = f"A slit tears on from its end at about {pull}"
    else:
        what = f"A pull of about {pull} at a flap's tip tears its hinge of {place.length:.1f} mm"
    return f"{what}: {_comparable_pull(place.newtons)}."


def _comparable_pull(newtons: float) -> str:
    if newtons < SLEEVE_PULL:
        return "a sleeve that catches on it is enough"
    if newtons < HOOK_PULL:
        return "a weeding hook is enough"
    return "it takes a firm pull"


def weak_place_remedy(place: WeakPlace) -> str:
    """How to make the place stronger."""
    words = REMEDIES[place.kind]
    if place.best > MIN_TURNING_GAIN * place.newtons:
        words += (
            f"; turn the motif, or cut from a sheet with the other grain: up to {place.best:.2g} N"
        )
    return words + "."


def weak_place_note(place: WeakPlace) -> Finding:
    """The place as a note for the findings of a check."""
    return Finding(
        "weak-place", Severity.NOTE, describe_weak_place(place), place.at, weak_place_remedy(place)
    )


def weak_place_data(place: WeakPlace, origin: XY = (0.0, 0.0)) -> dict[str, Any]:
    """A place as JSON data, relative to `origin`."""
    return {
        "newtons": round(place.newtons, 3),
        "kind": place.kind.value,
        "at_mm": [round(place.at[0] - origin[0], 2), round(place.at[1] - origin[1], 2)],
        "message": describe_weak_place(place),
        "remedy": weak_place_remedy(place),
    }
