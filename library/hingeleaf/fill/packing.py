"""The packing in progress: poses as arrays, with the clearance grid they leave."""

from __future__ import annotations

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

# Values found by trial: tests/benchmarks/fit_filler.py shows what others do.
HALO = 7.0
"""How far beyond the gap the clearance grid knows about a motif, in units (see Packing)."""
NEARBY = 6.0
"""From what clearance on an outline lies open, in units."""
NEAR = 3.0
"""From what distance on contacts are watched, in units."""
GRID_RESERVE = 0.03
"""What is kept in excess of the gap, in units, so that the exact finish has little to repair."""
LEAST_GRID_GAP, THIN = 1.2, 1.0
"""The gap that shapes crossing each other cannot slip through, in units, and below what mean half
width a kind needs it: the grid and the probes are too coarse for the shape alone."""
PRUNE_AREA = 75.0
"""By how much growing may be short of what it needs at first, in square units."""
CONTACT = 0.35
"""How much lying close to the surroundings counts, as a share of the area."""
ROUNDS, GROWTH = 10, 0.08
"""How a motif is fitted to its place: rounds of growing, and the first one's growth."""


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
        self.gap = max(
            gap + GRID_RESERVE * unit, LEAST_GRID_GAP * unit if self._has_thin() else 0.0
        )
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

    @property
    def sizes(self) -> Floats:
        """Size of every motif, mm."""
        sizes: Floats = np.hypot(self.poses[:, 2], self.poses[:, 3])
        return sizes

    @property
    def reaches(self) -> Floats:
        """How far each motif's outline gets from its origin, mm."""
        return self.measure(self.poses, self.kinds)[0]

    @property
    def farthest(self) -> float:
        """How far from its origin any motif of the pool is felt, mm."""
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
        """The grid window around circles about `centres` (n, 2), `reach` mm in radius."""
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
        """The grid window that some motifs have a say in."""
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
        """Place one more motif. Others keep an extra distance (mm) from it until a renewal."""
        self.poses = np.vstack([self.poses, pose])
        self.kinds = np.append(self.kinds, kind)
        self._stamp(self.poses[-1:], self.kinds[-1:], self.whole, apart)

    def renew(self, window: Window) -> None:
        """Compute the clearance in a window anew."""
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
        """Poses of `some` motifs after the free ones grew and relaxed, and the violation left.

        The violation is infinite where growing has not gained the area `needed`, mm²: relaxing
        takes some of it again. The packing itself stays as it is. See `relax.relax`.
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
        """The turn, radians, that counts as upright for each motif where it stands."""
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
