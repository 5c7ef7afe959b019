"""What a filling may draw from."""

from __future__ import annotations

import math
from dataclasses import dataclass

from shapely import Polygon

from hingeleaf.model import SizeRange


@dataclass(frozen=True, slots=True)
class PoolItem:
    """One kind of motif that a filling may use, reduced to what matters for placing it.

    `footprint` is drawn about the origin at `drawn_size` mm, as in `model.Motif`. `weight` is the
    share of placements wished for, relative to the other kinds; 0 means "known, because a pinned
    placement uses it, but never placed by the filler".
    """

    name: str
    revision: int
    footprint: Polygon
    drawn_size: float
    sizes: SizeRange
    turn_limit: float = 180.0
    """Degrees it may be turned either way: 180 is free, 0 stays upright."""
    may_mirror: bool = True
    lifts: bool = False
    weight: float = 1.0

    def unrounded(self, turn: float) -> float:
        """A turn without what rounding has put on top of the limit."""
        beyond = abs(turn) - self.turn_limit
        return math.copysign(self.turn_limit, turn) if 0 < beyond < 1e-9 else turn
