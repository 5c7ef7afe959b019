"""Inherited state of the traversal of an SVG tree: transform, viewport, style."""

from __future__ import annotations

from dataclasses import dataclass, field

from lxml import etree

from hingeleaf.artwork.document import Document, place
from hingeleaf.artwork.lengths import Viewport, parse_length
from hingeleaf.artwork.matrices import IDENTITY, Matrix, multiply, parse_transform, translation
from hingeleaf.artwork.styles import Style, StyleSheet, computed

FAINT = 0.01
"""Paint less opaque than this is ignored."""


@dataclass(frozen=True, slots=True)
class RenderContext:
    """The transform to the page and inherited values at one element."""

    matrix: Matrix
    viewport: Viewport
    style: Style = field(default_factory=dict)
    alpha: float = 1.0
    layer: str = ""
    name: str = ""
    """A name given by a group for shapes that have none."""
    used_as: str = ""
    """The name of the outermost `use`, which overrides the names of its parts."""
    uses: tuple[etree._Element, ...] = ()
    outlines_only: bool = False
    """Whether inside a clipPath, where only geometry counts."""
    space: tuple[str | None, str | None] = (None, None)
    """Width and height that a `use` gives to its symbol or svg."""

    @property
    def font_size(self) -> float:
        """Font size in px, for lengths in em."""
        return float(self.style.get("font-size", "16"))

    def style_of(self, element: etree._Element, sheet: StyleSheet) -> Style:
        """The computed style of a child element, its font size in px."""
        style = computed(element, self.style, sheet)
        if "font-size" in style:
            style["font-size"] = str(_font_size(style["font-size"], self.font_size))
        return style


def _font_size(text: str, above: float) -> float:
    size = parse_length(text, above, above)
    return size if size is not None and size >= 0 else _FONT_SIZES.get(text, above)


_FONT_SIZES = {
    "xx-small": 9.0,
    "x-small": 10.0,
    "small": 13.0,
    "medium": 16.0,
    "large": 18.0,
    "x-large": 24.0,
    "xx-large": 32.0,
}


def transform_of(element: etree._Element, style: Style, document: Document) -> Matrix:
    """The element's transform; identity, with a note, if it is invalid."""
    text = style.get("transform")
    if not text:
        return IDENTITY
    matrix = parse_transform(text)
    if matrix is None:
        document.notes.add(
            "transform", "A transform cannot be read and is passed over", place(element)
        )
        return IDENTITY
    origin = [parse_length(part, 0.0) for part in style.get("transform-origin", "").split()]
    if len(origin) < 2 or origin[0] is None or origin[1] is None:
        return matrix
    x, y = origin[0], origin[1]
    return multiply(multiply(translation(x, y), matrix), translation(-x, -y))
