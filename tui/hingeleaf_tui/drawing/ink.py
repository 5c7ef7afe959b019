"""Convert dots to characters: braille, quadrants, half blocks, ASCII or pixels."""

from enum import StrEnum

import numpy as np
from numpy.typing import NDArray


class Ink(StrEnum):
    """The characters used to draw pictures."""

    BRAILLE = "braille"
    """Eight dots and one colour per character: the finest lines."""
    QUADRANTS = "quadrants"
    """Four quarters per character, in the two best colours: areas without gaps."""
    BLOCKS = "blocks"
    """Two dots per character, each with its own colour."""
    ASCII = "ascii"
    """Eight dots per character, shown by the ASCII character of the most similar form."""

    PIXELS = "pixels"
    """Real pixels, drawn by terminals with graphics support."""

    @property
    def dots(self) -> tuple[int, int]:
        """Dots (across, down) per character; a character is about twice as high as wide."""
        return _DOTS.get(self, (2, 4))

    @property
    def is_solid(self) -> bool:
        """Whether areas have no gaps, so that a sheet can be drawn as a surface."""
        return self in (Ink.QUADRANTS, Ink.PIXELS)

    @property
    def fine(self) -> int:
        """Sample points per dot in each direction; a pixel needs only one."""
        return 1 if self is Ink.PIXELS else 3


_DOTS = {Ink.BLOCKS: (1, 2), Ink.PIXELS: (8, 16)}


def use_pixels(across: int, down: int) -> None:
    """Set the number of pixels per character of the terminal."""
    _DOTS[Ink.PIXELS] = across, down


Cells = NDArray[np.uint8]
Signs = NDArray[np.str_]
Weights = NDArray[np.float64]

_BRAILLE = np.array([chr(0x2800 + code) for code in range(256)])
_BRAILLE_BITS = np.array([[1, 8], [2, 16], [4, 32], [64, 128]])  # Unicode's dot numbering
_ASCII = np.array([" ", "`", "'", '"', ",", "[", "/", "F", ".", "\\", "]", "7", "_", "L", "J", "#"])
_QUADRANTS = np.array(list(" ▘▝▀▖▌▞▛▗▚▐▜▄▙▟█"))
"""Indexed by bits: 1 upper left, 2 upper right, 4 lower left, 8 lower right."""


def signs(dots: Cells, ink: Ink, weights: Weights) -> tuple[Signs, Cells, Cells]:
    """Characters with their foreground and background styles, each (rows, columns).

    `dots` (rows × down, columns × across) has a style index per dot, 0 for none. A character with
    one style takes the highest index among its dots; one with two styles takes those of greatest
    total weight, where `weights` are per dot by style index.
    """
    across, down = ink.dots
    rows, columns = dots.shape[0] // down, dots.shape[1] // across
    cells = dots.reshape(rows, down, columns, across).transpose(0, 2, 1, 3)
    if ink is Ink.PIXELS:
        nothing = np.zeros((rows, columns), dtype=np.uint8)
        return np.full((rows, columns), " "), nothing, nothing
    if ink is Ink.BLOCKS:
        return _blocks(cells[..., 0, 0], cells[..., 1, 0])
    if ink is Ink.QUADRANTS:
        return _fitted_quadrants(cells, weights)
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


def _fitted_quadrants(cells: Cells, weights: Weights) -> tuple[Signs, Cells, Cells]:
    """Each character in its two styles of greatest weight; every quarter takes the heavier of
    them."""
    rows, columns = cells.shape[:2]
    dots = cells.reshape(rows * columns, 8)
    back, front = dots[:, 0].copy(), np.zeros(len(dots), dtype=np.uint8)
    code = np.zeros(len(dots), dtype=np.int64)
    mixed = np.flatnonzero((dots != dots[:, :1]).any(axis=1))
    if len(mixed):
        some = dots[mixed]
        weight = weights[some]
        number, styles = np.arange(len(mixed)), len(weights)
        place = (number[:, None] * styles + some).ravel()
        totals = np.bincount(place, weight.ravel(), len(mixed) * styles).reshape(-1, styles)
        first = totals.argmax(axis=1)
        totals[number, first] = -1
        second = totals.argmax(axis=1)
        low, high = np.minimum(first, second), np.maximum(first, second)  # blank stays the back
        more = weight * ((some == high[:, None]).astype(float) - (some == low[:, None]))
        quarters = more.reshape(-1, 2, 2, 2).sum(axis=2)
        code[mixed] = (quarters.reshape(-1, 4) > 0) @ np.array([1, 2, 4, 8])
        back[mixed], front[mixed] = low, high
    front[code == 0] = 0
    full = code == 15
    back[full], front[full], code[full] = front[full], 0, 0
    shape = (rows, columns)
    return _QUADRANTS[code].reshape(shape), front.reshape(shape), back.reshape(shape)
