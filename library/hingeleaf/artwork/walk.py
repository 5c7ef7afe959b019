"""The walk over a drawing's tree: what is drawn, where, in what order, seen through what.

Nothing is flattened here: the walk leaves paths, transforms and paint, so that curves can be
flattened once the size of the whole is known.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field, replace

import numpy as np
from lxml import etree

from hingeleaf.artwork.document import Document, is_layer, label, place, tag_of
from hingeleaf.artwork.ink import Clip, Ink
from hingeleaf.artwork.lengths import (
    MM_PER_PX,
    BadNumberError,
    Viewport,
    parse_length,
    parse_numbers,
    parse_share,
)
from hingeleaf.artwork.matrices import (
    IDENTITY,
    Matrix,
    invert,
    is_usable,
    multiply,
    parse_transform,
    scaling,
    translation,
)
from hingeleaf.artwork.paints import Paints
from hingeleaf.artwork.paths import Path, flatten, polygon_path
from hingeleaf.artwork.shapes import Measures, is_shape, shape_path
from hingeleaf.artwork.strokes import Stroke, scaled_dashes
from hingeleaf.artwork.styles import Style, computed
from hingeleaf.artwork.viewports import Box, fit_optional, parse_view_box
from hingeleaf.errors import HostileArtworkError
from hingeleaf.model import Severity

MAX_VISITS = 100_000
"""Elements drawn, those that `use` repeats counted each time."""
FAINT = 0.01
"""Paint more transparent than this is not there."""
_BLACK_STYLE: Style = {}
_SILENT = frozenset(
    [
        "defs",
        "symbol",
        "clipPath",
        "mask",
        "marker",
        "pattern",
        "linearGradient",
        "radialGradient",
        "filter",
        "style",
        "metadata",
        "title",
        "desc",
        "script",
        "view",
        "cursor",
        "animate",
        "animateTransform",
        "animateMotion",
        "set",
    ]
)


@dataclass(frozen=True, slots=True)
class Place:
    """Where the walk stands: the way to the page and what is inherited."""

    matrix: Matrix
    viewport: Viewport
    style: Style = field(default_factory=dict)
    alpha: float = 1.0
    layer: str = ""
    name: str = ""
    """A name given by a `use` or a group for shapes that have none."""
    uses: tuple[etree._Element, ...] = ()
    outlines_only: bool = False
    """Inside a clipPath: geometry counts and paint doesn't."""
    space: tuple[str | None, str | None] = (None, None)
    """Width and height that a `use` gives to the symbol or svg it shows."""

    @property
    def font_size(self) -> float:
        """Px, for lengths in em."""
        return float(self.style.get("font-size", "16"))


