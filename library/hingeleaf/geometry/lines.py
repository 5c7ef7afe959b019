"""Build many lines from sequences of points in one call of GEOS."""

from __future__ import annotations

from collections.abc import Sequence, Sized

import numpy as np
import shapely
from numpy.typing import NDArray

from hingeleaf.model import Points


def lines_through(runs: Sequence[Points]) -> NDArray[np.object_]:
    """A LineString through each run of points, (n, 2) and n > 1 each; at least one run."""
    lines: NDArray[np.object_] = shapely.linestrings(np.concatenate(runs), indices=owners(runs))
    return lines


def rings_through(runs: Sequence[Points]) -> NDArray[np.object_]:
    """A LinearRing through each run of points, (n, 2) with the first repeated at its end."""
    rings: NDArray[np.object_] = shapely.linearrings(np.concatenate(runs), indices=owners(runs))
    return rings


def owners(runs: Sequence[Sized]) -> NDArray[np.intp]:
    """The index of its run for each point of all runs in order."""
    return np.repeat(np.arange(len(runs)), [len(run) for run in runs])
