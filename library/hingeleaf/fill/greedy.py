"""Place motifs one by one until nothing more fits."""

from __future__ import annotations

import math
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.objective import Objective
from hingeleaf.fill.packing import Packing
from hingeleaf.fill.table_columns import AREA, LARGEST

State = NDArray[np.uint64]

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
TRIES = 2000
"""Random poses tested for each motif."""
NAMED_SHARE = 0.5
"""Share of the field that motifs requested by name may take at first, all together."""
FOCAL_SHARE, FOCAL_APART = 0.25, 0.45
"""Greatest share of the field for focal motifs, and their initial distance from each other, as a
share of their least size."""
MISSES = 3
"""Number of misses in a row, each with twice the tries, after which the field counts as full."""


def place_greedily(
    packing: Packing, objective: Objective, state: State, most: int
) -> Iterator[int]:
    """Add motifs until nothing fits or there are `most`; yields how many there are.

    First what is asked for by name, then, in a varied filling, a few focal motifs well apart, then
    the best motif for the best place, in a varied filling none as large as the focal ones.
    """
    yield from _place_missing(packing, objective, state)
    if objective.varied:
        yield from _place_focal(packing, objective, state)
    yield from place_more(packing, objective, state, most)


def place_more(packing: Packing, objective: Objective, state: State, most: int) -> Iterator[int]:
    """Add the best motif for the best place until nothing fits; yields how many there are."""
    largest = objective.classes[2] if objective.varied else math.inf
    misses = 0
    while misses < MISSES and len(packing.kinds) < most:
        weights = objective.weights(packing.kinds)
        if packing.add_best(weights, state, tries=TRIES << misses, largest=largest):
            misses = 0
            yield len(packing.kinds)
        else:
            misses += 1


def _place_missing(packing: Packing, objective: Objective, state: State) -> Iterator[int]:
    """Place what is asked for, none so large that it would leave too little for the others."""
    missing = objective.missing(packing.kinds)
    areas = packing.tables.traits[:, AREA]
    while missing.any():
        share = NAMED_SHARE * objective.field_area / max(1, objective.least.sum())
        largest = math.sqrt(share / float(areas[missing > 0].mean()))
        weights = (missing > 0).astype(float)
        if not packing.add_best(weights, state, tries=TRIES, largest=largest):
            break
        missing = objective.missing(packing.kinds)
        yield len(packing.kinds)


def _place_focal(packing: Packing, objective: Objective, state: State) -> Iterator[int]:
    """Place a few large motifs, with room for a middle one between any two."""
    traits = packing.tables.traits
    largest = float((traits[:, AREA] * traits[:, LARGEST] ** 2)[objective.shares > 0].max())
    apart = FOCAL_APART * float(objective.classes[2])
    for _ in range(int(FOCAL_SHARE * objective.field_area / largest)):
        weights = objective.weights(packing.kinds)
        if not packing.add_best(weights, state, tries=TRIES, apart=apart):
            break
        yield len(packing.kinds)
    packing.renew(packing.whole)
