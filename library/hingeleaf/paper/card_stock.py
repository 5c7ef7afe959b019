"""Common card stock: starting values until the user has measured their own.

Calipers follow common retail charts (about 200 µm at 150 to 160 g/m², 280 to 300 µm at 210 to 240
g/m², 350 to 380 µm at 270 to 290 g/m²). Least web and least window are common practice, no source:
they differ with the blade and the paper, and trials settle them.
"""

from collections.abc import Mapping
from types import MappingProxyType

from hingeleaf.card import Card


def _stock(grammage: int, caliper: float, least_web: float, least_window: float) -> Card:
    return Card(f"card-{grammage}", float(grammage), caliper, least_web, least_window)


PRESETS: Mapping[str, Card] = MappingProxyType(
    {
        card.name: card
        for card in (
            _stock(160, 0.20, 1.0, 0.8),
            _stock(200, 0.25, 1.0, 0.8),
            _stock(220, 0.28, 1.0, 0.8),
            _stock(250, 0.32, 1.2, 1.0),
            _stock(300, 0.38, 1.5, 1.2),
        )
    }
)
"""Starting values by name, thin to thick; none is measured."""

DEFAULT = PRESETS["card-220"]
"""The card used when none is named."""
