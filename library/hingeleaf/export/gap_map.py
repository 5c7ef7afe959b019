"""Colour the free area of a panel by its distance to the nearest motif or edge."""

from __future__ import annotations

import numpy as np
import shapely

from hingeleaf.export.picture import Mark
from hingeleaf.export.pull_map import colour_between
from hingeleaf.fill.options import FillOptions
from hingeleaf.panel.compose import Panel

BANDS = 8
"""Steps from the nearest to the farthest points."""
FARTHEST = 2.0
"""Distance in gaps from which points have the last colour."""


def gap_marks(panel: Panel) -> list[Mark]:
    """Bands of equal distance, from blue (within half the gap) over sand to red (two gaps).

    A panel that tells no gap is judged by the usual one.
    """
    gap = FillOptions().gap if panel.gap is None else panel.gap
    taken = shapely.disjoint_subset_union_all([piece.footprint for piece in panel.pieces])
    free = shapely.difference(panel.field.area, taken)
    distances = np.linspace(0, FARTHEST * gap, BANDS)
    bands = [
        Mark(shapely.buffer(free, -distance), colour_between(1 - band / (BANDS - 1)))
        for band, distance in enumerate(distances)
    ]
    return [mark for mark in bands if not mark.area.is_empty]
