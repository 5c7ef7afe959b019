"""Fill and stroke of SVG paths, by their computed style."""

from dataclasses import replace

from lxml import etree

from hingeleaf.artwork.colours import (
    BLACK,
    WHITE,
    Colour,
    Reference,
    is_sheet,
    parse_colour,
    parse_paint,
)
from hingeleaf.artwork.document import MIN_OPACITY, Document, RenderContext, place, tag_of
from hingeleaf.artwork.gradients import MAX_PERIODS, ColourBand, Gradient, parse_gradient
from hingeleaf.artwork.lengths import (
    MAX_COORDINATE,
    MM_PER_PX,
    BadNumberError,
    Box,
    parse_length,
    parse_share,
)
from hingeleaf.artwork.matrices import Matrix, apply, invert, is_usable, multiply, scaling
from hingeleaf.artwork.painted_path import Clip, PaintedPath, box_corners, box_matrix, page_bounds
from hingeleaf.artwork.paths import Path
from hingeleaf.artwork.strokes import StrokeStyle, stretched
from hingeleaf.artwork.styles import Style
from hingeleaf.errors import HostileArtworkError


class Paints:
    """Resolves the paint of elements of one document."""

    def __init__(self, document: Document) -> None:
        self._document = document
        self._gradients: dict[tuple[etree._Element, Box], Gradient | None] = {}

    def resolve(
        self, kind: str, style: Style, alpha: float, user: etree._Element, viewport: Box
    ) -> Colour | Gradient | None:
        """The paint of `fill` or `stroke` with its total opacity; None if there is none."""
        value = style.get(kind, "black" if kind == "fill" else "none")
        opacity = parse_share(style.get(f"{kind}-opacity")) * alpha
        paint = parse_paint(value)
        if isinstance(paint, Reference):
            server = self._document.ids.get(paint.target)
            if server is not None:
                return self._server_paint(server, opacity, user, viewport)
            paint = parse_paint(paint.fallback)
        if paint == "currentcolor":
            current = parse_colour(style.get("color", "black"))
            paint = current if isinstance(current, Colour) else BLACK
        if isinstance(paint, str):
            paint = BLACK if paint.startswith("context") else None
        if not isinstance(paint, Colour):
            return None
        return replace(paint, alpha=paint.alpha * opacity)

    def _server_paint(
        self, server: etree._Element, opacity: float, user: etree._Element, viewport: Box
    ) -> Colour | Gradient | None:
        tag, notes = tag_of(server), self._document.notes
        if tag == "pattern":
            if not any(len(link) for link in self._document.chain(server)):
                return None
            notes.add("pattern", "A pattern is treated as solid", place(user))
            return replace(BLACK, alpha=opacity)
        if tag not in ("linearGradient", "radialGradient"):
            return None
        key = (server, viewport)
        if key not in self._gradients:
            self._gradients[key] = parse_gradient(server, self._document, viewport)
        gradient = self._gradients[key]
        if gradient is None:
            return None
        notes.add("gradient", "A gradient is divided into pieces of solid colour", place(user))
        gradient = replace(gradient, opacity=opacity)
        pieces = gradient.pieces()
        return pieces[0].colour if len(pieces) == 1 else gradient


MAX_PIECES = 400
"""Total number of gradient pieces in a drawing; further gradients become a single colour (our own
choice)."""
MAX_PAINTED = 12_000
"""Greatest number of shapes in one drawing; the largest of 8,121 real ones had 6,342."""


