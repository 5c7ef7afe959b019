"""Format dates, trials and fillings as phrases."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime
from typing import TYPE_CHECKING

from hingeleaf.text import plural
from hingeleaf.units import format_mm

if TYPE_CHECKING:
    from hingeleaf.catalogue.panels import PanelRow
    from hingeleaf.catalogue.search import TermMatches
    from hingeleaf.catalogue.trial_status import Span, TrialStatus
    from hingeleaf.fill.evenness import Evenness
    from hingeleaf.fill.filling import Filling
    from hingeleaf.panel.recipe import Recipe


HOLD_STYLES = {
    "rigid": "Nothing lifts: bridges are spread evenly around each part.",
    "door": "The whole part lifts like a door. It hinges along one side, between two bridges.",
    "spine": "Both wings lift from a flat body. They hinge along the middle, between its ends.",
    "points": "Every arm lifts. It hinges at its foot, where two arms meet the middle.",
    "tongue": "The part lifts like a tongue. It hinges across one gap that the cut leaves.",
    "flat": "Nothing lifts: openings only, and what lies loose within is tied.",
}
"""The hold styles by the names of the model, with what lifts and where it hinges."""


def day(moment: str) -> str:
    """The day of a stored time, in the user's time zone."""
    return datetime.fromisoformat(moment).astimezone().date().isoformat()


def order_facts(row: PanelRow) -> tuple[str, ...]:
    """The customer and due date of a panel, as far as known."""
    facts = {"For": row.customer, "Due": row.due}
    return tuple(f"{name} {value}" for name, value in facts.items() if value)


def no_match(query: str, terms: Sequence[TermMatches]) -> list[str]:
    """Lines that explain how a query without matches was understood, and what exists."""
    from hingeleaf.catalogue.query_fields import KEYS

    keys = f"Keys: {', '.join(key for key in KEYS if key)}; also size>50."
    if len(terms) == 1:
        return [f"Nothing matches {query} ({terms[0].help}).", keys]
    counts = [plural(each.count, "motif") if each.count else "none" for each in terms]
    found = [
        f"{each.term} ({each.help}): {count}" for each, count in zip(terms, counts, strict=True)
    ]
    return [f"Nothing matches all of {query}.", *found, keys]


def font_sentences(recipe: Recipe) -> list[str]:
    """Letters that are set in another face, and fonts that may not be embedded."""
    substitutes = recipe.substitutes
    sentences = [
        f"The font lacks {', '.join(each for each in substitutes if substitutes[each] == face)}: "
        f"set in {face}."
        for face in dict.fromkeys(substitutes.values())
    ]
    return sentences + [
        f"{font} may not be embedded, says the font: files hold outlines of its letters only."
        for font in recipe.restricted_fonts
    ]


def filling_sentences(filling: Filling, thickened: float | None) -> list[str]:
    """Deviations of a filling from the request; `thickened` is mm of automatic thickening."""
    sentences = []
    if filling.missing:
        sentences.append(
            "There was not enough room for the requested number of: "
            f"{', '.join(filling.missing)}. Allow smaller motifs, or request fewer."
        )
    if filling.straight:
        sentences.append(
            f"Kept straight, at least in places: {', '.join(filling.straight)}. Bent to fit, they "
            "would not hold on this card or would stand too high for the frame."
        )
    if thickened:
        sentences.append(
            f"Strokes are {format_mm(thickened)} thicker on each side, so that motifs fit in."
        )
    elif thickened == 0:
        sentences.append("Strokes are thick enough for motifs as they are.")
    return sentences


def evenness_sentence(figures: Evenness) -> str:
    """A sentence on how evenly motifs are spaced."""
    return (
        f"Of the free paper {figures.share_within_half_gap:.0%} is within half the gap of a "
        f"motif or the edge, 95% within {format_mm(round(figures.p95, 1))}."
    )


def format_status(status: TrialStatus) -> str:
    """`held at 30 to 40 mm`, `doubtful: …`, `untried`."""
    spans = ", ".join(format_span(span) for span in status.spans)
    against = ", ".join(format_mm(size) for size in status.contradictions)
    if against:
        return f"{status.state}: failed at {against}, held at {spans or 'no size for sure'}"
    return f"held at {spans}" if spans else str(status.state)


def format_span(span: Span) -> str:
    """`30 to 40 mm`, or `30 mm` if both ends are equal."""
    low, high = span
    return format_mm(low) if low == high else f"{format_mm(low)[:-3]} to {format_mm(high)}"
