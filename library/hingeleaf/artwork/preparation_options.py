"""Options for what is cut of a drawing, and the parts that they name; for all callers."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING

from hingeleaf.artwork.colours import WHITE, hex_colour
from hingeleaf.errors import UsageError
from hingeleaf.params import distance, parameter, validate

if TYPE_CHECKING:
    from hingeleaf.model import Shape

CLOSING_GAP = 0.1
"""mm: default width of gaps that are closed between the ends of lines (our own choice)."""


class Border(StrEnum):
    """What is cut for a shape."""

    WINDOW = "window"
    """The shape itself is cut out."""
    BAND = "band"
    """A window of constant width follows the shape's edge; the shape stays."""
    LINE = "line"
    """A slit follows the shape's edge, or the middle of an unfilled stroke."""


class Side(StrEnum):
    """The side of the edge on which a band lies."""

    OUTSIDE = "outside"
    INSIDE = "inside"


class Overlap(StrEnum):
    """How overlapping shapes are combined."""

    PICTURE = "picture"
    """As painted: sheet-coloured paint over other paint is a hole."""
    EACH = "each"
    """Every shape on its own, whatever its colour."""


@dataclass(frozen=True, slots=True)
class Preparation:
    """What is cut of a drawing. Lengths are mm at the real size.

    `keep` and `ignore` name parts by name, layer or colour; `*` matches anything, and a prefix
    `layer:`, `colour:` or `name:` restricts the match.
    """

    size: float | None = distance(
        None,
        "How long it is: 60mm, 2.5in, or as the file says.",
        above=True,
        label="Longest side",
        none="as drawn",
    )
    """Longest side of what is cut."""
    usual_size: float = distance(
        60.0,
        "How long it is if the file states no size in mm or inches, and hardly a usable one.",
        above=True,
        label="Usual size",
        when=lambda preparation: preparation.size is None,
    )
    """For example an icon of 24 pixels, which would be 6 mm (common practice, no source)."""
    keep: tuple[str, ...] = parameter(
        (),
        "Only these parts, by name, layer or colour.",
        label="Parts",
        option="--part",
        none="every part",
    )
    ignore: tuple[str, ...] = parameter(
        (), "Parts to leave out, by name, layer or colour.", label="Leave out"
    )
    body: tuple[str, ...] = parameter(
        (), "Parts that stay paper, with hinges along them, by name, layer or colour."
    )
    """Only shapes on or next to them are cut."""
    border: Border = parameter(
        Border.WINDOW,
        "Shapes cut out (window), as a strip around (band), or along the edge (line).",
        label="Cut as",
    )
    borders: tuple[tuple[str, Border], ...] = parameter(
        (), "Another border for some parts, as in leaf=band.", label="Except", option="--border-of"
    )
    """The first that matches a shape is used."""
    band: float = distance(
        3.0,
        "How wide the strip around a shape is.",
        high=1000,
        above=True,
        title="width of the band",
        label="Band",
        step=0.5,
        when=lambda preparation: preparation.has_band,
    )
    side: Side = parameter(
        Side.OUTSIDE,
        "Bands lie inside the edge, not outside.",
        option="--inside",
        switch=Side.INSIDE,
        when=lambda preparation: preparation.has_band,
    )
    overlap: Overlap = parameter(
        Overlap.PICTURE,
        "Each shape on its own, not the picture that they form together.",
        label="Shapes",
        option="--each",
        switch=Overlap.EACH,
    )
    sheet: str = parameter(
        WHITE,
        "The colour in the drawing that stands for bare sheet.",
        label="Paper colour",
        option="--sheet-colour",
    )
    least: float = distance(
        0.2,
        "Specks that are nowhere wider than this are removed.",
        high=1000,
        title="least width",
        label="Drop specks",
        step=0.1,
    )
    """Thinner lines are hairlines."""
    close: float = distance(
        CLOSING_GAP,
        "Gaps between the ends of hairlines up to this are closed.",
        high=1000,
        title="gap to close",
        label="Close gaps",
        step=0.1,
    )
    guides: bool = parameter(False, "Rectangles drawn around everything are included, too.")
    smoothing: float = distance(
        0.0,
        "Ragged outlines are smoothed by at most this.",
        high=1000,
        label="Smooth",
        option="--smooth",
        step=0.1,
    )
    join: float = distance(
        0.0,
        "Shapes nearer to each other than this become one.",
        high=1000,
        title="distance to join",
        label="Join",
        step=0.1,
    )

    def __post_init__(self) -> None:
        validate(self)
        if hex_colour(self.sheet) is None:
            raise UsageError(f"{self.sheet!r} is not a colour.", "Write for example #ffffff.")

    @property
    def has_band(self) -> bool:
        """Whether any part is cut as a band."""
        return Border.BAND in (self.border, *(border for _, border in self.borders))


def select_shapes(
    shapes: Sequence[Shape], keep: Sequence[str] = (), ignore: Sequence[str] = ()
) -> tuple[Shape, ...]:
    """The shapes that are kept, in paint order. Raises UsageError if a name fits no shape."""
    for pattern in (*keep, *ignore):
        if not any(is_named_by(pattern, shape) for shape in shapes):
            raise UsageError(
                f"No part is called {pattern!r}.", "See the parts with `hingeleaf inspect`."
            )
    return tuple(
        shape
        for shape in shapes
        if (not keep or any(is_named_by(pattern, shape) for pattern in keep))
        and not any(is_named_by(pattern, shape) for pattern in ignore)
    )


def is_named_by(pattern: str, shape: Shape) -> bool:
    """Whether a pattern matches this shape by name, layer or colour."""
    kind, colon, rest = pattern.partition(":")
    if colon and kind in ("name", "layer", "colour"):
        return _MATCHERS[kind](rest, shape)
    return any(matches(pattern, shape) for matches in _MATCHERS.values())


def _matches_name(pattern: str, shape: Shape) -> bool:
    return fnmatchcase(shape.name.casefold(), pattern.casefold())


def _matches_layer(pattern: str, shape: Shape) -> bool:
    layers = (shape.layer, *shape.layer.split("/"))
    return any(layer and fnmatchcase(layer.casefold(), pattern.casefold()) for layer in layers)


def _matches_colour(pattern: str, shape: Shape) -> bool:
    colour = hex_colour(pattern)
    return colour is not None and colour == shape.colour


_MATCHERS = {"name": _matches_name, "layer": _matches_layer, "colour": _matches_colour}


def border_of(shape: Shape, preparation: Preparation) -> Border:
    """What is cut for a shape: window, band or line."""
    for pattern, border in preparation.borders:
        if is_named_by(pattern, shape):
            return border
    return preparation.border
