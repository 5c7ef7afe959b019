"""Placements become the cut geometry of one whole panel.

Everything stays in the coordinates of the field, so that a place in a finding is the place of a
placement; writers move the sheet's top left corner to the origin.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

import shapely
from shapely import MultiLineString, MultiPolygon, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.errors import UnknownNameError, UsageError
from hingeleaf.model import NO_LINES, NO_WINDOWS, Card, Cuts, Field, Motif, Placement
from hingeleaf.panel.outline import tied_outline
from hingeleaf.paper.bridges import recut
from hingeleaf.paper.sheets import lines_of, windows_of
from hingeleaf.paper.strips import is_drawable, resize, strip_corners

MARGIN = 15.0
"""Paper left around a field when no sheet is named."""


@dataclass(frozen=True, slots=True)
class Frame:
    """What a panel is mounted in: `rebate` hides that much of every edge of the sheet."""

    rebate: float = 0.0
    depth: float | None = None
    """From the sheet to the glass."""


@dataclass(frozen=True, slots=True)
class Piece:
    """One placed motif: its cuts and footprint where they lie on the sheet."""

    placement: Placement
    motif: Motif
    cuts: Cuts
    footprint: Polygon
    ties: MultiPolygon = NO_WINDOWS
    """The strips of its bridges."""


@dataclass(frozen=True, slots=True)
class Panel:
    """A sheet of card with everything that the blade does to it."""

    name: str
    card: Card
    sheet: Polygon
    cuts: Cuts
    """Windows, slits and folds of the whole panel; neighbours that overlap are merged."""
    pieces: tuple[Piece, ...]
    field: Field
    frame: Frame = Frame()
    outline: MultiLineString = NO_LINES
    """The outline slits with their ties left uncut; they are part of `cuts.slits` too."""
    guides: MultiLineString = NO_LINES
    """Lines to see but not to cut."""

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

    @property
    def opening(self) -> Polygon:
        """What stays visible inside the frame."""
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
    frame: Frame | None = None,
    margin: float = MARGIN,
) -> Panel:
    """The panel of a filled field, each motif's bridges re-cut at its size of use.

    `sheet` is width × height, centred on the field; without it the sheet is the field's bounds
    and `margin`. `cut_outline` cuts the field's outline too, with ties that keep it in the sheet
    and its counters in it; `mark_outline` only draws it. Raises UnknownNameError for a placement
    whose motif is not in `motifs`, UsageError for a sheet without area or a rebate that covers it.
    """
    paper = _sheet(field, sheet, margin)
    frame = frame or Frame()
    if 2 * frame.rebate >= min(_sides(paper)):
        raise UsageError("The frame's rebate covers the whole sheet.", "Give a narrower rebate.")
    pieces = tuple(_pieces(placements, motifs, card))
    outline = tied_outline(field.outline, card) if cut_outline else NO_LINES
    return Panel(
        name=name,
        card=card,
        sheet=paper,
        cuts=_together([piece.cuts for piece in pieces], outline),
        pieces=pieces,
        field=field,
        frame=frame,
        outline=outline,
        guides=multiline_of(field.outline.boundary) if mark_outline else NO_LINES,
    )


def _sheet(field: Field, size: tuple[float, float] | None, margin: float) -> Polygon:
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


def _pieces(
    placements: Sequence[Placement], motifs: Mapping[str, Motif], card: Card
) -> Iterable[Piece]:
    cut_at: dict[tuple[str, float], Cuts] = {}
    for placement in placements:
        motif = motifs.get(placement.motif)
        if motif is None:
            raise UnknownNameError(
                f"The panel uses a motif {placement.motif!r} that is not at hand.",
                "Add it again, or take it out of the panel.",
            )
        size = placement.pose.size
        key = (motif.name, size)
        if key not in cut_at:
            cut_at[key] = recut(motif, size, card)
        yield Piece(
            placement=placement,
            motif=motif,
            cuts=_posed(cut_at[key], placement),
            footprint=placement.pose.place(motif.footprint, motif.size),
            ties=placement.pose.place(_ties(motif, size, card), size),
        )


def _ties(motif: Motif, size: float, card: Card) -> MultiPolygon:
    """The strips of a motif's bridges at its size of use."""
    scale = size / motif.size
    laid = [
        resize(bridge, scale, motif.scaling, card.least_web)
        for bridge in motif.bridges
        if is_drawable(bridge)
    ]
    return MultiPolygon(list(shapely.polygons(strip_corners(laid)))) if laid else NO_WINDOWS


def _posed(cuts: Cuts, placement: Placement) -> Cuts:
    pose = placement.pose
    return Cuts(
        windows=pose.place(cuts.windows, pose.size),
        slits=pose.place(cuts.slits, pose.size),
        folds=pose.place(cuts.folds, pose.size),
    )


def _together(cuts: Sequence[Cuts], outline: MultiLineString) -> Cuts:
    windows = shapely.disjoint_subset_union_all([each.windows for each in cuts])
    return Cuts(
        windows=windows_of(windows),
        slits=multiline_of([*(each.slits for each in cuts), outline]),
        folds=multiline_of([each.folds for each in cuts]),
    )


def multiline_of(geometries: Sequence[BaseGeometry] | BaseGeometry) -> MultiLineString:
    """The lines in one or several geometries, as they are."""
    if not isinstance(geometries, BaseGeometry):
        geometries = shapely.geometrycollections(list(geometries))
    return MultiLineString(list(lines_of(geometries)))