class Painter:
    """Paints the paths of one document."""

    def __init__(self, document: Document) -> None:
        self.paints = Paints(document)
        self._painted = self._pieces = 0
        self._bands: dict[tuple[Gradient, Matrix, range, ColourBand], Clip] = {}

    def painted(
        self, element: etree._Element, path: Path, context: RenderContext
    ) -> list[PaintedPath]:
        """The fill and the stroke of a path, in paint order.

        Raises BadNumberError for coordinates out of range, HostileArtworkError if the budget is
        spent.
        """
        if max(map(abs, page_bounds(path, context.matrix))) > MAX_COORDINATE:
            raise BadNumberError(path)
        self._count()
        base = PaintedPath(
            path,
            context.matrix,
            name=context.used_as or context.name or f"shape {self._painted}",
            layer=context.layer,
            line_number=element.sourceline,
        )
        if context.outlines_only:
            return [replace(base, even_odd=context.style.get("clip-rule") == "evenodd")]
        fill = self._filled(element, base, context)
        shows = any(not is_sheet(painted.colour.hex, WHITE) for painted in fill)
        stroke = self._stroked(element, base, context, shows)
        first_stroke = context.style.get("paint-order", "").split()[:1] == ["stroke"]
        return stroke + fill if first_stroke else fill + stroke

    def _count(self) -> None:
        self._painted += 1
        if self._painted > MAX_PAINTED:
            raise HostileArtworkError(
                f"The drawing has more than {MAX_PAINTED:,} shapes.", "Leave some of them out."
            )

    def _filled(
        self, element: etree._Element, base: PaintedPath, context: RenderContext
    ) -> list[PaintedPath]:
        if tag_of(element) == "line":
            return []
        painted = replace(base, even_odd=context.style.get("fill-rule") == "evenodd")
        return self._in_paint(element, painted, "fill", context)

    def _in_paint(
        self, element: etree._Element, painted: PaintedPath, kind: str, context: RenderContext
    ) -> list[PaintedPath]:
        """The painted path in its colour; nothing if it is invisible."""
        paint = self.paints.resolve(kind, context.style, context.alpha, element, context.viewport)
        if paint is None or (isinstance(paint, Colour) and paint.alpha < MIN_OPACITY):
            return []
        if isinstance(paint, Colour):
            return [replace(painted, colour=paint)]
        gradient, space = paint, context.matrix
        if gradient.in_box:
            space = multiply(space, box_matrix(space, [painted]))
        space = multiply(space, gradient.matrix)
        if not is_usable(space):
            return []
        periods = gradient.periods(
            apply(invert(space), box_corners(page_bounds(painted.path, painted.matrix)))
        )
        pieces = gradient.pieces()
        self._pieces += len(pieces)
        if len(periods) > MAX_PERIODS or self._pieces > MAX_PIECES:
            most = max(pieces, key=lambda piece: piece.colour.alpha)
            return [replace(painted, colour=most.colour)]
        return [
            replace(painted, colour=piece.colour).clipped(
                self._band(gradient, space, periods, piece)
            )
            for piece in pieces
            if piece.colour.alpha >= MIN_OPACITY
        ]

    def _band(self, gradient: Gradient, space: Matrix, periods: range, piece: ColourBand) -> Clip:
        """The area of a piece of a gradient; cached, so that it is the same object each time."""
        key = (gradient, space, periods, piece)
        if key not in self._bands:
            region = PaintedPath(gradient.region(piece, periods), space, even_odd=True)
            self._bands[key] = Clip((region,))
        return self._bands[key]

    def _stroked(
        self, element: etree._Element, base: PaintedPath, context: RenderContext, also_filled: bool
    ) -> list[PaintedPath]:
        if context.style.get("stroke", "none") == "none":
            return []
        stroke = stroke_of(element, base.path, context)
        if stroke.width <= 0:
            return []
        painted = replace(base, stroke=stroke, also_filled=also_filled)
        if context.style.get("vector-effect") == "non-scaling-stroke":
            px = scaling(MM_PER_PX, MM_PER_PX)
            to_px = multiply(invert(px), context.matrix)
            painted = replace(painted, path=base.path.transformed(to_px), matrix=px)
        return self._in_paint(element, painted, "stroke", context)


def stroke_of(element: etree._Element, path: Path, context: RenderContext) -> StrokeStyle:
    """The stroke parameters of a path, from its style."""
    style, diagonal = context.style, context.viewport.diagonal

    def length(name: str, default: float) -> float:
        value = parse_length(style.get(name), diagonal, context.font_size)
        return default if value is None else value

    dashes = [
        parse_length(part, diagonal, context.font_size)
        for part in style.get("stroke-dasharray", "none").replace(",", " ").split()
    ]
    stroke = StrokeStyle(
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
        by = stretched(path, stated, max(right - left, bottom - top) / 1000)
        longer = tuple(dash * by for dash in stroke.dashes)
        stroke = replace(stroke, dashes=longer, offset=stroke.offset * by)
    return stroke
