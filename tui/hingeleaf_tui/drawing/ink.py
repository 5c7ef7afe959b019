"""Dots to characters: braille, half blocks, ASCII or pixels."""

from __future__ import annotations

from enum import StrEnum

import numpy as np
from numpy.typing import NDArray


class Ink(StrEnum):
    """What pictures are made of."""

    BRAILLE = "braille"
    """Eight dots to a character, one colour each: the finest lines."""
    BLOCKS = "blocks"
    """Two dots to a character, each with its own colour."""
    ASCII = "ascii"
    """Eight dots to a character, shown by the ASCII sign of the nearest form."""

    PIXELS = "pixels"
    """Real pixels, shown by the terminal itself; no characters."""

    @property
    def dots(self) -> tuple[int, int]:
        """Dots (across, down) in one character; a character is about twice as high as wide."""
        return _DOTS.get(self, (2, 4))

    @property
    def fine(self) -> int:
        """In how many points a dot is measured, each way: one pixel is small enough as it is."""
        return 1 if self is Ink.PIXELS else 3


_DOTS = {Ink.BLOCKS: (1, 2), Ink.PIXELS: (8, 16)}


def use_pixels(across: int, down: int) -> None:
    """Draw with so many real pixels to a character from now on: as many as the terminal has."""
    _DOTS[Ink.PIXELS] = across, down


Cells = NDArray[np.uint8]
Signs = NDArray[np.str_]

_BRAILLE = np.array([chr(0x2800 + code) for code in range(256)])
_BRAILLE_BITS = np.array([[1, 8], [2, 16], [4, 32], [64, 128]])  # Unicode's own dot numbers
_ASCII = np.array([" ", "`", "'", '"', ",", "[", "/", "F", ".", "\\", "]", "7", "_", "L", "J", "#"])
"""By quarter: 1 upper left, 2 upper right, 4 lower left, 8 lower right."""


def signs(dots: Cells, ink: Ink) -> tuple[Signs, Cells, Cells]:
    """Characters, and the styles of their front and back, each (rows, columns).

    `dots` (rows × down, columns × across) holds a style number per dot, 0 where there is none.
    A character that can have only one style takes the highest number among its dots.
    """
    across, down = ink.dots
    rows, columns = dots.shape[0] // down, dots.shape[1] // across
    cells = dots.reshape(rows, down, columns, across).transpose(0, 2, 1, 3)
    if ink is Ink.PIXELS:
        nothing = np.zeros((rows, columns), dtype=np.uint8)
        return np.full((rows, columns), " "), nothing, nothing
    if ink is Ink.BLOCKS:
        return _blocks(cells[..., 0, 0], cells[..., 1, 0])
    front = cells.max(axis=(2, 3))
    if ink is Ink.BRAILLE:
        codes = ((cells > 0) * _BRAILLE_BITS).sum(axis=(2, 3))
        shown = _BRAILLE[codes]
        shown[codes == 0] = " "
    else:
        shown = _ASCII[_quarters(cells > 0)]
    return shown, front, np.zeros_like(front)


def _quarters(cells: NDArray[np.bool_]) -> NDArray[np.int64]:
    upper, lower = np.any(cells[:, :, :2], axis=2), np.any(cells[:, :, 2:], axis=2)
    code: NDArray[np.int64] = upper @ np.array([1, 2]) + lower @ np.array([4, 8])
    return code


def _blocks(upper: Cells, lower: Cells) -> tuple[Signs, Cells, Cells]:
    shown = np.full(upper.shape, " ")
    shown[(upper > 0) | (lower > 0)] = "▀"
    shown[(upper == 0) & (lower > 0)] = "▄"
    shown[(upper > 0) & (upper == lower)] = "█"
    both = (upper > 0) & (lower > 0) & (upper != lower)
    front = np.where(upper > 0, upper, lower)
    return shown, front, np.where(both, lower, 0).astype(np.uint8)
