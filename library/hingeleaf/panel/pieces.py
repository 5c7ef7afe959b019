"""Placed motifs: the cuts, folds and footprint of each in its position on the sheet."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import shapely
from shapely import MultiPolygon, Polygon

from hingeleaf.cubic_map import CubicMap
from hingeleaf.errors import UnknownNameError
from hingeleaf.geometry.members import windows_of
from hingeleaf.model import NO_WINDOWS, XY, Card, Cuts, Finding, Motif, Placement, Pose
from hingeleaf.panel.bent_motif import bend_motif
from hingeleaf.paper.bridges import at_size, is_drawable, lay_bridges, strips
from hingeleaf.paper.clean_cuts import clean
from hingeleaf.paper.hinges import Hinge, Hinges, find_hinges


@dataclass(frozen=True, slots=True)
class Piece:
    """One placed motif."""

    placement: Placement
    motif: Motif
    """The motif as placed, bent if it was bent."""
    cuts: Cuts
    footprint: Polygon
    ties: MultiPolygon = NO_WINDOWS
    """The strips of its bridges."""
    hinges: tuple[Hinge, ...] = ()
    """Its hinges."""
    hinge_findings: tuple[Finding, ...] = ()
    """Hinges that cannot be folded or may tear, and why."""


@dataclass(frozen=True, slots=True)
class _Prepared:
    """A motif prepared at a size of use, about its own origin."""

    cuts: Cuts
    ties: MultiPolygon
    hinges: Hinges


def place_pieces(
    placements: Sequence[Placement], motifs: Mapping[str, Motif], card: Card
) -> Iterator[Piece]:
    """One piece per placement. Raises UnknownNameError for an unknown motif."""
    prepared: dict[tuple[str, float, CubicMap | None], _Prepared] = {}
    drawn: dict[Motif, Hinges] = {}
    for placement in placements:
        motif = motifs.get(placement.motif)
        if motif is None:
            raise UnknownNameError(
                f"The panel uses a motif {placement.motif!r} that is not in the library.",
                "Add it again, or take it out of the panel.",
            )
        size, bend = placement.pose.size, placement.pose.bend
        if bend is not None:
            motif = bend_motif(motif, bend, size, card).motif
        key = (motif.name, size, bend)
        if key not in prepared:
            prepared[key] = _prepare(motif, size, card, drawn)
        yield _placed(placement, motif, prepared[key])


def _prepare(motif: Motif, size: float, card: Card, drawn: dict[Motif, Hinges]) -> _Prepared:
    """The cuts as of `recut`, with the bridges' strips and the hinges.

    `drawn` caches the hinges of motifs without bridges as drawn: they only scale.
    """
    artwork, bridges = at_size(motif, size, card)
    cuts, _ = clean(artwork)
    bridged_cuts = lay_bridges(cuts, bridges)
    if bridges:
        hinges = find_hinges(cuts, bridges, motif.hold, bridged_cuts=bridged_cuts)
    else:
        if motif not in drawn:
            drawn[motif] = find_hinges(Cuts(motif.windows, motif.slits), hold=motif.hold)
        hinges = drawn[motif].scaled(size / motif.size)
    ties = windows_of(strips([bridge for bridge in bridges if is_drawable(bridge)]))
    return _Prepared(replace(bridged_cuts, folds=hinges.folds), ties, hinges)


def _placed(placement: Placement, motif: Motif, prepared: _Prepared) -> Piece:
    pose, cuts = replace(placement.pose, bend=None), prepared.cuts
    return Piece(
        placement=placement,
        motif=motif,
        cuts=Cuts(
            windows=pose.place(cuts.windows, pose.size),
            slits=pose.place(cuts.slits, pose.size),
            folds=pose.place(cuts.folds, pose.size),
        ),
        footprint=pose.place(motif.footprint, motif.size),
        ties=pose.place(prepared.ties, pose.size),
        hinges=tuple(_placed_hinge(hinge, pose) for hinge in prepared.hinges.hinges),
        hinge_findings=tuple(
            replace(each, at=each.at and _placed_point(each.at, pose))
            for each in prepared.hinges.findings
        ),
    )


def _placed_hinge(hinge: Hinge, pose: Pose) -> Hinge:
    start, end = (_placed_point(place, pose) for place in hinge.line)
    return Hinge((start, end), pose.place(hinge.flap, pose.size), hinge.reach)


def _placed_point(place: XY, pose: Pose) -> XY:
    point = pose.place(shapely.Point(place), pose.size)
    return point.x, point.y
