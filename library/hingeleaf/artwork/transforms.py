"""The transform of an element, about its own origin if it states one."""

from __future__ import annotations

from lxml import etree

from hingeleaf.artwork.document import Document, place
from hingeleaf.artwork.lengths import parse_length
from hingeleaf.artwork.matrices import IDENTITY, Matrix, multiply, parse_transform, translation
from hingeleaf.artwork.styles import Style


def transform_of(element: etree._Element, style: Style, document: Document) -> Matrix:
    """The element's transform; none, with a note, if it breaks the grammar."""
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
