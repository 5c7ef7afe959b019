"""A first complete filling: always the best place for the best motif, until nothing fits."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.packing import Packing
from hingeleaf.fill.worth import Wishes

TRIES, KEEP = 2000, 6
"""Random poses looked at for each motif, and how many of them are improved."""
MISSES = 3
"""Times in a row that nothing is found, with twice the tries each time, before it is full."""


def fill_greedily(
    packing: Packing, wishes: Wishes, state: NDArray[np.uint64], most: int
) -> Iterator[int]:
    """Add motifs until nothing fits or there are `most`; yields how many there are."""
    misses = 0
    while misses < MISSES and len(packing.kinds) < most:
        place = packing.find(
            wishes.weights(packing.kinds),
            state,
            packing.whole,
            least=0.0,
            tries=TRIES << misses,
            keep=KEEP,
        )
        if place is None:
            misses += 1
        else:
            packing.add(*place)
            misses = 0
            yield len(packing.kinds)
