"""What a panel is made from, as the form shows it and as a panel keeps it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from hingeleaf.errors import UsageError
from hingeleaf.units import format_mm, parse_length, parse_size
from hingeleaf_tui.widgets.form import Entry

KINDS = ("letter", "word", "border", "shape")
SHAPES = ("heart", "circle", "oval", "arch", "rectangle", "rounded")
BUDGETS = ("quick", "normal", "thorough")
BUILT_IN = "built-in"
"""What stands for the letter face that comes with Hingeleaf."""


@dataclass(frozen=True, slots=True)
class Recipe:
    """All that is needed to fill a panel again. Lengths in mm."""

    kind: str = "letter"
    text: str = "B"
    height: float = 200.0
    font: str = BUILT_IN
    shape: str = "heart"
    outer: tuple[float, float] = (203.2, 254.0)
    inner: tuple[float, float] = (101.6, 152.4)
    card: str = "card-220"
    motifs: str = ""
    """The query that picks the motifs."""
    gap: float = 2.0
    smallest: float = 12.0
    largest: float = 45.0
    seed: int = 1
    budget: str = "normal"
    outline: bool = False
    """Cut the outline of the field too."""

    @classmethod
    def of(cls, kept: dict[str, Any]) -> Recipe:
        """The recipe of a saved panel; what it does not say is as usual."""
        usual = cls()
        known: dict[str, Any] = {}
        for known_field in fields(cls):
            value = kept.get(known_field.name, getattr(usual, known_field.name))
            known[known_field.name] = tuple(value) if isinstance(value, list) else value
        return cls(**known)

    def to_plain(self) -> dict[str, Any]:
        """Plain data, for keeping."""
        return asdict(self)

    @property
    def hidden(self) -> tuple[str, ...]:
        """The form's lines that say nothing about this kind of field."""
        return {
            "letter": ("shape", "outer", "inner"),
            "word": ("shape", "outer", "inner"),
            "border": ("text", "height", "font"),
            "shape": ("text", "height", "font", "inner"),
        }[self.kind]


ENTRIES = (
    Entry("kind", "Field", choices=KINDS, says="What is to be filled."),
    Entry("text", "Letters", says="Type the letter, or the word."),
    Entry("shape", "Shape", choices=SHAPES, says="The outer shape."),
    Entry("height", "Height", step=5, says="How high a capital letter is: 200, 20cm or 8in."),
    Entry("outer", "Outside", says="Width x height, such as 8x10in or 200x250mm."),
    Entry("inner", "Opening", says="Width x height of the hole in the border."),
    Entry("font", "Font", pick=True, says="Enter lists the fonts of this machine."),
    Entry("card", "Card", pick=True, says="Enter lists the cards."),
    Entry("motifs", "Motifs", says="Which motifs to use, as in a search; empty for all."),
    Entry("gap", "Gap", step=0.5, says="The least paper between two motifs."),
    Entry("smallest", "From", step=1, says="The smallest size a motif may have."),
    Entry("largest", "To", step=1, says="The largest size a motif may have."),
    Entry("seed", "Seed", step=1, says="Another seed gives another filling; the same, the same."),
    Entry("budget", "Effort", choices=BUDGETS, says="How long to look for a fuller panel."),
    Entry("outline", "Edge", choices=("not cut", "cut"), says="Whether its edge is cut as well."),
)
"""The form, from the top down."""


def shown(recipe: Recipe) -> dict[str, str]:
    """The values as the form shows them."""
    return {entry.key: _SHOW.get(entry.key, str)(getattr(recipe, entry.key)) for entry in ENTRIES}


def changed(recipe: Recipe, key: str, text: str) -> Recipe:
    """The recipe with one value as it was typed. Raises UsageError for what makes no sense."""
    text = text.strip()
    value = _READ.get(key, _plain)(text)
    if key == "text" and not text:
        raise UsageError("There is no letter to fill.", "Type at least one.")
    new = replace(recipe, **{key: value})
    if new.smallest > new.largest:
        raise UsageError(
            f"From {format_mm(new.smallest)} to {format_mm(new.largest)} leaves no size.",
            "The smallest size must not be above the largest.",
        )
    return new


def _plain(text: str) -> str:
    return text


def _length(text: str) -> float:
    value = parse_length(text)
    if value <= 0:
        raise UsageError("A length of 0 is none.", "Write for example 60mm, 6cm or 2.5in.")
    return value


def _seed(text: str) -> int:
    if not text.isdecimal():
        raise UsageError(f"{text!r} is not a seed.", "Type a whole number, such as 7.")
    return int(text)


def _show_size(size: tuple[float, float]) -> str:
    return f"{format_mm(size[0])[:-3]}x{format_mm(size[1])}"


_READ: dict[str, Callable[[str], Any]] = {
    "height": _length,
    "outer": parse_size,
    "inner": parse_size,
    "motifs": lambda text: "" if text == "all" else text,
    "gap": parse_length,
    "smallest": _length,
    "largest": _length,
    "seed": _seed,
    "outline": lambda text: text == "cut",
}
_SHOW: dict[str, Callable[[Any], str]] = {
    "height": format_mm,
    "outer": _show_size,
    "inner": _show_size,
    "gap": format_mm,
    "smallest": format_mm,
    "largest": format_mm,
    "motifs": lambda query: query or "all",
    "outline": lambda cut: "cut" if cut else "not cut",
}
