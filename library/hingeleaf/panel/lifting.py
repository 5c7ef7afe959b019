"""Flaps as they stand when a panel is folded: how high, over what, in which order."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import Polygon

from hingeleaf.model import XY

OPENING = 60.0
"""Degrees that flaps are folded up when nobody says otherwise."""


@dataclass(frozen=True, slots=True)
class Raised:
    """One flap of a placed motif, folded up about its hinge."""

    piece: int
    """Index of its motif among the panel's pieces."""
    flat: Polygon
    """Where it lies before it is folded."""
    hinge: tuple[XY, XY]
    opening: float
    """Degrees between the flap and the sheet."""

    @property
    def reach(self) -> float:
        """How far the flap goes from its hinge."""
        return float(self.distances(shapely.get_coordinates(self.flat.exterior)).max())

    @property
    def lift(self) -> float:
        """The height of its highest point above the sheet: reach × sin(opening), up to upright."""
        return self.reach * math.sin(math.radians(min(self.opening, 90.0)))

    def distances(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """How far points (n, 2) are from the hinge's line."""
        start, along = self._line()
        over: NDArray[np.float64] = points - start
        away: NDArray[np.float64] = np.abs(over[:, 0] * along[1] - over[:, 1] * along[0])
        return away

    def seen(self, slant: XY = (0.0, 0.0)) -> Polygon:
        """The flap as seen from above, each point moved by its height times `slant`.

        With the direction of the light as slant, this is the flap's shadow on the sheet.
        """
        turn = math.radians(self.opening)
        start, along = self._line()

        def fold(points: NDArray[np.float64]) -> NDArray[np.float64]:
            over = points - start
            on_hinge = np.outer(over @ along, along)
            across = over - on_hinge
            height = np.hypot(across[:, 0], across[:, 1]) * math.sin(turn)
            seen: NDArray[np.float64] = (
                start + on_hinge + across * math.cos(turn) + np.outer(height, slant)
            )
            return seen

        folded: Polygon = shapely.transform(self.flat, fold)
        return folded if folded.is_valid else shapely.buffer(folded, 0)

    def _line(self) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
        start, end = np.array(self.hinge)
        return start, (end - start) / np.hypot(*(end - start))
