"""Convert paint values to plain colours; gradients and patterns become one colour, with a note."""

from __future__ import annotations

from dataclasses import dataclass, replace

from lxml import etree

from hingeleaf.artwork.colours import BLACK, Colour, Reference, parse_colour, parse_paint
from hingeleaf.artwork.document import Document, place, tag_of
from hingeleaf.artwork.gradients import Gradient, parse_gradient
from hingeleaf.artwork.lengths import Viewport, parse_share
from hingeleaf.artwork.styles import Style


@dataclass(frozen=True, slots=True)
class Paint:
    """A colour with its total opacity as alpha, or a gradient that has pieces of several kinds."""

    colour: Colour
    gradient: Gradient | None = None
    opacity: float = 1.0
    """The opacity applied to the gradient."""


class Paints:
    """Resolves the paint of elements of one document."""

    def __init__(self, document: Document) -> None:
        self._document = document
        self._gradients: dict[tuple[etree._Element, Viewport], Gradient | None] = {}

    def resolve(
        self, kind: str, style: Style, alpha: float, user: etree._Element, viewport: Viewport
    ) -> Paint | None:
        """The paint of `fill` or `stroke`; None if there is none."""
        value = style.get(kind, "black" if kind == "fill" else "none")
        opacity = parse_share(style.get(f"{kind}-opacity")) * alpha
        paint = parse_paint(value)
        if isinstance(paint, Reference):
            server = self._document.ids.get(paint.target)
            if server is not None:
                return self._served(server, opacity, user, viewport)
            paint = parse_paint(paint.otherwise)
        if paint == "currentcolor":
            current = parse_colour(style.get("color", "black"))
            paint = current if isinstance(current, Colour) else BLACK
        if isinstance(paint, str):
            paint = BLACK if paint.startswith("context") else None
        if not isinstance(paint, Colour):
            return None
        return Paint(replace(paint, alpha=paint.alpha * opacity))

    def _served(
        self, server: etree._Element, opacity: float, user: etree._Element, viewport: Viewport
    ) -> Paint | None:
        tag, notes = tag_of(server), self._document.notes
        if tag == "pattern":
            if not any(len(link) for link in self._document.chain(server)):
                return None
            notes.add("pattern", "A pattern is taken as solid", place(user))
            return Paint(replace(BLACK, alpha=opacity))
        if tag not in ("linearGradient", "radialGradient"):
            return None
        key = (server, viewport)
        if key not in self._gradients:
            self._gradients[key] = parse_gradient(server, self._document, viewport)
        gradient = self._gradients[key]
        if gradient is None:
            return None
        notes.add("gradient", "A gradient is taken as pieces of solid colour", place(user))
        return _graded(gradient, opacity)


def _graded(gradient: Gradient, opacity: float) -> Paint:
    """A gradient as one colour if all of it is of one kind."""
    pieces = gradient.pieces(opacity)
    if len(pieces) == 1:
        return Paint(max(pieces, key=lambda piece: piece.colour.alpha).colour)
    return Paint(BLACK, gradient, opacity)
