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
from hingeleaf.paper.bridges import is_drawable, strips
from hingeleaf.paper.hinges import Hinge, Hinges
from hingeleaf.paper.resized import Resized


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


def place_pieces(
    placements: Sequence[Placement], motifs: Mapping[str, Motif], card: Card
) -> Iterator[Piece]:
    """One piece per placement. Raises UnknownNameError for an unknown motif."""
    resized: dict[tuple[str, float, CubicMap | None], Resized] = {}

    def at_size(motif: Motif, size: float, bend: CubicMap | None) -> Resized:
        return resized.setdefault((motif.name, size, bend), Resized(motif, card, size))

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
        if motif.bridges:
            hinges = at_size(motif, size, bend).hinges
        else:  # without bridges of a fixed width, hinges only scale
            hinges = at_size(motif, motif.size, bend).hinges.scaled(size / motif.size)
        yield _placed(placement, at_size(motif, size, bend), hinges)


def _placed(placement: Placement, resized: Resized, hinges: Hinges) -> Piece:
    pose, motif = replace(placement.pose, bend=None), resized.motif
    bridges = [bridge for bridge in resized.bridges if is_drawable(bridge)]
    return Piece(
        placement=placement,
        motif=motif,
        cuts=Cuts(
            windows=pose.place(resized.cuts.windows, pose.size),
            slits=pose.place(resized.cuts.slits, pose.size),
            folds=pose.place(hinges.folds, pose.size),
        ),
        footprint=pose.place(motif.footprint, motif.size),
        ties=pose.place(windows_of(strips(bridges)), pose.size) if bridges else NO_WINDOWS,
        hinges=tuple(_placed_hinge(hinge, pose) for hinge in hinges.hinges),
        hinge_findings=tuple(
            replace(each, at=each.at and _placed_point(each.at, pose)) for each in hinges.findings
        ),
    )


def _placed_hinge(hinge: Hinge, pose: Pose) -> Hinge:
    start, end = (_placed_point(place, pose) for place in hinge.line)
    return Hinge((start, end), pose.place(hinge.flap, pose.size), hinge.reach)


def _placed_point(place: XY, pose: Pose) -> XY:
    point = pose.place(shapely.Point(place), pose.size)
    return point.x, point.y
