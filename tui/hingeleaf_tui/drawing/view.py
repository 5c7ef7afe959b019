"""Map millimetres to dots."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hingeleaf.geometry.silhouette import Shape

XY = tuple[float, float]
Bounds = tuple[float, float, float, float]


@dataclass(frozen=True, slots=True)
class View:
    """A viewport of `width` × `height` square dots, each `dot` mm wide, centred on `centre`
    (mm)."""

    centre: XY
    dot: float
    width: int
    height: int

    @classmethod
    def fit(cls, bounds: Bounds, width: int, height: int, margin: int = 1) -> View:
        """The largest view that shows all of `bounds` (left, top, right, bottom in mm).

        `margin` dots stay free on every side.
        """
        left, top, right, bottom = bounds
        across = max(right - left, 1e-9) / max(width - 2 * margin, 1)
        down = max(bottom - top, 1e-9) / max(height - 2 * margin, 1)
        return cls(((left + right) / 2, (top + bottom) / 2), max(across, down), width, height)

    def with_room_below(self, bounds: Bounds) -> View:
        """The largest view of the same size that shows `bounds` and leaves its last row free."""
        whole = View.fit(bounds, self.width, self.height - 1, margin=0)
        x, y = whole.centre
        return replace(whole, centre=(x, y + whole.dot / 2), height=self.height)

    def dots(self, points: NDArray[np.float64]) -> NDArray[np.float64]:
        """Points (n, 2) in mm as fractional (column, row) of dots, the corner of dot 0 at 0."""
        corner = np.array([self.width / 2, self.height / 2])
        placed: NDArray[np.float64] = (points - np.asarray(self.centre)) / self.dot + corner
        return placed

    @property
    def bounds(self) -> Bounds:
        """The visible area in mm."""
        across, down = self.width * self.dot / 2, self.height * self.dot / 2
        x, y = self.centre
        return (x - across, y - down, x + across, y + down)

    def zoomed(self, factor: float) -> View:
        """The same centre, `factor` times closer."""
        return replace(self, dot=self.dot / factor)

    def shifted(self, across: float, down: float) -> View:
        """The view moved by shares of its width and height."""
        x, y = self.centre
        return replace(
            self,
            centre=(x + across * self.width * self.dot, y + down * self.height * self.dot),
        )


def bounds_of(shapes: Iterable[Shape]) -> Bounds:
    """The common bounds of all shapes that are not empty; a unit square if all are."""
    boxes: list[Bounds] = [shape.bounds for shape in shapes if not shape.is_empty]
    if not boxes:
        return (-0.5, -0.5, 0.5, 0.5)
    left, top, right, bottom = zip(*boxes, strict=True)
    return min(left), min(top), max(right), max(bottom)
