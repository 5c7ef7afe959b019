"""A parsed SVG tree: ids, references, places for messages, and the state inherited along it."""

from collections.abc import Iterator
from dataclasses import dataclass, field

from lxml import etree

from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.artwork.lengths import Box, parse_length
from hingeleaf.artwork.matrices import IDENTITY, Matrix, multiply, parse_transform, translation
from hingeleaf.artwork.styles import Style, StyleSheet, computed

SVG = "http://www.w3.org/2000/svg"
_XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
_LINKS = 20
"""Greatest number of references followed from one element to the next (our own choice)."""


class Document:
    """The tree with its ids and its style sheet.

    `missing_font` is the substitute for fonts that are missing; empty for none.
    """

    def __init__(self, root: etree._Element, notes: Diagnostics, missing_font: str = "") -> None:
        self.root, self.missing_font = root, missing_font
        self.notes = notes
        self.ids: dict[str, etree._Element] = {}
        for element in root.iter(etree.Element):
            name = element.get("id")
            if name:
                self.ids.setdefault(name, element)
        self.sheet = StyleSheet(root, notes)

    def linked(self, element: etree._Element) -> etree._Element | None:
        """The element that the href refers to, if it is in this file."""
        target = href(element)
        return self.ids.get(target[1:]) if target.startswith("#") else None

    def chain(self, element: etree._Element) -> Iterator[etree._Element]:
        """The element, then successively those from which it takes missing attributes."""
        seen: set[etree._Element] = set()
        link: etree._Element | None = element
        while link is not None and link not in seen and len(seen) < _LINKS:
            seen.add(link)
            yield link
            link = self.linked(link)


def href(element: etree._Element) -> str:
    """The element's reference, in SVG 2 or SVG 1.1 notation."""
    return (element.get("href") or element.get(_XLINK_HREF) or "").strip()


def tag_of(element: etree._Element) -> str:
    """The element's name if SVG defines it, else an empty string."""
    if not isinstance(element.tag, str):
        return ""
    space, _, local = element.tag.rpartition("}")
    return local if space in ("", "{" + SVG) else ""


def place(element: etree._Element) -> str:
    """`<path> 'leaf' in line 12`, for messages."""
    tag = etree.QName(element).localname if isinstance(element.tag, str) else "node"
    named = f" '{element.get('id')[:40]}'" if element.get("id") else ""
    return f"<{tag}>{named} in line {element.sourceline}"


def label(element: etree._Element) -> str:
    """The name given to the element: an editor's label, or its id."""
    for key, value in element.attrib.items():
        if key.endswith("}label"):
            return str(value).strip()
    return (element.get("id") or "").strip()


def is_layer(element: etree._Element) -> bool:
    """Whether an editor marked the group as a layer."""
    return any(
        key.endswith("}groupmode") and value == "layer" for key, value in element.attrib.items()
    )


def reference(value: str) -> str:
    """The id in `url(#id)`; empty for anything else."""
    return value.partition("#")[2].partition(")")[0].strip("\"' ") if "url(" in value else ""


MIN_OPACITY = 0.01
"""Paint less opaque than this is ignored (our own choice)."""


@dataclass(frozen=True, slots=True)
class RenderContext:
    """The transform to the page and inherited values at one element."""

    matrix: Matrix
    viewport: Box
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
    space: tuple[float | None, float | None] = (None, None)
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
        document.notes.add("transform", "A transform cannot be read and is ignored", place(element))
        return IDENTITY
    origin = [parse_length(part, 0.0) for part in style.get("transform-origin", "").split()]
    if len(origin) < 2 or origin[0] is None or origin[1] is None:
        return matrix
    x, y = origin[0], origin[1]
    return multiply(multiply(translation(x, y), matrix), translation(-x, -y))
