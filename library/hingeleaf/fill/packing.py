"""The packing in progress: poses as arrays, with the clearance grid they leave."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.clearance import Grids
from hingeleaf.fill.compiled import Floats, Ints
from hingeleaf.fill.motif_tables import MotifTables
from hingeleaf.fill.placement_search import SearchContext, best_place, search_buffers, upright
from hingeleaf.fill.rasterize import stamp
from hingeleaf.fill.table_columns import HALF_WIDTH, LARGEST, SMALLEST

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
HALO = 7.0
"""Distance beyond the gap up to which a motif affects the clearance grid, in units."""
NEARBY = 6.0
"""Clearance from which an outline counts as open, in units."""
GRID_RESERVE = 0.03
"""Reserve added to the gap, in units, so that the exact finish has little to repair."""
MIN_GRID_GAP, THIN = 1.2, 1.0
"""Least gap, in units, that shapes crossing each other cannot slip through, and the mean half width
below which a kind needs it, because the grid and the probes are too coarse."""
CONTACT = 0.35
"""Weight of contact with the surroundings, as a share of the area."""


class Packing:
    """Poses (n, 5) as (x, y, ax, ay, mirror), their kinds (n,), and the clearance grid.

    `unit` mm stands for the scale of the pool: lengths that only steer the search are in units.
    """

    def __init__(self, tables: MotifTables, grids: Grids, gap: float, unit: float) -> None:
        self.tables = tables
        self.unit = unit
        self.frame = grids.frame
        self.facing = grids.facing
        self.halo = HALO * unit + gap
        self.container = grids.clearance - np.float32(GRID_RESERVE * unit)
        self.whole = np.array([0, self.container.shape[0], 0, self.container.shape[1]])
        """The window of the whole grid: first row, end row, first column, end column."""
        self.gap = max(gap + GRID_RESERVE * unit, MIN_GRID_GAP * unit if self._has_thin() else 0.0)
        self.buffers = search_buffers(self.container.size, len(tables.traits))
        self.clear()

    def clear(self) -> None:
        """Take all motifs out."""
        self.clearance = self.container.copy()
        self.poses: Floats = np.empty((0, 5))
        self.kinds: Ints = np.empty(0, np.int64)

    def _has_thin(self) -> bool:
        traits = self.tables.traits
        sizes = np.sqrt(traits[:, SMALLEST] * traits[:, LARGEST])
        return bool((traits[:, HALF_WIDTH] * sizes < THIN * self.unit).any())

    def search(self, weights: Floats, traits: Floats | None = None) -> SearchContext:
        """The search for one more motif; with other `traits` than those of the tables if given."""
        traits = self.tables.traits if traits is None else traits
        return SearchContext(
            self.clearance, self.facing, self.frame, traits, self.tables.probes, weights, CONTACT,
            NEARBY * self.unit, 0.0,
        )  # fmt: skip

    def add_best(
        self,
        weights: Floats,
        state: NDArray[np.uint64],
        *,
        tries: int,
        largest: float = math.inf,
        apart: float = 0.0,
    ) -> bool:
        """Add the best motif found among so many random poses, or say that there is none.

        It is no larger than `largest` mm unless its kind always is. Others keep an extra distance
        of `apart` mm from it until a renewal.
        """
        traits = self.tables.traits.copy()
        traits[:, LARGEST] = np.clip(largest, traits[:, SMALLEST], traits[:, LARGEST])
        context = self.search(weights, traits)
        place = best_place(context, self.whole, 0.0, tries, 0.0, state, self.buffers)
        if place < 0:
            return False
        found = self.buffers.found[place]
        self.poses = np.vstack([self.poses, found[:5]])
        self.kinds = np.append(self.kinds, int(found[5]))
        self._stamp(self.poses[-1:], self.kinds[-1:], self.whole, apart)
        return True

    def renew(self, window: Ints) -> None:
        """Compute the clearance in a window anew."""
        rows, columns = slice(*window[:2]), slice(*window[2:])
        self.clearance[rows, columns] = self.container[rows, columns]
        self._stamp(self.poses, self.kinds, window)

    def upright(self, poses: Floats, kinds: Ints) -> Floats:
        """The turn, radians, that counts as upright for each motif where it stands."""
        context = self.search(np.zeros(len(self.tables.traits)))
        motifs = zip(kinds.tolist(), poses, strict=True)
        return np.array([upright(context, kind, pose) for kind, pose in motifs])

    def _stamp(self, poses: Floats, kinds: Ints, window: Ints, apart: float = 0.0) -> None:
        stamp(
            self.clearance,
            self.frame,
            self.tables.fields,
            self.tables.traits,
            poses,
            kinds,
            self.gap + apart,
            self.halo + apart,
            window,
        )
