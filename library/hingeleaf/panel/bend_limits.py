"""Constraints on bending a motif: straight folds, round rings, strength, height under the glass."""

from __future__ import annotations

import math

import shapely
from shapely import Polygon

from hingeleaf.fill.pool import StiffParts
from hingeleaf.model import Card, Motif, Pose
from hingeleaf.panel.folding import fits_under_glass
from hingeleaf.paper.bent_motif import bend_motif
from hingeleaf.paper.resized import Resized

LEAST_ROUNDNESS = 0.9
"""Least 4π · area / perimeter² of a round ring: a square has 0.79, an octagon 0.95."""
LEAST_RADIUS = 0.05
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
        if radius >= LEAST_RADIUS and 4 * math.pi * ring.area >= LEAST_ROUNDNESS * ring.length**2:
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
