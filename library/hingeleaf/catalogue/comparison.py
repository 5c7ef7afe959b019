"""Two revisions of a motif side by side: in what they differ, and how much they share."""

from __future__ import annotations

from dataclasses import dataclass

import shapely

from hingeleaf.model import Motif

PARTS = ("size", "hold", "scaling", "bridges", "windows", "slits", "footprint")
"""What a cut depends on: all that a revision keeps."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """What two revisions have in common."""

    differs: tuple[str, ...]
    """Names of the parts that are not the same to the last bit."""
    shared: float
    """Area that the windows of both cut out, as a share of what either cuts out; 1 for none."""


def compare(one: Motif, other: Motif) -> Comparison:
    """Compare two motifs as drawn, both about their own middle."""
    differs = tuple(part for part in PARTS if getattr(one, part) != getattr(other, part))
    areas = [shapely.make_valid(each.windows) for each in (one, other)]
    either = shapely.union(*areas).area
    both = shapely.intersection(*areas).area
    return Comparison(differs, both / either if either else 1.0)
