"""The packing in progress: poses as arrays, with the clearance grid that they leave."""

import math

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.clearance import Grids
from hingeleaf.fill.motif_tables import MotifTables
from hingeleaf.fill.placement_search import SearchContext, best_places
from hingeleaf.fill.rasterize import stamp
from hingeleaf.fill.relax import Scene, relax
from hingeleaf.fill.table_columns import (
    AREA,
    FOLLOWS,
    HALF_WIDTH,
    LARGEST,
    LEAN,
    MIRROR,
    REACH,
    SMALLEST,
)

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Window = tuple[int, int, int, int]
"""First row, end row, first column, end column."""

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
HALO = 7.0
"""Distance beyond the gap up to which a motif affects the clearance grid, in units."""
NEARBY = 6.0
"""Clearance from which an outline counts as open, in units."""
NEAR = 3.0
"""Distance up to which contacts are watched, in units."""
GRID_RESERVE = 0.03
"""Reserve added to the gap, in units, so that the exact finish has little to repair."""
LEAST_GRID_GAP, THIN = 1.2, 1.0
"""Least gap, in units, that shapes crossing each other cannot slip through, and the mean half width
below which a kind needs it, because the grid and the probes are too coarse."""
PRUNE_AREA = 75.0
"""Shortfall of area at which growing is given up at first, in square units."""
CONTACT = 0.35
"""Weight of contact with the surroundings, as a share of the area."""
ROUNDS, GROWTH = 10, 0.08
"""Rounds of growing when a motif is fitted to its place, and the growth of the first."""


