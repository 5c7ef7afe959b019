"""A parsed SVG tree: ids, references, labels and places for messages."""

from __future__ import annotations

from collections.abc import Iterator

from lxml import etree

from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.artwork.styles import StyleSheet

SVG = "http://www.w3.org/2000/svg"
_XLINK_HREF = "{http://www.w3.org/1999/xlink}href"
_LINKS = 20
"""Greatest number of references followed from one element to the next."""


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