class Walker:
    """Collects the inks of one document."""

    def __init__(self, document: Document) -> None:
        self.document = document
        self.notes = document.notes
        self.paints = Paints(document)
        self._visits = 0
        self._painted = 0
        self._clips: dict[tuple[etree._Element, Matrix], Clip] = {}
        self._draw: dict[str, Callable[[etree._Element, Place], list[Ink]]] = {
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

    def page(self, matrix: Matrix, viewport: Viewport) -> list[Ink]:
        """Everything that the root element draws."""
        start = Place(matrix, viewport)
        root = self.document.root
        style = self._style(root, start)
        alpha = parse_share(style.get("opacity"))
        if style.get("display") == "none" or alpha < FAINT:
            return []
        return self._children(root, replace(start, style=style, alpha=alpha))

    def walk(self, element: etree._Element, above: Place) -> list[Ink]:
        """The inks of one element and all below it, in paint order."""
        tag = tag_of(element)
        if not tag or (tag in _SILENT and not (tag == "symbol" and above.uses[-1:] == (element,))):
            return []
        self._count()
        try:
            return self._drawn(element, tag, above)
        except BadNumberError:
            self.notes.add(
                "number",
                "Left out, because a number in it is out of every range",
                place(element),
                remedy="Look at it in its editor.",
            )
            return []

    def _count(self) -> None:
        self._visits += 1
        if self._visits > MAX_VISITS:
            raise HostileArtworkError(
                f"The drawing repeats itself into more than {MAX_VISITS:,} elements.",
                "Simplify it in its editor.",
            )

    def _drawn(self, element: etree._Element, tag: str, above: Place) -> list[Ink]:
        style = self._style(element, above)
        if style.get("display") == "none":
            self._note_hidden(element, above)
            return []
        here = replace(
            above,
            style=style,
            matrix=multiply(above.matrix, self._transform(element, style)),
            alpha=above.alpha * parse_share(style.get("opacity")),
            name=label(element) or above.name,
        )
        if not is_usable(here.matrix) or here.alpha < FAINT:
            return []
        draw = self._shape if is_shape(tag) else self._draw.get(tag)
        if draw is None:
            self.notes.add("unknown", "An unknown element is left out", place(element))
            return []
        return self._through(element, here, draw(element, here))

    def _style(self, element: etree._Element, above: Place) -> Style:
        style = computed(element, above.style, self.document.sheet)
        if "font-size" in style:
            size = style["font-size"]
            above_size = above.font_size
            style["font-size"] = str(_font_size(size, above_size))
        return style

    def _note_hidden(self, element: etree._Element, above: Place) -> None:
        if not above.uses and not above.outlines_only:
            self.notes.add("hidden", "Hidden, so left out", place(element), Severity.NOTE)

    def _transform(self, element: etree._Element, style: Style) -> Matrix:
        text = style.get("transform")
        if not text:
            return IDENTITY
        matrix = parse_transform(text)
        if matrix is None:
            self.notes.add(
                "transform", "A transform cannot be read and is passed over", place(element)
            )
            return IDENTITY
        origin = parse_numbers(style.get("transform-origin", "").replace("%", "x"))
        if len(origin) == 2 and "%" not in style["transform-origin"]:
            about = multiply(translation(*origin), matrix)
            return multiply(about, translation(-origin[0], -origin[1]))
        return matrix

    # --- containers -------------------------------------------------------------------------

    def _children(self, element: etree._Element, here: Place) -> list[Ink]:
        inks: list[Ink] = []
        for child in element:
            inks += self.walk(child, here)
        return inks

    def _group(self, element: etree._Element, here: Place) -> list[Ink]:
        name = label(element)
        if is_layer(element) or (name and element.getparent() is self.document.root):
            layer = f"{here.layer}/{name}" if here.layer else name
            here = replace(here, layer=layer, name="")
        return self._children(element, here)

    def _switch(self, element: etree._Element, here: Place) -> list[Ink]:
        for child in element:
            if tag_of(child) and tag_of(child) not in _SILENT and _is_chosen(child):
                return self.walk(child, here)
        return []

    def _nested(self, element: etree._Element, here: Place) -> list[Ink]:
        measures = Measures(element, here.viewport, here.font_size)
        x, y = measures.across("x") or 0.0, measures.down("y") or 0.0
        if tag_of(element) == "symbol":
            x = y = 0.0
        width = self._extent(here.space[0], element.get("width"), here.viewport.width, here)
        height = self._extent(here.space[1], element.get("height"), here.viewport.height, here)
        if width <= 0 or height <= 0:
            return []
        space, view = Box(x, y, width, height), parse_view_box(element.get("viewBox"))
        fitted = fit_optional(view, space, element.get("preserveAspectRatio"))
        inside = replace(
            here,
            matrix=multiply(here.matrix, fitted),
            viewport=(view or space).viewport,
            space=(None, None),
        )
        inks = self._children(element, inside)
        if here.style.get("overflow", "hidden") in ("visible", "auto"):
            return inks
        return _clipped(inks, rectangle_clip(space, here.matrix))

    def _extent(self, given: str | None, own: str | None, whole: float, here: Place) -> float:
        for text in (given, own):
            length = parse_length(text, whole, here.font_size)
            if length is not None:
                return length
        return whole

    def _use(self, element: etree._Element, here: Place) -> list[Ink]:
        target = self.document.linked(element)
        if target is None:
            self.notes.add("use", "A reference leads nowhere and is left out", place(element))
            return []
        if target in here.uses or target in element.iterancestors():
            self.notes.add("use", "A reference to itself is left out", place(element))
            return []
        if here.outlines_only and not (is_shape(tag_of(target)) or tag_of(target) == "text"):
            return []
        measures = Measures(element, here.viewport, here.font_size)
        move = translation(measures.across("x") or 0.0, measures.down("y") or 0.0)
        inside = replace(
            here,
            matrix=multiply(here.matrix, move),
            uses=(*here.uses, target),
            space=(element.get("width"), element.get("height")),
        )
        return self.walk(target, inside)

    # --- leaves -----------------------------------------------------------------------------

    def _left_out(self, element: etree._Element, here: Place) -> list[Ink]:
        self.notes.add(
            tag_of(element),
            f"<{tag_of(element)}> cannot be cut and is left out",
            place(element),
            remedy="Trace pictures and turn text into paths in the drawing's editor.",
        )
        return []

    def _text(self, element: etree._Element, here: Place) -> list[Ink]:
        return self._left_out(element, here)

    def _shape(self, element: etree._Element, here: Place) -> list[Ink]:
        if here.style.get("visibility", "visible") != "visible":
            return []
        tag = tag_of(element)
        path, whole = shape_path(tag, Measures(element, here.viewport, here.font_size))
        if not whole:
            self.notes.add("path", "Drawn only up to a mistake in its data", place(element))
        if not path:
            return []
        return self.painted(element, path, here)

    def painted(self, element: etree._Element, path: Path, here: Place) -> list[Ink]:
        """The fill and the stroke of a path, in the order they are painted."""
        self._painted += 1
        base = Ink(
            path,
            here.matrix,
            name=here.name or f"shape {self._painted}",
            layer=here.layer,
            line_number=element.sourceline,
        )
        if here.outlines_only:
            return [replace(base, even_odd=here.style.get("clip-rule") == "evenodd")]
        fill = self._filled(element, base, here)
        stroke = self._stroked(element, base, here, bool(fill))
        first_stroke = here.style.get("paint-order", "").split()[:1] == ["stroke"]
        return stroke + fill if first_stroke else fill + stroke

    def _filled(self, element: etree._Element, base: Ink, here: Place) -> list[Ink]:
        if tag_of(element) == "line":
            return []
        ink = replace(base, even_odd=here.style.get("fill-rule") == "evenodd")
        return self._inked(element, ink, "fill", here)

    def _inked(self, element: etree._Element, ink: Ink, kind: str, here: Place) -> list[Ink]:
        """The ink in its colour; nothing if it cannot be seen."""
        paint = self.paints.resolve(kind, here.style, here.alpha, element, here.viewport)
        if paint is None or paint.colour.alpha < FAINT:
            return []
        if paint.gradient is None:
            return [replace(ink, colour=paint.colour)]
        gradient, space = paint.gradient, here.matrix
        if gradient.in_box:
            space = multiply(space, _box_matrix(space, [ink]))
        space = multiply(space, gradient.matrix)
        if not is_usable(space):
            return []
        return [
            replace(ink, colour=piece.colour).clipped(
                Clip((Ink(gradient.region(piece), space, even_odd=True),))
            )
            for piece in gradient.pieces(paint.opacity)
            if piece.colour.alpha >= FAINT
        ]

    def _stroked(
        self, element: etree._Element, base: Ink, here: Place, also_filled: bool
    ) -> list[Ink]:
        if here.style.get("stroke", "none") == "none":
            return []
        stroke = self._stroke(element, base.path, here)
        if stroke.width <= 0:
            return []
        ink = replace(base, stroke=stroke, also_filled=also_filled)
        if here.style.get("vector-effect") == "non-scaling-stroke":
            px = scaling(MM_PER_PX, MM_PER_PX)
            to_px = multiply(invert(px), here.matrix)
            ink = replace(ink, path=base.path.transformed(to_px), matrix=px)
        return self._inked(element, ink, "stroke", here)

    def _stroke(self, element: etree._Element, path: Path, here: Place) -> Stroke:
        style, diagonal = here.style, here.viewport.diagonal

        def length(name: str, otherwise: float) -> float:
            value = parse_length(style.get(name), diagonal, here.font_size)
            return otherwise if value is None else value

        dashes = [
            parse_length(part, diagonal, here.font_size)
            for part in style.get("stroke-dasharray", "none").replace(",", " ").split()
        ]
        stroke = Stroke(
            width=length("stroke-width", 1.0),
            cap=style.get("stroke-linecap", "butt"),
            join=style.get("stroke-linejoin", "miter"),
            miter_limit=length("stroke-miterlimit", 4.0),
            dashes=() if None in dashes else tuple(d for d in dashes if d is not None),
            offset=length("stroke-dashoffset", 0.0),
        )
        stated = parse_length(element.get("pathLength"), 1.0)
        if stroke.is_dashed and stated and stated > 0:
            left, top, right, bottom = path.bounds()
            stroke = scaled_dashes(stroke, path, stated, max(right - left, bottom - top) / 1000)
        return stroke

    # --- clips and masks --------------------------------------------------------------------

    def _through(self, element: etree._Element, here: Place, inks: list[Ink]) -> list[Ink]:
        """The inks as an element's own clip path, mask and filter let them be seen."""
        if not inks:
            return inks
        for kind, tag, clip_of in (
            ("clip-path", "clipPath", self._clip),
            ("mask", "mask", self._mask),
        ):
            value = here.style.get(kind, "none")
            if value == "none":
                continue
            target = self.document.ids.get(_reference(value))
            if target is not None and tag_of(target) == tag:
                inks = _clipped(inks, clip_of(target, element, here, inks))
            elif target is None and value.startswith("url("):
                self.notes.add(kind, f"A {kind} leads nowhere and is passed over", place(element))
            else:
                self.notes.add(kind, f"A {kind} of this kind is passed over", place(element))
        if here.style.get("filter", "none") != "none":
            self.notes.add("filter", "A filter is passed over", place(element))
        return inks

    def _clip(
        self, target: etree._Element, user: etree._Element, here: Place, inks: list[Ink]
    ) -> Clip:
        by_box = target.get("clipPathUnits") == "objectBoundingBox"
        base = multiply(here.matrix, _box_matrix(here.matrix, inks)) if by_box else here.matrix
        key = (target, base)
        if key in self._clips:
            return self._clips[key]
        self._clips[key] = Clip(())
        style = computed(target, _BLACK_STYLE, self.document.sheet)
        inside = Place(
            multiply(base, self._transform(target, style)),
            Viewport(1.0, 1.0) if by_box else here.viewport,
            style,
            uses=(*here.uses, target),
            outlines_only=True,
        )
        drawn: list[Ink] = []
        for child in target:
            if is_shape(tag_of(child)) or tag_of(child) in ("use", "text"):
                drawn += self.walk(child, inside)
        clip = Clip(tuple(self._through(target, replace(inside, style=style), drawn)))
        self._clips[key] = clip
        return clip

    def _mask(
        self, target: etree._Element, user: etree._Element, here: Place, inks: list[Ink]
    ) -> Clip:
        self.notes.add("mask", "A mask is taken as a hard edge", place(user))
        if target in here.uses:
            return Clip((), is_mask=True)
        box = multiply(here.matrix, _box_matrix(here.matrix, inks))
        by_box = target.get("maskContentUnits") == "objectBoundingBox"
        style = computed(target, _BLACK_STYLE, self.document.sheet)
        inside = Place(
            box if by_box else here.matrix,
            Viewport(1.0, 1.0) if by_box else here.viewport,
            style,
            uses=(*here.uses, target),
        )
        drawn = self._children(target, inside)
        region = self._mask_region(target, here, box)
        by_alpha = style.get("mask-type") == "alpha"
        clip = Clip(tuple(_clipped(drawn, region)), is_mask=True, by_alpha=by_alpha)
        if style.get("mask", "none") != "none":
            return Clip(tuple(self._through(target, inside, list(clip.inks))), True, by_alpha)
        return clip

    def _mask_region(self, target: etree._Element, here: Place, box: Matrix) -> Clip:
        """The rectangle beyond which a mask hides everything."""
        in_box = target.get("maskUnits", "objectBoundingBox") == "objectBoundingBox"
        viewport = Viewport(1.0, 1.0) if in_box else here.viewport
        measures = Measures(target, viewport, here.font_size)

        def or_else(value: float | None, share: float, whole: float) -> float:
            return value if value is not None else share * whole

        region = Box(
            or_else(measures.across("x"), -0.1, viewport.width),
            or_else(measures.down("y"), -0.1, viewport.height),
            or_else(measures.across("width"), 1.2, viewport.width),
            or_else(measures.down("height"), 1.2, viewport.height),
        )
        return rectangle_clip(region, box if in_box else here.matrix)


def rectangle_clip(box: Box, matrix: Matrix) -> Clip:
    """A clip that lets a rectangle through."""
    right, bottom = box.x + box.width, box.y + box.height
    corners = [(box.x, box.y), (right, box.y), (right, bottom), (box.x, bottom)]
    return Clip((Ink(polygon_path(corners, True), matrix),))


def _clipped(inks: Iterable[Ink], clip: Clip) -> list[Ink]:
    return [ink.clipped(clip) for ink in inks]


def _reference(value: str) -> str:
    return value.partition("#")[2].partition(")")[0].strip("\"' ") if "url(" in value else ""


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


def _is_chosen(child: etree._Element) -> bool:
    """Whether a switch may show this child: no extensions, a language that suits anyone."""
    if child.get("requiredExtensions") is not None:
        return False
    languages = child.get("systemLanguage")
    if languages is None:
        return True
    return any(part.strip().lower().startswith("en") for part in languages.split(","))


def _box_matrix(matrix: Matrix, inks: list[Ink]) -> Matrix:
    """From the unit square to the bounding box of what is drawn, in the element's own system."""
    back = invert(matrix)
    points = []
    for ink in inks:
        path = ink.path.transformed(multiply(back, ink.matrix))
        left, top, right, bottom = path.bounds()
        coarse = max(right - left, bottom - top) / 2000
        points += [line.points for line in flatten(path, coarse or 1.0)]
    cloud = np.concatenate(points)
    left, top = cloud.min(axis=0)
    right, bottom = cloud.max(axis=0)
    return (float(right - left), 0.0, 0.0, float(bottom - top), float(left), float(top))
