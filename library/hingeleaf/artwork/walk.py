"""Traverse an SVG tree: every element that paints, in order, with its transform and clips.

Nothing is flattened here: paths, transforms and paint are kept, so that curves can be flattened
once the size of the whole is known.
"""

from collections.abc import Callable
from dataclasses import replace

from lxml import etree

from hingeleaf.artwork.clipping import Clipper
from hingeleaf.artwork.document import (
    MIN_OPACITY,
    Document,
    RenderContext,
    is_layer,
    label,
    place,
    tag_of,
    transform_of,
)
from hingeleaf.artwork.lengths import BadNumberError, Box, Measures, parse_share
from hingeleaf.artwork.markers import Markers
from hingeleaf.artwork.matrices import Matrix, fit_view, is_usable, multiply, translation
from hingeleaf.artwork.painted_path import PaintedPath, clipped, rectangle_clip
from hingeleaf.artwork.painting import Painter
from hingeleaf.artwork.path_data import is_shape, shape_path
from hingeleaf.artwork.paths import Path
from hingeleaf.artwork.styles import words
from hingeleaf.artwork.text_outlines import Typesetter
from hingeleaf.errors import HostileArtworkError
from hingeleaf.model import Severity

MAX_REPEATS = 5_000
"""Greatest number of elements drawn again by `use` and markers (our own choice)."""
_NOT_DRAWN = words(
    """
    defs symbol clipPath mask marker pattern linearGradient radialGradient filter style metadata
    title desc script view cursor animate animateTransform animateMotion set
    """
)


