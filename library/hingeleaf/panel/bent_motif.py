"""A motif bent by a cubic map: windows bent, bridges carried along or planned again."""

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from hingeleaf.cubic_map import CubicMap, image
from hingeleaf.model import Bridge, Card, Motif, bent
from hingeleaf.paper.erosion import loose_part, narrow_web, narrow_window
from hingeleaf.paper.planning import plan_motif
from hingeleaf.paper.resized import Resized

CACHE_SIZE = 512
"""Number of bent motifs cached."""


@dataclass(frozen=True, slots=True)
class BentMotif:
    """A bent motif, and whether it holds at the size it was bent for."""

    motif: Motif
    holds: bool


@lru_cache(maxsize=CACHE_SIZE)
def bend_motif(motif: Motif, bend: CubicMap, size: float, card: Card) -> BentMotif:
    """The motif bent, with the bridges that hold it best at `size` mm.

    Existing bridges are carried along, which keeps those set by hand. If the motif then does not
    hold on the card or loses a flap, bridges are planned again and used if they hold.
    """
    carried = replace(
        motif,
        windows=bent(motif.windows, bend, motif.size),
        slits=bent(motif.slits, bend, motif.size),
        footprint=bent(motif.footprint, bend, motif.size),
        bridges=tuple(_bent_bridge(bridge, bend, motif.size) for bridge in motif.bridges),
    )
    holds = _holds_like(motif, carried, size, card)
    if holds or not motif.bridges:
        return BentMotif(carried, holds)
    width = float(np.median([bridge.width for bridge in motif.bridges]))
    replanned = plan_motif(carried, card, width=max(width, card.least_web))
    holds = _holds_like(motif, replanned, size, card)
    return BentMotif(replanned if holds else carried, holds)


def _holds_like(straight: Motif, bent_one: Motif, size: float, card: Card) -> bool:
    """Whether a bent motif holds on a card at `size` mm, with as many flaps as the straight one."""
    resized = Resized(bent_one, card, size)
    cuts = resized.cuts
    if loose_part(cuts) or narrow_window(cuts.windows, card.least_window):
        return False
    if narrow_web(cuts, card.least_web):
        return False
    if not straight.hold.lifts:
        return True
    one, other = Resized(straight, card, size).hinges, resized.hinges
    return len(one.hinges) == len(other.hinges) and len(one.findings) >= len(other.findings)


def _bent_bridge(bridge: Bridge, bend: CubicMap, size: float) -> Bridge:
    """The bridge with its ends moved by the map."""
    ends = image(bend, np.array(bridge.centre_line.coords) / size) * size
    (x0, y0), (x1, y1) = ends.tolist()
    return replace(
        bridge,
        at=((x0 + x1) / 2, (y0 + y1) / 2),
        direction=math.degrees(math.atan2(y1 - y0, x1 - x0)),
        reach=math.hypot(x1 - x0, y1 - y0),
    )
