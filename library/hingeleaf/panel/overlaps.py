"""Find lines that are cut twice and motifs that overlap."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import Cuts, Finding
from hingeleaf.panel.findings import FindingKind, found
from hingeleaf.panel.pieces import Piece
from hingeleaf.units import format_mm

BESIDE = 0.1
"""mm, half a kerf: closer lines are one cut to a blade."""
LEAST_RUN = 1.0
"""mm: shorter parallel stretches are crossings or ends, not lines cut twice."""


def double_cuts(groups: Sequence[Cuts]) -> Iterator[Finding]:
    """Stretches along which two lines run on top of each other."""
    lines = np.concatenate([lines_of(cuts) for cuts in groups]) if groups else np.array([])
    if len(lines) < 2:
        return
    one, other = shapely.STRtree(lines).query(lines, predicate="dwithin", distance=BESIDE)
    one, other = one[one < other], other[one < other]
    beside = shapely.buffer(lines[other], BESIDE, quad_segs=2, cap_style="flat")
    shared = shapely.intersection(lines[one], beside)
    for run in shared[shapely.length(shared) > LEAST_RUN]:
        yield found(
            FindingKind.DOUBLE_CUT,
            f"{format_mm(run.length)} of line are cut twice.",
            run,
        )


def clashes(pieces: Sequence[Piece]) -> Iterator[Finding]:
    """Motifs whose cuts overlap."""
    for one, other, at in _overlaps(pieces):
        first, second = pieces[one].motif.name, pieces[other].motif.name
        yield found(FindingKind.CLASH, f"{first} and {second} overlap.", at)


def lines_of(cuts: Cuts) -> NDArray[np.object_]:
    """Every line that the blade follows."""
    lines: NDArray[np.object_] = np.concatenate(
        [
            shapely.get_rings(shapely.get_parts(cuts.windows)),
            shapely.get_parts(cuts.slits),
        ]
    )
    return lines


def _overlaps(pieces: Sequence[Piece]) -> Iterator[tuple[int, int, BaseGeometry]]:
    areas = np.array([piece.cuts.windows for piece in pieces], dtype=object)
    slits = np.array([piece.cuts.slits for piece in pieces], dtype=object)
    solid = np.array([piece.footprint for piece in pieces], dtype=object)
    one, other = shapely.STRtree(solid).query(solid, predicate="intersects")
    one, other = one[one < other], other[one < other]
    if not len(one):
        return
    shared_parts = [
        shapely.intersection(areas[one], areas[other]),
        shapely.intersection(areas[one], slits[other]),
        shapely.intersection(slits[one], areas[other]),
        shapely.intersection(slits[one], slits[other]),
    ]
    for first, second, *shared in zip(one, other, *shared_parts, strict=True):
        place = next((part for part in shared if not part.is_empty), None)
        if place is not None:
            yield int(first), int(second), place
