"""From paint values to plain colours; gradients and patterns become one colour, with a note."""

from __future__ import annotations

from dataclasses import replace

from lxml import etree

from hingeleaf.artwork.colours import BLACK, Colour, Reference, parse_colour, parse_paint
from hingeleaf.artwork.document import Document, place, tag_of
from hingeleaf.artwork.lengths import parse_share
from hingeleaf.artwork.styles import Style, computed


class Paints:
    """Resolves the paint of elements of one document."""

    def __init__(self, document: Document) -> None:
        self._document = document
        self._served: dict[etree._Element, Colour | None] = {}

    def resolve(self, kind: str, style: Style, alpha: float, user: etree._Element) -> Colour | None:
        """The colour of `fill` or `stroke`, its alpha multiplied by all that thins it."""
        value = style.get(kind, "black" if kind == "fill" else "none")
        colour = self._colour(value, style, user)
        if colour is None:
            return None
        opacity = parse_share(style.get(f"{kind}-opacity"))
        return replace(colour, alpha=colour.alpha * opacity * alpha)

    def _colour(self, value: str, style: Style, user: etree._Element) -> Colour | None:
        paint = parse_paint(value)
        if isinstance(paint, Reference):
            server = self._document.ids.get(paint.target)
            if server is None:
                return self._colour(paint.otherwise, style, user) if paint.otherwise else None
            return self._serve(server, user)
        if paint == "currentcolor":
            current = parse_colour(style.get("color", "black"))
            return current if isinstance(current, Colour) else BLACK
        if isinstance(paint, str):
            return BLACK if paint.startswith("context") else None
        return paint

    def _serve(self, server: etree._Element, user: etree._Element) -> Colour | None:
        if server not in self._served:
            self._served[server] = self._average(server)
        tag = tag_of(server)
        words = {"linearGradient": "gradient", "radialGradient": "gradient", "pattern": "pattern"}
        if tag not in words:
            return None
        self._document.notes.add(
            words[tag], f"A {words[tag]} is taken as one solid colour", place(user)
        )
        return self._served[server]

    def _average(self, server: etree._Element) -> Colour | None:
        """One colour for a gradient: the mean of its stops. A pattern counts as black."""
        if tag_of(server) == "pattern":
            has_content = any(len(link) for link in self._document.chain(server))
            return BLACK if has_content else None
        for link in self._document.chain(server):
            stops = [self._stop(child) for child in link if tag_of(child) == "stop"]
            if stops:
                return _mean(stops)
        return None

    def _stop(self, stop: etree._Element) -> Colour:
        style = computed(stop, {}, self._document.sheet)
        value = parse_colour(style.get("stop-color", "black"))
        if value == "currentcolor":
            value = parse_colour(style.get("color", "black"))
        colour = value if isinstance(value, Colour) else BLACK
        return replace(colour, alpha=colour.alpha * parse_share(style.get("stop-opacity")))


def _mean(colours: list[Colour]) -> Colour:
    """The mean colour, each weighted by its opacity."""
    weight = sum(colour.alpha for colour in colours)
    if not weight:
        return replace(BLACK, alpha=0.0)
    red, green, blue = (
        sum(getattr(colour, channel) * colour.alpha for colour in colours) / weight
        for channel in ("red", "green", "blue")
    )
    return Colour(red, green, blue, weight / len(colours))
