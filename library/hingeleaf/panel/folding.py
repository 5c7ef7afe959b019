"""Check how flaps fold: height under the glass, spring-back, free hinges; limits when bent."""

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from shapely import Polygon

from hingeleaf.fill.pool import StiffParts
from hingeleaf.model import Card, Finding, Motif, Placement, Pose, SizeRange
from hingeleaf.panel.bent_motif import bend_motif
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.findings import FindingKind, found
from hingeleaf.panel.lifting import Raised, resting_angles
from hingeleaf.panel.pieces import place_pieces
from hingeleaf.paper.mechanics.springback import RestAngles
from hingeleaf.paper.resized import Resized
from hingeleaf.params import OPENING
from hingeleaf.units import format_mm

SHRINK_STEP = 0.99
"""Extra factor by which a motif is shrunk, since its flaps shrink less than proportionally."""
MIN_HEIGHT_SHARE = 0.75
"""A flap that keeps less of its height than this may look flat (common practice, no source)."""
CLEARANCE = 2.0
"""mm between the highest flap and the glass, at least."""


def too_high(
    names: Sequence[str], flaps: Sequence[Raised], depth: float | None
) -> Iterator[Finding]:
    """Flaps that would press against the glass of a frame `depth` deep.

    `names` are the names of the motifs or folds that the flaps' indices refer to. The greatest
    likely height counts, with least spring-back.
    """
    if depth is None:
        return
    for flap in flaps:
        _, highest = flap.lift_range
        if highest > depth - CLEARANCE:
            yield found(
                FindingKind.LIFT_TOO_HIGH,
                f"{names[flap.piece]} stands up to {format_mm(round(highest, 1))} high, if it "
                f"rests at {flap.rest.highest:.0f}° rather than {flap.opening:g}°; a frame "
                f"{format_mm(depth)} deep leaves {format_mm(max(depth - CLEARANCE, 0.0))}.",
                flap.hinge.flap,
            )


def too_low(names: Sequence[str], flaps: Sequence[Raised]) -> Iterator[Finding]:
    """Flaps that would look flat if they spring back as far as they may."""
    for flap in flaps:
        lowest, _ = flap.lift_range
        if lowest < MIN_HEIGHT_SHARE * flap.lift:
            yield found(
                FindingKind.LIFT_TOO_LOW,
                f"{names[flap.piece]} may sink to {flap.rest.lowest:.0f}° and stand only "
                f"{format_mm(round(lowest, 1))} high, not {format_mm(round(flap.lift, 1))}.",
                flap.hinge.flap,
            )


def sizes_under_glass(motif: Motif, sizes: SizeRange, card: Card, depth: float) -> SizeRange | None:
    """The sizes in a range at which no flap of a motif reaches the glass of a frame `depth` mm
    deep.

    None if there are none. The criterion is that of `too_high`.
    """
    room, rest = depth - CLEARANCE, resting_angles(OPENING, card)
    size = sizes.largest
    while size >= sizes.smallest:
        lift = highest_lift(motif, size, card, rest)
        if lift <= room:
            return SizeRange(sizes.smallest, size)
        # Bridges keep their width, so a flap shrinks less than the motif.
        size *= SHRINK_STEP * room / lift
    return None


def highest_lift(motif: Motif, size: float, card: Card, rest: RestAngles) -> float:
    """How high the flaps of a motif of that size may stand, mm."""
    placement = Placement(motif.name, motif.revision, Pose(0, 0, 0, size))
    (piece,) = place_pieces([placement], {motif.name: motif}, card)
    lifts = [hinge.lift(rest.highest) for hinge in piece.hinges if hinge.length > 0]
    return max(lifts, default=0.0)


def fits_under_glass(motif: Motif, size: float, card: Card, depth: float) -> bool:
    """Whether no flap of a motif of that size reaches the glass of a frame `depth` deep."""
    return highest_lift(motif, size, card, resting_angles(OPENING, card)) <= depth - CLEARANCE


def faulty_hinges(panel: Panel) -> Iterator[Finding]:
    """Hinges that are blocked, locked or short, or that cross a cut of another piece."""
    for piece in panel.pieces:
        for finding in piece.hinge_findings:
            yield replace(finding, message=f"{piece.motif.name}: {finding.message}")
    yield from _cut_by_others(panel)


def _cut_by_others(panel: Panel) -> Iterator[Finding]:
    """Hinges that cross a cut of another motif, of the outline or of lettering."""
    hinges, own = shapely.get_parts([piece.cuts.folds for piece in panel.pieces], return_index=True)
    cuts = [(index, piece.cuts.windows) for index, piece in enumerate(panel.pieces)]
    cuts += [(index, piece.cuts.slits) for index, piece in enumerate(panel.pieces)]
    cuts += [(-1, panel.outline), (-1, panel.lettering)]
    owner = np.array([index for index, _ in cuts])
    tree = shapely.STRtree([geometry for _, geometry in cuts])
    hinge, cut = tree.query(hinges, predicate="intersects")
    foreign = owner[cut] != own[hinge]
    for index, other in zip(hinge[foreign].tolist(), cut[foreign].tolist(), strict=True):
        at = shapely.intersection(hinges[index], cuts[other][1])
        name = panel.pieces[own[index]].motif.name
        message = f"A hinge of {name} runs across another cut."
        yield found(FindingKind.BLOCKED_HINGE, message, at)


MIN_ROUNDNESS = 0.9
"""Least 4π · area / perimeter² of a round ring: a square has 0.79, an octagon 0.95."""
MIN_RADIUS = 0.05
"""The smallest radius of a ring that counts, as a share of the motif's size."""


def stiff_parts(motif: Motif, card: Card) -> StiffParts:
    """The fold lines and round outlines of a motif, at size 1."""
    hinges = Resized(motif, card, motif.size).hinges.hinges
    folds = tuple(
        ((x0 / motif.size, y0 / motif.size), (x1 / motif.size, y1 / motif.size))
        for (x0, y0), (x1, y1) in (hinge.line for hinge in hinges)
    )
    rings = [Polygon(ring) for ring in shapely.get_rings(shapely.get_parts(motif.windows))]
    rounds = []
    for ring in rings:
        radius = ring.length / (2 * math.pi) / motif.size
        if radius >= MIN_RADIUS and 4 * math.pi * ring.area >= MIN_ROUNDNESS * ring.length**2:
            x, y = ring.centroid.coords[0]
            rounds.append((x / motif.size, y / motif.size, radius))
    return StiffParts(folds, tuple(rounds))


def holds_bent(motif: Motif, pose: Pose, card: Card, depth: float | None) -> bool:
    """Whether a bent motif holds, and stays under the glass of a frame `depth` mm deep."""
    assert pose.bend is not None
    made = bend_motif(motif, pose.bend, pose.size, card)
    if not made.holds:
        return False
    return depth is None or fits_under_glass(made.motif, pose.size, card, depth)
