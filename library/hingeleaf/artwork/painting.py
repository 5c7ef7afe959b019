"""Fill and stroke of SVG paths by their computed style."""

from __future__ import annotations

from dataclasses import replace

from lxml import etree

from hingeleaf.artwork.colours import WHITE, is_sheet
from hingeleaf.artwork.dashes import stretched
from hingeleaf.artwork.document import Document, tag_of
from hingeleaf.artwork.gradients import MAX_PERIODS, ColourBand, Gradient
from hingeleaf.artwork.lengths import FARTHEST, MM_PER_PX, BadNumberError, parse_length
from hingeleaf.artwork.matrices import Matrix, apply, invert, is_usable, multiply, scaling
from hingeleaf.artwork.painted_path import Clip, PaintedPath, box_corners, box_matrix, page_bounds
from hingeleaf.artwork.paints import Paints
from hingeleaf.artwork.paths import Path
from hingeleaf.artwork.render_context import FAINT, RenderContext
from hingeleaf.artwork.strokes import StrokeStyle
from hingeleaf.errors import HostileArtworkError

MAX_PIECES = 400
"""Total number of gradient pieces in a drawing; further gradients become a single colour."""
MAX_PAINTED = 12_000
"""Greatest number of shapes in one drawing; the largest of 8,121 real ones had 6,342."""


class Painter:
    """Paints the paths of one document."""

    def __init__(self, document: Document) -> None:
        self.paints = Paints(document)
        self._painted = self._pieces = 0
        self._bands: dict[tuple[Gradient, Matrix, range, ColourBand], Clip] = {}

    def painted(
        self, element: etree._Element, path: Path, here: RenderContext
    ) -> list[PaintedPath]:
        """The fill and the stroke of a path, in paint order.

        Raises BadNumberError for coordinates out of range, HostileArtworkError if the budget is
        spent.
        """
        if max(map(abs, page_bounds(path, here.matrix))) > FARTHEST:
            raise BadNumberError(path)
        self._count()
        base = PaintedPath(
            path,
            here.matrix,
            name=here.used_as or here.name or f"shape {self._painted}",
            layer=here.layer,
            line_number=element.sourceline,
        )
        if here.outlines_only:
            return [replace(base, even_odd=here.style.get("clip-rule") == "evenodd")]
        fill = self._filled(element, base, here)
        shows = any(not is_sheet(ink.colour.hex, WHITE) for ink in fill)
        stroke = self._stroked(element, base, here, shows)
        first_stroke = here.style.get("paint-order", "").split()[:1] == ["stroke"]
        return stroke + fill if first_stroke else fill + stroke

    def _count(self) -> None:
        self._painted += 1
        if self._painted > MAX_PAINTED:
            raise HostileArtworkError(
                f"The drawing has more than {MAX_PAINTED:,} shapes.", "Leave some of them out."
            )

    def _filled(
        self, element: etree._Element, base: PaintedPath, here: RenderContext
    ) -> list[PaintedPath]:
        if tag_of(element) == "line":
            return []
        ink = replace(base, even_odd=here.style.get("fill-rule") == "evenodd")
        return self._inked(element, ink, "fill", here)

    def _inked(
        self, element: etree._Element, ink: PaintedPath, kind: str, here: RenderContext
    ) -> list[PaintedPath]:
        """The painted path in its colour; nothing if it is invisible."""
        paint = self.paints.resolve(kind, here.style, here.alpha, element, here.viewport)
        if paint is None or paint.colour.alpha < FAINT:
            return []
        if paint.gradient is None:
            return [replace(ink, colour=paint.colour)]
        gradient, space = paint.gradient, here.matrix
        if gradient.in_box:
            space = multiply(space, box_matrix(space, [ink]))
        space = multiply(space, gradient.matrix)
        if not is_usable(space):
            return []
        periods = gradient.periods(
            apply(invert(space), box_corners(page_bounds(ink.path, ink.matrix)))
        )
        pieces = gradient.pieces(paint.opacity)
        self._pieces += len(pieces)
        if len(periods) > MAX_PERIODS or self._pieces > MAX_PIECES:
            most = max(pieces, key=lambda piece: piece.colour.alpha)
            return [replace(ink, colour=most.colour)]
        return [
            replace(ink, colour=piece.colour).clipped(self._band(gradient, space, periods, piece))
            for piece in pieces
            if piece.colour.alpha >= FAINT
        ]

    def _band(self, gradient: Gradient, space: Matrix, periods: range, piece: ColourBand) -> Clip:
        """The area of a piece of a gradient; cached, so that it is the same object each time."""
        key = (gradient, space, periods, piece)
        if key not in self._bands:
            region = PaintedPath(gradient.region(piece, periods), space, even_odd=True)
            self._bands[key] = Clip((region,))
        return self._bands[key]

    def _stroked(
        self, element: etree._Element, base: PaintedPath, here: RenderContext, also_filled: bool
    ) -> list[PaintedPath]:
        if here.style.get("stroke", "none") == "none":
            return []
        stroke = stroke_of(element, base.path, here)
        if stroke.width <= 0:
            return []
        ink = replace(base, stroke=stroke, also_filled=also_filled)
        if here.style.get("vector-effect") == "non-scaling-stroke":
            px = scaling(MM_PER_PX, MM_PER_PX)
            to_px = multiply(invert(px), here.matrix)
            ink = replace(ink, path=base.path.transformed(to_px), matrix=px)
        return self._inked(element, ink, "stroke", here)


def stroke_of(element: etree._Element, path: Path, here: RenderContext) -> StrokeStyle:
    """The stroke parameters of a path, from its style."""
    style, diagonal = here.style, here.viewport.diagonal

    def length(name: str, otherwise: float) -> float:
        value = parse_length(style.get(name), diagonal, here.font_size)
        return otherwise if value is None else value

    dashes = [
        parse_length(part, diagonal, here.font_size)
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
