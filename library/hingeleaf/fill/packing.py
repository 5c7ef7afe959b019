"""The filling while it is worked on: poses in numbers, and the clearance that they leave."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.room import Grids
from hingeleaf.fill.samples import AREA, REACH, Samples

HALO = 7.0
"""How far from a motif the clearance grid knows about it, mm."""
Window = tuple[int, int, int, int]
"""First row, end row, first column, end column."""


class Packing:
    """Poses (n, 5) as (x, y, ax, ay, mirror), their kinds (n,), and the clearance grid.

    `touch` mm are kept in excess of the gap, so that the exact check finds little to mend.
    """

    def __init__(self, samples: Samples, grids: Grids, gap: float, touch: float = 0.03) -> None:
        self.samples = samples
        self.frame = grids.frame
        self.facing = grids.facing
        self.room = grids.clearance - np.float32(touch)
        self.gap = gap + touch
        self.clearance = self.room.copy()
        self.poses = np.empty((0, 5))
        self.kinds = np.empty(0, np.int64)

    @property
    def sizes(self) -> NDArray[np.float64]:
        """Size of every motif, mm."""
        return np.hypot(self.poses[:, 2], self.poses[:, 3])

    @property
    def areas(self) -> NDArray[np.float64]:
        """Footprint area of every motif, mm²."""
        areas: NDArray[np.float64] = self.samples.traits[self.kinds, AREA] * self.sizes**2
        return areas

    @property
    def whole(self) -> Window:
        """The window of the whole grid."""
        return 0, self.room.shape[0], 0, self.room.shape[1]

    def add(self, pose: NDArray[np.float64], kind: int) -> None:
        """Place one more motif."""
        self.poses = np.vstack([self.poses, pose[None, :5]])
        self.kinds = np.append(self.kinds, kind)
        self._stamp(np.array([len(self.kinds) - 1]), self.whole)

    def window(self, poses: NDArray[np.float64], kinds: NDArray[np.int64], halo: float) -> Window:
        """The grid window around some motifs and `halo` mm more."""
        reach = np.hypot(poses[:, 2], poses[:, 3]) * self.samples.traits[kinds, REACH] + halo
        x, y, step = self.frame
        return (
            max(0, int((np.min(poses[:, 1] - reach) - y) / step)),
            min(self.room.shape[0], int((np.max(poses[:, 1] + reach) - y) / step) + 2),
            max(0, int((np.min(poses[:, 0] - reach) - x) / step)),
            min(self.room.shape[1], int((np.max(poses[:, 0] + reach) - x) / step) + 2),
        )

    def renew(self, window: Window | None = None) -> None:
        """Reckon the clearance anew, in a window or all over."""
        window = window or self.whole
        rows, columns = slice(*window[:2]), slice(*window[2:])
        self.clearance[rows, columns] = self.room[rows, columns]
        self._stamp(np.arange(len(self.kinds)), window)

    def _stamp(self, indices: NDArray[np.int64], window: Window) -> None:
        from hingeleaf.fill.search import stamp

        stamp(
            self.clearance,
            self.frame,
            self.samples.fields,
            self.samples.traits,
            np.ascontiguousarray(self.poses[indices]),
            np.ascontiguousarray(self.kinds[indices]),
            self.gap,
            HALO,
            np.array(window),
        )
