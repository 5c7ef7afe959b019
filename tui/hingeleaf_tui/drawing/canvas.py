"""Canvas of styled dots, and the character picture rendered from it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from hingeleaf.geometry.silhouette import Shape
from hingeleaf_tui.drawing import raster
from hingeleaf_tui.drawing.ink import Cells, Ink, Signs, signs
from hingeleaf_tui.drawing.view import XY, Bounds, View

SCALE = tuple(f"scale-{step}" for step in range(1, 6))
"""Styles of a colour scale, from weak or wide to strong or narrow."""
STYLES = (
    "",
    "sheet",
    "paper",
    "paper-shade",
    "behind",
    "behind-shade",
    "flap-face",
    "field",
    "flap",
    "window",
    "pinned",
    "picked",
    *SCALE[::-1],
    "cut-line",
    "crease",
    "tie",
    "slit",
    "fold",
    "bridge",
    "hinge",
    "loose",
    "chosen",
    "finding",
    "label",
)
"""Style names by increasing priority: a character with several styles shows the last."""

_AREAS = STYLES[: STYLES.index("picked")] + SCALE
BLOCK = "█"
LINE_WEIGHT = 3.0
"""Weight of a line's dot, relative to an area's, where a character can have only two styles."""
_WEIGHTS = np.array([1.0 if name in _AREAS else LINE_WEIGHT for name in STYLES])
_NUMBER = {name: number for number, name in enumerate(STYLES)}

Row = NDArray[np.uint8]
Run = tuple[str, str, str]
"""Consecutive characters with the same foreground and background style: (text, front, back)."""


Label = tuple[int, int, str, str]
"""Column, row, text, style."""


@dataclass(frozen=True, slots=True)
class Picture:
    """Characters with the indices of their foreground and background styles, each (rows,
    columns)."""

    signs: Signs
    front: Cells
    back: Cells
    dots: Cells | None = None
    """For pixel pictures: the style index of every pixel, (rows, columns)."""
    labels: tuple[Label, ...] = ()
    """For pixel pictures: the labels."""

    @property
    def size(self) -> tuple[int, int]:
        """Columns and rows."""
        rows, columns = self.signs.shape
        return columns, rows

    def runs(self, row: int) -> list[Run]:
        """One row as the fewest runs of equal style; blanks take the style beside them."""
        shown, back = self.signs[row], self.back[row]
        front = _spread_over_blanks(self.front[row], (shown == " ") & (self.front[row] == 0))
        if back.any():
            shown, front, back = _merged(shown, front, back)
        edges = np.flatnonzero((np.diff(front) != 0) | (np.diff(back) != 0)) + 1
        bounds = [0, *edges.tolist(), len(shown)]
        return [
            ("".join(shown[start:end]), STYLES[front[start]], STYLES[back[start]])
            for start, end in pairwise(bounds)
        ]

    def text(self) -> str:
        """The characters only, without trailing blanks."""
        return "\n".join("".join(row).rstrip() for row in self.signs)


class Canvas:
    """Draws shapes in mm into `columns` × `rows` characters. Later shapes are drawn on top."""

    def __init__(self, columns: int, rows: int, view: View, ink: Ink = Ink.BRAILLE) -> None:
        self.columns, self.rows, self.ink, self.view = columns, rows, ink, view
        self._dots = np.zeros((view.height, view.width), dtype=np.uint8)
        self._labels: list[Label] = []

    @classmethod
    def fit(
        cls, bounds: Bounds, columns: int, rows: int, ink: Ink = Ink.BRAILLE, margin: int = 1
    ) -> "Canvas":
        """A canvas that shows `bounds` as large as possible."""
        across, down = ink.dots
        view = View.fit(bounds, columns * across, rows * down, margin)
        return cls(columns, rows, view, ink)

    def everywhere(self, style: str) -> None:
        """Fill the whole canvas."""
        self._dots[:] = _NUMBER[style]

    def area(self, shape: Shape, style: str, hatch: int = 0) -> None:
        """Fill an area; with `hatch` n, only every n-th diagonal line of dots."""
        dots = raster.cover(shape, self.view, fine=self.ink.fine)
        self._paint(raster.hatch(dots, hatch) if hatch else dots, style)

    def tint(self, dots: raster.Dots, style: str, over: Sequence[str], hatch: int = 0) -> None:
        """Change the style of dots that have one of the styles `over`."""
        covered = dots & np.isin(self._dots, [_NUMBER[name] for name in over])
        self._paint(raster.hatch(covered, hatch) if hatch else covered, style)

    def swatch(self, column: int, row: int, columns: int, style: str, hatch: int = 0) -> None:
        """Fill a number of characters in a row, as a sample in a legend."""
        across, down = self.ink.dots
        dots = np.zeros_like(self._dots, dtype=np.bool_)
        dots[row * down : (row + 1) * down, column * across : (column + columns) * across] = True
        self._paint(dots, "")
        self._paint(raster.hatch(dots, hatch) if hatch else dots, style)

    def clear(self, shape: Shape) -> None:
        """Make an area blank again."""
        self._paint(raster.cover(shape, self.view, fine=self.ink.fine), "")

    def shade(self, shape: Shape, shades: Mapping[str, str]) -> None:
        """Give the dots of an area the darker style of each; those without one stay."""
        dots = raster.cover(shape, self.view, fine=self.ink.fine)
        for style, darker in shades.items():
            self.tint(dots, darker, (style,))

    def line(self, shape: Shape, style: str, dash: int = 0) -> None:
        """Draw lines, or the outlines of areas; `dash` as in `raster.trace`."""
        self._paint(raster.trace(shape, self.view, dash), style)

    def label(self, at: XY, text: str, style: str = "label") -> None:
        """Write text centred on a point in mm, on top of all shapes."""
        across, down = self.ink.dots
        x, y = self.view.dots(np.array([at], dtype=float))[0]
        self.write(round(x / across - len(text) / 2), int(y // down), text, style)

    def write(self, column: int, row: int, text: str, style: str = "label") -> None:
        """Write text from a character cell on, clipped to the canvas."""
        self._labels.append((column, row, text, style))

    def picture(self) -> Picture:
        """Render the picture."""
        shown, front, back = signs(self._dots, self.ink, _WEIGHTS)
        if self.ink is Ink.PIXELS:
            return Picture(shown, front, back, self._dots, tuple(self._labels))
        front, back = front.copy(), back.copy()
        for column, row, text, style in self._labels:
            for place, letter in enumerate(text, column):
                if 0 <= row < self.rows and 0 <= place < self.columns:
                    shown[row, place] = letter
                    front[row, place], back[row, place] = _NUMBER[style], 0
        return Picture(shown, front, back)

    def _paint(self, dots: raster.Dots, style: str) -> None:
        self._dots[dots] = _NUMBER[style]


def _merged(shown: Signs, front: Row, back: Row) -> tuple[Signs, Row, Row]:
    """A row with blanks replaced by full blocks where that saves changes of style in the output."""
    shown, front, back = shown.copy(), front.copy(), back.copy()
    cells = range(len(shown))
    for places, step in ((reversed(cells[:-1]), 1), (cells[1:], -1)):
        for place in places:
            beside, ground = place + step, back[place]
            if shown[place] == BLOCK or (shown[place] == " " and front[place] < _NUMBER["chosen"]):
                colour = front[place] if shown[place] == BLOCK else ground
                if back[beside] == colour:
                    shown[place] = " "
                elif front[beside] == colour != 0:
                    shown[place] = BLOCK
                else:
                    continue
                front[place], back[place] = front[beside], back[beside]
    return shown, front, back


def _spread_over_blanks(front: Row, blank: NDArray[np.bool_]) -> Row:
    """The styles of a row, with every blank taking that of the last character before it.

    Label styles are not spread, since they are visible on blanks too.
    """
    last = np.maximum.accumulate(np.where(blank, -1, np.arange(len(front))))
    before = np.where(last >= 0, front[np.maximum(last, 0)], 0)
    spread: Row = np.where(before < _NUMBER["chosen"], before, 0).astype(front.dtype)
    return np.where(blank, spread, front).astype(front.dtype)