class Packing:
    """Poses (n, 5) as (x, y, ax, ay, mirror), their kinds (n,), and the clearance grid.

    `unit` mm is the scale of the pool: lengths that only steer the search are in units.
    """

    def __init__(self, tables: MotifTables, grids: Grids, gap: float, unit: float) -> None:
        self.tables = tables
        self.unit = unit
        self.frame = grids.frame
        self.facing = grids.facing
        self.halo = HALO * unit + gap
        self.container = grids.clearance - np.float32(GRID_RESERVE * unit)
        self.gap = max(
            gap + GRID_RESERVE * unit, LEAST_GRID_GAP * unit if self._has_thin() else 0.0
        )
        self.clear()

    def clear(self) -> None:
        """Remove all motifs."""
        self.clearance = self.container.copy()
        self.poses: Floats = np.empty((0, 5))
        self.kinds: Ints = np.empty(0, np.int64)

    def _has_thin(self) -> bool:
        traits = self.tables.traits
        sizes = np.sqrt(traits[:, SMALLEST] * traits[:, LARGEST])
        return bool((traits[:, HALF_WIDTH] * sizes < THIN * self.unit).any())

    @property
    def sizes(self) -> Floats:
        """Size of every motif, mm."""
        return np.hypot(self.poses[:, 2], self.poses[:, 3])

    @property
    def reaches(self) -> Floats:
        """Distance of the farthest outline point of each motif from its origin, mm."""
        return self.measure(self.poses, self.kinds)[0]

    @property
    def farthest(self) -> float:
        """Greatest distance from its origin at which any motif of the pool has an effect, mm."""
        traits = self.tables.traits
        return float((traits[:, REACH] * traits[:, LARGEST]).max()) + self.halo

    def measure(self, poses: Floats, kinds: Ints) -> tuple[Floats, Floats]:
        """Reach in mm and footprint area in mm² of motifs."""
        sizes = np.hypot(poses[:, 2], poses[:, 3])
        traits = self.tables.traits[kinds]
        return traits[:, REACH] * sizes, traits[:, AREA] * sizes**2

    @property
    def whole(self) -> Window:
        """The window of the whole grid."""
        return 0, self.container.shape[0], 0, self.container.shape[1]

    def window(self, centres: Floats, reach: Floats | float) -> Window:
        """The grid window around circles about `centres` (n, 2) of radius `reach` mm."""
        spread = np.reshape(reach, (-1, 1))
        left, top = (centres - spread).min(axis=0).tolist()
        right, bottom = (centres + spread).max(axis=0).tolist()
        x, y, step = self.frame.tolist()
        rows, columns = self.container.shape
        return (
            max(0, int((top - y) / step)), min(rows, int((bottom - y) / step) + 2),
            max(0, int((left - x) / step)), min(columns, int((right - x) / step) + 2),
        )  # fmt: skip

    def window_of(self, poses: Floats, kinds: Ints) -> Window:
        """The grid window affected by some motifs."""
        return self.window(poses[:, :2], self.measure(poses, kinds)[0] + self.halo)

    def find(
        self,
        weights: Floats,
        state: NDArray[np.uint64],
        window: Window,
        *,
        least: float,
        tries: int,
        keep: int,
        overlap: float = 0.0,
        floor: float = 0.0,
        largest: float = math.inf,
    ) -> tuple[Floats, int] | None:
        """The best place found for one more motif: its pose (5,) and kind; see `best_places`."""
        if not weights.any():
            return None
        traits = self.tables.traits
        if math.isfinite(largest):
            traits = traits.copy()
            traits[:, LARGEST] = np.clip(largest, traits[:, SMALLEST], traits[:, LARGEST])
        context = SearchContext(
            self.clearance, self.facing, self.frame, traits, self.tables.probes,
            weights, CONTACT, NEARBY * self.unit, overlap,
        )  # fmt: skip
        found = best_places(
            context, window=np.array(window), least=least, tries=tries, keep=keep, rounds=ROUNDS,
            growth=GROWTH, floor=floor, state=state,
        )  # fmt: skip
        best = found[found[:, 6].argmax()]
        return (best[:5], int(best[5])) if best[6] > 0 else None

    def add(self, pose: Floats, kind: int, apart: float = 0.0) -> None:
        """Place a motif. Others keep the extra distance `apart` (mm) from it until `renew`."""
        self.poses = np.vstack([self.poses, pose])
        self.kinds = np.append(self.kinds, kind)
        self._stamp(self.poses[-1:], self.kinds[-1:], self.whole, apart)

    def renew(self, window: Window) -> None:
        """Recompute the clearance in a window."""
        rows, columns = slice(*window[:2]), slice(*window[2:])
        self.clearance[rows, columns] = self.container[rows, columns]
        self._stamp(self.poses, self.kinds, window)

    def relax(
        self,
        some: Ints,
        free: NDArray[np.bool_],
        growth: float,
        rounds: int,
        enough: float,
        *,
        needed: float,
    ) -> tuple[Floats, float]:
        """Poses of `some` motifs after the free ones grew and relaxed, and the remaining violation.

        The violation is infinite if growing did not gain the area `needed`, mm², some of which
        relaxing takes again. The packing itself is unchanged. See `relax.relax`.
        """
        poses, kinds = self.poses[some], self.kinds[some]
        scene = Scene(
            self.container, self.frame, self.tables.fields, self.tables.traits, self.tables.probes,
            poses, kinds, self.upright(poses, kinds), free, self.gap,
        )  # fmt: skip
        near, prune_area = NEAR * self.unit, PRUNE_AREA * self.unit**2
        target = self.measure(poses, kinds)[1].sum() + needed
        relax(scene, near=near, rounds=rounds, growth=growth, target=target, prune_area=prune_area)
        if self.measure(poses, kinds)[1].sum() < target:
            return poses, math.inf
        return poses, relax(scene, near=near, rounds=2 * rounds, enough=enough)

    def upright(self, poses: Floats, kinds: Ints) -> Floats:
        """The turn, radians, that counts as upright for each motif at its place."""
        traits = self.tables.traits[kinds]
        return self._facing(poses) * traits[:, FOLLOWS] + traits[:, LEAN] * poses[:, MIRROR]

    def _facing(self, poses: Floats) -> Floats:
        if self.facing.size == 1:
            return np.full(len(poses), float(self.facing[0, 0]))
        cells = ((poses[:, :2] - self.frame[:2]) / self.frame[2] + 0.5).astype(int)
        rows = np.clip(cells[:, 1], 0, self.facing.shape[0] - 1)
        columns = np.clip(cells[:, 0], 0, self.facing.shape[1] - 1)
        turns: Floats = self.facing[rows, columns].astype(np.float64)
        return turns

    def _stamp(self, poses: Floats, kinds: Ints, window: Window, apart: float = 0.0) -> None:
        stamp(
            self.clearance,
            self.frame,
            self.tables.fields,
            self.tables.traits,
            poses,
            kinds,
            self.gap + apart,
            self.halo + apart,
            np.array(window),
        )
