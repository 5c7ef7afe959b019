"""Look up cards: common stock, and the user's own, which take precedence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from hingeleaf.catalogue.slugs import unknown_name

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.model import Card


def all_cards(library: Library | None) -> list[Card]:
    """All cards, lightest first; the user's own hides a common one of the same name."""
    from hingeleaf.paper.card_stock import PRESETS

    cards = dict(PRESETS)
    if library is not None:
        cards.update((card.name, card) for card in library.cards.all())
    return sorted(cards.values(), key=lambda card: (card.grammage, card.name))


def find_card(library: Library | None, name: str | None) -> Card:
    """The card of that name, or the default for None. Raises UnknownNameError."""
    from hingeleaf.paper.card_stock import DEFAULT

    return named_card(all_cards(library), DEFAULT.name if name is None else name)


def named_card(cards: Sequence[Card], name: str) -> Card:
    """The card of that name among `cards`. Raises UnknownNameError."""
    for card in cards:
        if card.name == name:
            return card
    names = [card.name for card in cards]
    raise unknown_name("card", name, names, f"The cards are {', '.join(names)}.")


def card_data(card: Card, own: bool) -> dict[str, Any]:
    """A card as JSON data, with its measured or assumed material."""
    from hingeleaf.material import material_to_data
    from hingeleaf.paper.mechanics.starting_values import material_of

    return {
        "name": card.name,
        "grammage_gsm": card.grammage,
        "caliper_mm": card.caliper,
        "least_web_mm": card.least_web,
        "least_window_mm": card.least_window,
        "measured": card.measured,
        "grain": card.grain.value,
        "material": material_to_data(material_of(card)),
        "own": own,
    }
