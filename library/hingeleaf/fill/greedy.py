"""A first complete filling: always the best place for the best motif, until nothing fits."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.packing import Packing

TRIES = 3000
"""Random poses looked at for each motif."""
KEEP, CLIMB = 6, 80
"""How many of them are improved, and for how many steps."""
CONTACT = 0.35
"""How much lying close to the surroundings counts, as a share of the area."""
BALANCE = 0.15
"""How strongly a kind that is ahead of the others is held back, per placement."""


def kind_weights(packing: Packing, wishes: NDArray[np.float64]) -> NDArray[np.float64]:
    """What each kind's area counts: less for kinds that are ahead of their wished share.

    `wishes` (kinds,) are the relative shares; 0 is never placed. The largest weight is 1.
    """
    counts = np.bincount(packing.kinds, minlength=len(wishes))
    wanted = wishes > 0
    relative = np.zeros(len(wishes))
    relative[wanted] = counts[wanted] / (wishes[wanted] / wishes[wanted].mean())
    weights = np.where(wanted, np.exp(-BALANCE * (relative - relative[wanted].mean())), 0.0)
    scaled: NDArray[np.float64] = weights / weights.max()
    return scaled


def fill_greedily(
    packing: Packing, wishes: NDArray[np.float64], state: NDArray[np.uint64], most: int
) -> Iterator[int]:
    """Add motifs until nothing fits or there are `most`; yields how many there are."""
    from hingeleaf.fill.search import best_place

    cells = np.ascontiguousarray(np.argwhere(packing.clearance > 0))
    failures = 0
    while failures < 2 and len(packing.kinds) < most and len(cells):
        place = best_place(
            packing.clearance,
            packing.facing,
            packing.frame,
            packing.samples.traits,
            packing.samples.probes,
            kind_weights(packing, wishes),
            cells,
            TRIES << failures,
            KEEP,
            CLIMB,
            CONTACT,
            0.0,
            0.0,
            state,
        )
        if place[6] <= 0:
            failures += 1
            continue
        packing.add(place, int(place[5]))
        cells = cells[packing.clearance[cells[:, 0], cells[:, 1]] > 0]
        yield len(packing.kinds)
