"""Make motifs from parametric designs: cut, bridge, store and revise them."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import shapely
from shapely import LineString
from shapely.geometry.base import BaseGeometry

from hingeleaf.adding import (
    ImportReport,
    ReadyMotif,
    duplicate_report,
    find_duplicate,
    motif_without_bridges,
    store,
)
from hingeleaf.artwork.shape_descriptor import descriptor_of
from hingeleaf.errors import UsageError
from hingeleaf.geometry.members import area_of
from hingeleaf.import_options import ImportOptions
from hingeleaf.model import Bridge, Cuts, Finding, HoldStyle, Motif
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.plan_comparison import ComparedPlan, best_plan, plan_cautions
from hingeleaf.paper.planning import default_width, plan
from hingeleaf.shapes.curves import Traced
from hingeleaf.shapes.design import (
    HOLDS,
    KINDS,
    AddedShape,
    Design,
    DesignCuts,
    cut_design,
    design_from_text,
    design_to_text,
    is_design,
)
from hingeleaf.shapes.layout import CutMode
from hingeleaf.units import parse_length

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library

PAPER_OVERLAP = 0.2
"""mm: how far a bridge extends into the paper at either end."""
JOIN_WIDTH = 0.6
"""Width of a bridge between petals or points, as a share of the usual width: hinges go between
them."""


def make_motif(
    design: Design, name: str, options: ImportOptions
) -> tuple[Motif, tuple[Finding, ...]]:
    """A bridged motif of a design, and findings about it.

    Raises NothingToCutError, UsageError.
    """
    made = cut_design(design)
    motif = motif_without_bridges(made, Path(name), options)
    planned = _bridged(motif, design, made, options)
    return planned.motif, (*planned.findings, *plan_cautions(planned))


def add_made_motif(
    library: Library, design: Design, name: str, options: ImportOptions
) -> ImportReport:
    """Store the motif of a design together with the design, unless the library has its shape."""
    motif, findings = make_motif(design, name, options)
    vector, file = descriptor_of(motif.windows, motif.slits), Path(f"{name}.json")
    known = None if options.again else find_duplicate(library, vector)
    if known is not None:
        return duplicate_report(file, known)
    return store(library, ReadyMotif(file, design_to_text(design), motif, vector, findings))


def remake_motif(
    library: Library, name: str, design: Design, options: ImportOptions
) -> tuple[int, tuple[Finding, ...]]:
    """Store a changed design as the next revision of a motif; its other facts stay.

    Returns the revision's number and findings. Raises ChangedElsewhereError.
    """
    before = library.motif(name)
    made, findings = make_motif(design, name, options)
    after = replace(
        before,
        windows=made.windows,
        slits=made.slits,
        footprint=made.footprint,
        size=made.size,
        bridges=made.bridges,
        hold=made.hold,
    )
    number = library.update(
        after,
        expected_revision=before.revision,
        base=before,
        original=design_to_text(design),
        original_name=f"{name}.json",
        likeness=descriptor_of(made.windows, made.slits),
    )
    return number, findings


def design_of_motif(library: Library, name: str) -> Design | None:
    """The design that a motif was made from; None if it was not made from a design.

    If later revisions changed only the bridges, the design of an earlier revision applies. Raises
    UnknownNameError, DamagedLibraryError, and UsageError for a design that cannot be read.
    """
    for revision in reversed(library.revisions(name)):
        kept = library.original(name, revision.number)
        if kept is not None:
            return design_from_text(kept.content) if is_design(kept.content) else None
    return None


def read_added_shape(text: str, motif: Callable[[str], Motif]) -> AddedShape:
    """Parse a piece such as `heart@0,-20mm:12mm`, or with `:12mm:45` turned by 45°.

    `motif` returns a motif of the library by name. Raises UsageError, UnknownNameError.
    """
    name, _, where = text.rpartition("@")
    place, *figures = where.split(":")
    x, comma, y = place.partition(",")
    if not (name and comma and 1 <= len(figures) <= 2):
        raise UsageError(
            f"{text!r} is not a part with a position and a length.",
            "Write for example heart@0,12mm:10mm.",
        )
    try:
        turn = float(figures[1]) if len(figures) == 2 else 0.0
    except ValueError as problem:
        raise UsageError(
            f"{figures[1]!r} is not an angle.", "Give degrees, as in :45."
        ) from problem
    shape = KINDS[name]() if name in KINDS else trace_motif(motif(name))
    size = parse_length(figures[0])
    return AddedShape(shape, parse_length(x, signed=True), parse_length(y, signed=True), size, turn)


def piece_text(piece: AddedShape) -> str:
    """A piece as text that `read_added_shape` accepts."""
    shape = piece.shape
    name = shape.motif if isinstance(shape, Traced) else type(shape).__name__.lower()
    turn = f":{piece.turn:g}" if piece.turn else ""
    return f"{name}@{piece.x:g},{piece.y:g}:{piece.size:g}{turn}"


def trace_motif(motif: Motif) -> Traced:
    """A motif as a shape for making others; its bridges are planned again."""
    return Traced(motif.name, motif.windows, motif.slits)


def _bridged(
    motif: Motif, design: Design, made: DesignCuts, options: ImportOptions
) -> ComparedPlan:
    """The motif bridged as requested, or else as suits its kind of shape, or else in the best
    style."""
    hold, pinned = options.hold, _bridges(made, motif, design, options)
    if hold is None and pinned:
        return _tied(motif, pinned, made, options)
    if hold is None and design.layout.cut is not CutMode.WINDOW:
        hold = HOLDS.get(type(design.shape))
    elif hold is None and not find_parts(Cuts(motif.windows, motif.slits)).loose:
        hold = HoldStyle.FLAT  # windows only, as requested
    return best_plan(motif, options.card, hold=hold, width=options.bridge_width)


def _tied(
    motif: Motif, pinned: Sequence[Bridge], made: DesignCuts, options: ImportOptions
) -> ComparedPlan:
    """The motif with the given bridges and those that other parts need; it folds between them."""
    card, width = options.card, options.bridge_width
    found = plan(
        motif.windows, motif.slits, card, hold=HoldStyle.RIGID, width=width, ties=1, pinned=pinned
    )
    bridges = tuple(replace(bridge, pinned=False) for bridge in found.bridges)
    hold = HoldStyle.POINTS if made.spine.is_empty else HoldStyle.SPINE
    held = replace(found.applied(motif), bridges=bridges, hold=hold)
    tied = ComparedPlan(held, card, found.findings)
    if tied.hinges or made.spine.is_empty:
        return tied
    return best_plan(motif, card, hold=hold, width=max(bridge.width for bridge in pinned))


def _bridges(
    made: DesignCuts, motif: Motif, design: Design, options: ImportOptions
) -> list[Bridge]:
    """The bridges required by a kind of shape: at its joins, and along a strip-like body."""
    usual = options.bridge_width or default_width(motif.size, options.card)
    narrow = max(2 * options.card.least_web, JOIN_WIDTH * usual)
    edges = shapely.union_all([made.windows.boundary, made.slits])
    bridges = [
        _bridge(line, crossing, narrow)
        for line in made.joins.geoms
        if not (crossing := _strip(line, narrow).intersection(edges)).is_empty
    ]
    for line in made.spine.geoms:
        crossings = _strip(line, design.layout.body_width).intersection(made.windows)
        for window in area_of(crossings).geoms:
            bridges.append(_bridge(line, window, design.layout.body_width))
    return bridges


def _strip(line: LineString, width: float) -> BaseGeometry:
    return shapely.buffer(line, width / 2, cap_style="flat")


def _bridge(line: LineString, crossing: BaseGeometry, width: float) -> Bridge:
    """A pinned bridge along a line, across the whole window that it crosses."""
    start, end = shapely.get_coordinates(line)
    along = (end - start) / line.length
    places = (shapely.get_coordinates(crossing) - start) @ along
    first, last = places.min() - PAPER_OVERLAP, places.max() + PAPER_OVERLAP
    x, y = start + along * (first + last) / 2
    direction = math.degrees(math.atan2(along[1], along[0]))
    return Bridge((float(x), float(y)), direction, float(last - first), width, pinned=True)
