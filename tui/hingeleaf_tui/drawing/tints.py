"""Overlays on a drawn panel: flaps folded up, tear strength, distance of free paper from motifs."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.evenness import DistanceMap
from hingeleaf.panel.lifting import Raised
from hingeleaf.paper.mechanics.formulas import PULL_LIMITS
from hingeleaf.paper.mechanics.strength import WeakPlace
from hingeleaf_tui.drawing.canvas import SCALE, Canvas
from hingeleaf_tui.drawing.motif import fold_up
from hingeleaf_tui.drawing.raster import Dots

HATCH_SPACINGS = (0, 2, 3, 4, 6)
"""Hatch spacing of each step of the scale without colours, from weak to strong."""
GAP_LIMITS = (2.0, 1.5, 1.0, 0.5)
"""Limits of the steps as multiples of the gap, from wide to narrow."""
TINT_RADIUS = 4.0
"""Radius in mm of the tinted paper around a place."""
PAPER = ("sheet", "paper", "flap-face", "field", "window", "pinned", *SCALE)
MOTIF_STYLES = ("window", "pinned")
FREE_STYLES = ("", "sheet", "paper", "field")
"""Styles that each tint is laid over."""
SWATCH = 2
"""Columns of a sample in the legend."""


@dataclass(frozen=True)
class FoldedTint:
    """A panel with its flaps folded up, as an overlay."""

    flaps: Sequence[Raised]

    def paint(self, canvas: Canvas) -> None:
        """Draw the raised flaps on top."""
        fold_up(canvas, self.flaps)


@dataclass(frozen=True)
class PullTint:
    """Tints the paper around each weak place by its tear strength; the three weakest are
    numbered."""

    places: Sequence[WeakPlace]
    """Weakest first."""
    hatched: bool = False

    def paint(self, canvas: Canvas) -> None:
        """Paint the overlay, the weakest last, with a legend below."""
        pulls = np.array([place.newtons for place in self.places])
        points = canvas.view.dots(np.array([place.at for place in self.places]).reshape(-1, 2))
        steps = np.searchsorted(PULL_LIMITS, pulls, side="right")
        over = _over(canvas, PAPER, self.hatched)
        for step in reversed(range(len(SCALE))):
            dots = _discs(points[steps == step], TINT_RADIUS / canvas.view.dot, canvas)
            canvas.tint(dots, SCALE[step], over, HATCH_SPACINGS[step] if self.hatched else 0)
        for number, place in reversed(list(enumerate(self.places[:3], 1))):
            canvas.label(place.at, f" {number} ", "finding" if number == 1 else "label")
        _legend(canvas, [f"{pull:g}" for pull in PULL_LIMITS], "N", self.hatched)


@dataclass(frozen=True)
class GapTint:
    """Tints free paper by its distance to the nearest motif or edge, in steps of half a gap."""

    map: DistanceMap
    gap: float
    hatched: bool = False

    def paint(self, canvas: Canvas) -> None:
        """Paint the overlay with a legend below."""
        distances = self._on(canvas)
        bounds = [share * self.gap for share in GAP_LIMITS]
        over = _over(canvas, FREE_STYLES, self.hatched)
        steps = np.searchsorted(-np.array(bounds), -distances, side="right")
        for step, style in enumerate(SCALE):
            dots = (steps == step) & np.isfinite(distances)
            canvas.tint(dots, style, over, HATCH_SPACINGS[step] if self.hatched else 0)
        _legend(canvas, [f"{bound:g}" for bound in bounds], "mm", self.hatched)

    def _on(self, canvas: Canvas) -> NDArray[np.float64]:
        """The distance at the centre of every dot, NaN outside free paper."""
        left, top, right, bottom = canvas.view.bounds
        height, width = canvas.view.height, canvas.view.width
        x = left + (np.arange(width) + 0.5) * (right - left) / width
        y = top + (np.arange(height) + 0.5) * (bottom - top) / height
        known = self.map.distances
        column = np.floor((x - self.map.left) / self.map.step).astype(np.int64)
        row = np.floor((y - self.map.top) / self.map.step).astype(np.int64)
        inside = ((row >= 0) & (row < known.shape[0]))[:, None] & (
            (column >= 0) & (column < known.shape[1])
        )
        rows, columns = np.clip(row, 0, known.shape[0] - 1), np.clip(column, 0, known.shape[1] - 1)
        return np.where(inside, known[np.ix_(rows, columns)], np.nan)


def _over(canvas: Canvas, styles: Sequence[str], hatched: bool) -> Sequence[str]:
    """Styles to paint over; for a hatched tint, figures are cleared first, since they would hide
    it."""
    if not hatched:
        return styles
    canvas.tint(np.ones((canvas.view.height, canvas.view.width), dtype=np.bool_), "", MOTIF_STYLES)
    return ("", *styles)


def _discs(points: NDArray[np.float64], radius: float, canvas: Canvas) -> Dots:
    """The dots within `radius` dots of a point, at least the one that contains it."""
    height, width = canvas.view.height, canvas.view.width
    dots = np.zeros((height, width), dtype=np.bool_)
    reach = int(np.ceil(radius))
    across, down = np.meshgrid(np.arange(-reach, reach + 1), np.arange(-reach, reach + 1))
    near = across**2 + down**2 <= max(radius, 0.5) ** 2
    column = (np.floor(points[:, :1]).astype(np.int64) + across[near]).ravel()
    row = (np.floor(points[:, 1:]).astype(np.int64) + down[near]).ravel()
    inside = (column >= 0) & (column < width) & (row >= 0) & (row < height)
    dots[row[inside], column[inside]] = True
    return dots


def _legend(canvas: Canvas, bounds: Sequence[str], unit: str, hatched: bool) -> None:
    """Samples of the scale in the last row, with the values between them."""
    column, row = 0, canvas.rows - 1
    for step, style in enumerate(SCALE):
        canvas.swatch(column, row, SWATCH, style, HATCH_SPACINGS[step] if hatched else 0)
        column += SWATCH
        if step < len(bounds):
            words = f" {bounds[step]} "
            canvas.write(column, row, words, "label")
            column += len(words)
    canvas.write(column, row, f" {unit} ", "label")
