"""Form for a card."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from hingeleaf.errors import UsageError
from hingeleaf.model import Card
from hingeleaf.units import format_mm, parse_length
from hingeleaf_tui.forms.lines import Entry

ENTRIES = (
    Entry("name", "Name", says="What you call it; another name makes another card."),
    Entry("grammage", "Weight", step=10, says="Grammes to the square metre (ISO 536)."),
    Entry("caliper", "Thickness", step=0.01, says="Caliper in mm (ISO 534)."),
    Entry("least_web", "Least web", step=0.1, says="The narrowest paper that does not tear."),
    Entry("least_window", "Least gap", step=0.1, says="The narrowest window cut cleanly."),
    Entry("measured", "Measured", choices=("no", "yes"), says="Are these from your own trials?"),
)


def shown(card: Card) -> dict[str, str]:
    """The values of all lines."""
    return {
        "name": card.name,
        "grammage": f"{card.grammage:g} g/m²",
        "caliper": format_mm(card.caliper),
        "least_web": format_mm(card.least_web),
        "least_window": format_mm(card.least_window),
        "measured": "yes" if card.measured else "no",
    }


def changed(card: Card, key: str, text: str) -> Card:
    """The card with one value as it was typed. Raises UsageError for what makes no sense."""
    value: dict[str, Any] = {key: _READ[key](text.strip())}
    return replace(card, **value)


def _name(text: str) -> str:
    if not text:
        raise UsageError("A card needs a name.", "For example ivory-220.")
    return text


def _grammage(text: str) -> float:
    number = text.removesuffix("g/m²").strip().replace(",", ".")
    try:
        value = float(number)
    except ValueError:
        value = 0.0
    if not 0 < value < 10_000:
        raise UsageError(f"{text!r} is not a weight.", "Type grammes to the square metre: 220.")
    return value


def _length(text: str) -> float:
    value = parse_length(text)
    if not 0 < value < 10_000:
        raise UsageError(f"A card cannot have {format_mm(value)} there.", "It must be above 0.")
    return value


_READ: dict[str, Callable[[str], Any]] = {
    "name": _name,
    "grammage": _grammage,
    "caliper": _length,
    "least_web": _length,
    "least_window": _length,
    "measured": lambda text: text == "yes",
}
