"""Compose placements into the cut geometry of one panel.

Everything is in the coordinates of the field, like the placements and the positions of findings;
writers move the sheet's top left corner to the origin.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely import MultiLineString, MultiPolygon, Polygon

from hingeleaf.errors import UsageError
from hingeleaf.field.specs import FieldSpec
from hingeleaf.geometry.members import multiline_of, windows_of
from hingeleaf.model import NO_LINES, NO_WINDOWS, Card, Cuts, Field, Motif, Placement
from hingeleaf.notebook import CARD, CUT_LINE, CUT_OUT, svg_picture
from hingeleaf.panel.cut_lettering import cut_lettering, tied_outline
from hingeleaf.panel.demands import MARGIN, NO_FRAME, Frame
from hingeleaf.panel.pieces import Piece, place_pieces


@dataclass(frozen=True, slots=True)
class Panel:
    """A sheet of card with everything that is cut or folded in it."""

    name: str
    card: Card
    sheet: Polygon
    cuts: Cuts
    """Windows, slits and folds of the whole panel; neighbours that overlap are merged."""
    pieces: tuple[Piece, ...]
    field: Field
    frame: Frame = NO_FRAME
    outline: MultiLineString = NO_LINES
    """The outline slits, with their ties left uncut; also contained in `cuts.slits`."""
    lettering: MultiPolygon = NO_WINDOWS
    """Windows of lettering that is cut out; also contained in `cuts.windows`."""
    guides: MultiLineString = NO_LINES
    """Lines that are drawn but not cut."""
    marks: MultiLineString = NO_LINES
    """Alignment crosses and names for joining several sheets; not cut."""
    spec: FieldSpec | None = None
    """The specification of the field, where known."""
    purpose: str = ""
    """The purpose of a sheet that is not a work to display, such as a test sheet; written into
    metadata."""
    gap: float | None = None
    """The requested least distance between motifs, mm; None where unknown."""

    @property
    def origin(self) -> tuple[float, float]:
        """The sheet's top left corner."""
        left, top, _, _ = self.sheet.bounds
        return left, top

    @property
    def size(self) -> tuple[float, float]:
        """Width and height of the sheet."""
        left, top, right, bottom = self.sheet.bounds
        return right - left, bottom - top

    def _repr_svg_(self) -> str:
        cuts = self.cuts
        return svg_picture((self.sheet, CARD), (cuts.windows, CUT_OUT), (cuts.slits, CUT_LINE))

    @property
    def opening(self) -> Polygon:
        """The part that stays visible inside the frame."""
        left, top, right, bottom = self.sheet.bounds
        rebate = self.frame.rebate
        return shapely.box(left + rebate, top + rebate, right - rebate, bottom - rebate)


def compose(
    name: str,
    field: Field,
    placements: Sequence[Placement],
    motifs: Mapping[str, Motif],
    card: Card,
    *,
    sheet: tuple[float, float] | None = None,
    cut_outline: bool = False,
    mark_outline: bool = False,
    stencil: MultiPolygon = NO_WINDOWS,
    widen: bool = False,
    frame: Frame | None = None,
    margin: float = MARGIN,
    gap: float | None = None,
    spec: FieldSpec | None = None,
) -> Panel:
    """The panel of a filled field, each motif's bridges re-cut at its size of use.

    `sheet` is width × height, centred on the field; without it the sheet is the field's bounds
    and `margin`. `cut_outline` cuts the field's outline too, with ties that keep it in the sheet
    and its counters in it; `mark_outline` only draws it. `stencil` is lettering to be cut out, in
    its position on the sheet, its counters tied by bridges; with `widen` its strokes and webs are
    widened to the card's limits. Raises UnknownNameError for a placement whose motif is not in
    `motifs`, UsageError for a sheet without area or a rebate that covers it.
    """
    paper = sheet_around(field, sheet, margin)
    frame = frame or NO_FRAME
    if 2 * frame.rebate >= min(_sides(paper)):
        raise UsageError("The frame's rebate covers the whole sheet.", "Give a narrower rebate.")
    lettering = cut_lettering(stencil, card, widen=widen)
    pieces = tuple(place_pieces(placements, motifs, card))
    outline = tied_outline(field.outline, card) if cut_outline else NO_LINES
    return Panel(
        name=name,
        card=card,
        sheet=paper,
        cuts=_merged([*(piece.cuts for piece in pieces), lettering], outline),
        pieces=pieces,
        field=field,
        frame=frame,
        outline=outline,
        lettering=lettering.windows,
        guides=multiline_of(field.outline.boundary) if mark_outline else NO_LINES,
        gap=gap,
        spec=spec,
    )


def sheet_around(field: Field, size: tuple[float, float] | None, margin: float) -> Polygon:
    """A sheet of a given size centred on the field, or else the field's box with a margin.

    Raises UsageError for a sheet without area.
    """
    left, top, right, bottom = shapely.total_bounds([field.area, field.outline])
    if size is None:
        return shapely.box(left - margin, top - margin, right + margin, bottom + margin)
    width, height = size
    if not (width > 0 and height > 0):
        raise UsageError("A sheet needs a width and a height above 0.", "Give for example 8x10in.")
    x, y = (left + right) / 2, (top + bottom) / 2
    return shapely.box(x - width / 2, y - height / 2, x + width / 2, y + height / 2)


def _sides(paper: Polygon) -> tuple[float, float]:
    left, top, right, bottom = paper.bounds
    return right - left, bottom - top


def _merged(cuts: Sequence[Cuts], outline: MultiLineString) -> Cuts:
    windows = shapely.disjoint_subset_union_all([each.windows for each in cuts])
    return Cuts(
        windows=windows_of(windows),
        slits=multiline_of([*(each.slits for each in cuts), outline]),
        folds=multiline_of([each.folds for each in cuts]),
    )
