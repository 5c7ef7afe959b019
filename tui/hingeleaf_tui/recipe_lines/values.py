"""How values of a recipe are read and shown, and what a line of its form is."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from typing import Any

from hingeleaf.errors import UsageError
from hingeleaf.panel.recipe import Recipe
from hingeleaf.units import format_mm, parse_length
from hingeleaf_tui.widgets.form import Entry

YES_NO = ("no", "yes")
Change = Callable[[Recipe, str], Recipe]


@dataclass(frozen=True, slots=True)
class LineOfForm:
    """One line: its entry, how a recipe shows in it, and the recipe after typing."""

    entry: Entry
    show: Callable[[Recipe], str | None]
    """None where the line says nothing about this kind of field."""
    change: Change


def rule(name: str, read: Callable[[str], Any]) -> Change:
    """Changes one of the recipe's rules."""
    return lambda recipe, text: replace(recipe, rules=replace(recipe.rules, **{name: read(text)}))


def choice(name: str, read: Callable[[str], Any]) -> Change:
    """Changes one thing about which motifs are used and how."""
    return lambda recipe, text: replace(recipe, choice=replace(recipe.choice, **{name: read(text)}))


def length(text: str) -> float:
    """A length above 0. Raises UsageError."""
    value = parse_length(text)
    if value <= 0:
        raise UsageError("A length of 0 is none.", "Write for example 60mm, 6cm or 2.5in.")
    return value


def or_none(nothing: str, read: Callable[[str], Any]) -> Callable[[str], Any]:
    """Reads a value, or None for nothing typed or for the word that stands for it."""
    return lambda text: None if text in ("", nothing) else read(text)


def shown_or(nothing: str, value: float | None) -> str:
    """A length, or the word that stands for none."""
    return nothing if value is None else format_mm(value)


def number(what: str, low: float, high: float, example: str) -> Callable[[str], float]:
    """Reads a number within bounds. Raises UsageError."""

    def read(text: str) -> float:
        try:
            value = float(text.removesuffix("°").strip().replace(",", "."))
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            raise UsageError(f"{text!r} is not {what}.", f"Type {example}.")
        return value

    return read


def whole_number(what: str, low: int, high: int, example: str) -> Callable[[str], int]:
    """Reads a whole number within bounds. Raises UsageError."""

    def read(text: str) -> int:
        if not text.isdecimal() or not low <= int(text) <= high:
            raise UsageError(f"{text!r} is not {what}.", f"Type {example}.")
        return int(text)

    return read


def share(text: str) -> float:
    """A percentage as a share. Raises UsageError."""
    digits = text.removesuffix("%").strip()
    if not digits.isdecimal() or int(digits) > 100:
        raise UsageError(f"{text!r} is not a share.", "Type a percentage, such as 40%, or any.")
    return int(digits) / 100


def place(text: str) -> tuple[float, float]:
    """A place of the sheet, from its left and top. Raises UsageError."""
    x, comma, y = text.partition(",")
    if not comma:
        raise UsageError(f"{text!r} is not a place.", "Write for example 60,40mm.")
    return parse_length(x), parse_length(y)


def show_size(size: tuple[float, float]) -> str:
    """Width and height: `200x250 mm`."""
    return f"{format_mm(size[0]).removesuffix(' mm')}x{format_mm(size[1])}"