class Walker:
    """Collects the painted paths of one document."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.notes = document.notes
        self._painter = Painter(document)
        self._clipper = Clipper(document, self.walk)
        self._markers = Markers(document, self.walk)
        self._typesetter = Typesetter(document)
        self._repeats = 0
        self._paths: dict[etree._Element, tuple[Path, bool]] = {}
        self._draw: dict[str, Callable[[etree._Element, RenderContext], list[PaintedPath]]] = {
            "svg": self._nested,
            "symbol": self._nested,
            "g": self._group,
            "a": self._group,
            "switch": self._switch,
            "use": self._use,
            "text": self._text,
            "image": self._left_out,
            "foreignObject": self._left_out,
        }

    def page(self, matrix: Matrix, viewport: Box) -> list[PaintedPath]:
        """Everything that the root element draws."""
        start = RenderContext(matrix, viewport)
        root = self.document.root
        style = start.style_of(root, self.document.sheet)
        alpha = parse_share(style.get("opacity"))
        if style.get("display") == "none" or alpha < MIN_OPACITY:
            return []
        context = replace(start, style=style, alpha=alpha)
        return self._clipper.clip(root, context, self._children(root, context))

    def walk(self, element: etree._Element, above: RenderContext) -> list[PaintedPath]:
        """The painted paths of one element and its descendants, in paint order."""
        tag = tag_of(element)
        if not tag or (
            tag in _NOT_DRAWN and not (tag == "symbol" and above.uses[-1:] == (element,))
        ):
            return []
        if above.uses:
            self._count()
        try:
            return self._drawn(element, tag, above)
        except BadNumberError:
            self.notes.add(
                "number",
                "Left out, because a number in it is out of range",
                place(element),
                remedy="Check it in its editor.",
            )
            return []

    def _count(self) -> None:
        self._repeats += 1
        if self._repeats > MAX_REPEATS:
            raise HostileArtworkError(
                f"The drawing repeats itself into more than {MAX_REPEATS:,} elements.",
                "Simplify it in its editor.",
            )

    def _drawn(self, element: etree._Element, tag: str, above: RenderContext) -> list[PaintedPath]:
        style = above.style_of(element, self.document.sheet)
        if style.get("display") == "none":
            self._note_hidden(element, above)
            return []
        context = replace(
            above,
            style=style,
            matrix=multiply(above.matrix, transform_of(element, style, self.document)),
            alpha=above.alpha * parse_share(style.get("opacity")),
            name=label(element) or above.name,
        )
        if not is_usable(context.matrix) or context.alpha < MIN_OPACITY:
            return []
        draw = self._shape if is_shape(tag) else self._draw.get(tag)
        if draw is None:
            self.notes.add("unknown", "An unknown element is left out", place(element))
            return []
        return self._clipper.clip(element, context, draw(element, context))

    def _note_hidden(self, element: etree._Element, above: RenderContext) -> None:
        if not above.uses and not above.outlines_only:
            self.notes.add("hidden", "Hidden, so left out", place(element), Severity.NOTE)

    # --- containers -------------------------------------------------------------------------

    def _children(self, element: etree._Element, context: RenderContext) -> list[PaintedPath]:
        painted_paths: list[PaintedPath] = []
        for child in element:
            painted_paths += self.walk(child, context)
        return painted_paths

    def _group(self, element: etree._Element, context: RenderContext) -> list[PaintedPath]:
        name = label(element)
        if is_layer(element) or (name and element.getparent() is self.document.root):
            layer = f"{context.layer}/{name}" if context.layer else name
            context = replace(context, layer=layer, name="")
        return self._children(element, context)

    def _switch(self, element: etree._Element, context: RenderContext) -> list[PaintedPath]:
        for child in element:
            if tag_of(child) and tag_of(child) not in _NOT_DRAWN and _is_chosen(child):
                return self.walk(child, context)
        return []

    def _nested(self, element: etree._Element, context: RenderContext) -> list[PaintedPath]:
        measures = Measures(element, context.viewport, context.font_size)
        x, y = measures.across("x") or 0.0, measures.down("y") or 0.0
        if tag_of(element) == "symbol":
            x = y = 0.0
        given, viewport = context.space, context.viewport
        width = _first_stated(given[0], measures.across("width"), viewport.width)
        height = _first_stated(given[1], measures.down("height"), viewport.height)
        if width <= 0 or height <= 0:
            return []
        space = Box(x, y, width, height)
        fitted, viewport = fit_view(element, space)
        inside = replace(
            context,
            matrix=multiply(context.matrix, fitted),
            viewport=viewport,
            space=(None, None),
        )
        painted_paths = self._children(element, inside)
        if context.style.get("overflow", "hidden") in ("visible", "auto"):
            return painted_paths
        return clipped(painted_paths, rectangle_clip(space, context.matrix))

    def _use(self, element: etree._Element, context: RenderContext) -> list[PaintedPath]:
        target = self.document.linked(element)
        if target is None:
            self.notes.add("use", "A reference to nothing is left out", place(element))
            return []
        if target in context.uses or target in element.iterancestors():
            self.notes.add("use", "A reference to itself is left out", place(element))
            return []
        if context.outlines_only and not (is_shape(tag_of(target)) or tag_of(target) == "text"):
            return []
        measures = Measures(element, context.viewport, context.font_size)
        move = translation(measures.across("x") or 0.0, measures.down("y") or 0.0)
        inside = replace(
            context,
            matrix=multiply(context.matrix, move),
            uses=(*context.uses, target),
            used_as=context.used_as or label(element),
            space=(measures.across("width"), measures.down("height")),
        )
        return self.walk(target, inside)

    # --- leaves -----------------------------------------------------------------------------

    def _left_out(self, element: etree._Element, context: RenderContext) -> list[PaintedPath]:
        self.notes.add(
            tag_of(element),
            f"<{tag_of(element)}> cannot be cut and is left out",
            place(element),
            remedy="Trace pictures and turn text into paths in the drawing's editor.",
        )
        return []

    def _text(self, element: etree._Element, context: RenderContext) -> list[PaintedPath]:
        return [
            painted
            for run, path, style in self._typesetter.outlines(element, context)
            for painted in self._painter.painted(run, path, replace(context, style=style))
        ]

    def _path(self, element: etree._Element, tag: str, context: RenderContext) -> tuple[Path, bool]:
        """The path of a shape; paths of elements that are used repeatedly are parsed once."""
        if tag == "path" and element in self._paths:
            return self._paths[element]
        found = shape_path(tag, Measures(element, context.viewport, context.font_size))
        if tag == "path" and context.uses:
            self._paths[element] = found
        return found

    def _shape(self, element: etree._Element, context: RenderContext) -> list[PaintedPath]:
        if context.style.get("visibility", "visible") != "visible":
            return []
        tag = tag_of(element)
        path, whole = self._path(element, tag, context)
        if not whole:
            self.notes.add("path", "Drawn only up to an error in its data", place(element))
        if not path:
            return []
        painted_paths = self._painter.painted(element, path, context)
        if tag in ("path", "line", "polyline", "polygon") and not context.outlines_only:
            painted_paths += self._markers.drawn(element, path, context)
        return painted_paths


def _first_stated(*lengths: float | None) -> float:
    return next(length for length in lengths if length is not None)


def _is_chosen(child: etree._Element) -> bool:
    """Whether a switch may show this child: no extensions, and any language."""
    if child.get("requiredExtensions") is not None:
        return False
    languages = child.get("systemLanguage")
    if languages is None:
        return True
    return any(part.strip().lower().startswith("en") for part in languages.split(","))
