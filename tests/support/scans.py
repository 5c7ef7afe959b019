"""Synthetic scans and photographs of drawings, with ground truth.

A starter pattern is printed on a page; the page may be gridded, folded, punched, skewed, laid on a
scanner's bed, half in shadow, grainy or badly lit. What should be traced is known exactly.
"""

from __future__ import annotations

import io
from dataclasses import dataclass

import numpy as np
import resvg_py
from numpy.typing import NDArray
from PIL import Image, ImageDraw
from scipy.ndimage import gaussian_filter

from hingeleaf.starter import folder

INK = 0.12
DPI = 150
Grey = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Scan:
    """Effects applied to a page of `size` mm; brightness from 0 to 1."""

    drawing: str
    size: tuple[float, float] = (148.0, 210.0)
    bed: float | None = None
    """The brightness of the background around the page, if any."""
    room: float = 12.0
    """mm of bed around it."""
    skew: float = 0.0
    grid: bool = False
    fold: bool = False
    punched: int = 0
    shadow: float = 1.0
    """The share of light in a shadow."""
    dimming: float = 0.0
    """How much darker the far corner is."""
    noise: float = 0.01
    dpi: int | None = DPI


SCANS = {
    "plain": Scan("moth"),
    "dark bed": Scan("acorn", bed=0.08),
    "dark bed, skewed": Scan("puffin", bed=0.1, skew=4),
    "dark bed, skewed the other way": Scan("ivy", bed=0.05, skew=-7, noise=0.03),
    "grey bed": Scan("hazel-leaf", bed=0.45, skew=2),
    "light bed": Scan("anchor", bed=0.74, skew=-3),
    "hard shadow": Scan("ladybird", shadow=0.55),
    "deep shadow": Scan("sailing-boat", shadow=0.42),
    "shadow on a bed": Scan("scallop", bed=0.1, shadow=0.6, skew=3),
    "punched": Scan("toadstool", punched=2),
    "punched, on a bed": Scan("oak-leaf", bed=0.08, punched=2, skew=2),
    "four holes": Scan("feather", bed=0.07, punched=4),
    "squared paper": Scan("primrose", grid=True),
    "squared paper, dim": Scan("crab", grid=True, dimming=0.4, noise=0.03),
    "folded": Scan("fish", fold=True),
    "folded, on a bed": Scan("snail", fold=True, bed=0.1, skew=-5),
    "grainy": Scan("wren", noise=0.08),
    "dim corner": Scan("starfish", dimming=0.5),
    "all at once": Scan("dog-rose", bed=0.1, skew=4, grid=True, fold=True, punched=2, shadow=0.65),
    "photograph": Scan("seahorse", bed=0.3, skew=-8, dimming=0.35, noise=0.04, shadow=0.7, dpi=72),
}


def make(scan: Scan, seed: int = 1) -> tuple[bytes, NDArray[np.bool_]]:
    """The scan as PNG, and a mask of its drawing."""
    chance = np.random.default_rng(seed)
    width, height = (round(side / 25.4 * DPI) for side in scan.size)
    ink = _print(scan.drawing, width, height)
    page = 0.96 - (0.96 - INK) * ink
    if scan.grid:
        page = np.minimum(page, np.where(ink > 0, page, _grid(width, height)))
    if scan.fold:
        across = np.abs(np.arange(height) - height * 0.52)
        page = page * (1 - 0.22 * np.exp(-((across / 2.5) ** 2)))[:, None]
    bed = scan.bed if scan.bed is not None else 0.96
    for number in range(scan.punched):
        apart = 80 if scan.punched == 2 else 40  # 80 mm is that of ISO 838
        middle = height / 2 + (number - (scan.punched - 1) / 2) * apart / 25.4 * DPI
        _punch(page, 12 / 25.4 * DPI, middle, 3 / 25.4 * DPI, bed if scan.bed is not None else 0.2)
    room = round(scan.room / 25.4 * DPI) if scan.bed is not None else 0
    whole = np.pad(page, room, constant_values=bed)
    truth = np.pad(ink, room)
    if scan.bed is not None:
        whole = _skewed(whole, scan.skew, bed)
        truth = _skewed(truth, scan.skew, 0.0)
    high, wide = whole.shape
    x, y = np.arange(wide) / wide, np.arange(high)[:, None] / high
    shaded = np.where(0.75 * x + y > 1.25, scan.shadow, 1.0)
    whole = whole * gaussian_filter(shaded, 2) * (1 - scan.dimming * (x * y))
    whole = np.clip(whole + chance.normal(0, scan.noise, whole.shape), 0, 1)
    picture = Image.fromarray((whole * 255).astype(np.uint8))
    file = io.BytesIO()
    dpi = {} if scan.dpi is None else {"dpi": (scan.dpi, scan.dpi)}
    picture.save(file, "PNG", **dpi)
    return file.getvalue(), truth > 0.5


def _print(name: str, width: int, height: int) -> Grey:
    """A starter pattern in the centre of a page: the ink on each pixel."""
    side = round(0.62 * min(width, height))
    svg = (folder() / f"{name}.svg").read_text(encoding="utf-8")
    drawn = resvg_py.svg_to_bytes(svg_string=svg, width=side, background="white", dpi=96)
    ink = 1 - np.asarray(Image.open(io.BytesIO(bytes(drawn))).convert("L")) / 255
    page = np.zeros((height, width))
    top, left = (height - ink.shape[0]) // 2, (width - ink.shape[1]) // 2
    page[top : top + ink.shape[0], left : left + ink.shape[1]] = ink
    return page


def _grid(width: int, height: int) -> Grey:
    step = 5 / 25.4 * DPI
    lines = (np.arange(width) % step < 1.5) | (np.arange(height) % step < 1.5)[:, None]
    return np.where(lines, 0.78, 0.96)


def _punch(page: Grey, x: float, y: float, radius: float, shade: float) -> None:
    rows, columns = np.ogrid[: page.shape[0], : page.shape[1]]
    page[(columns - x) ** 2 + (rows - y) ** 2 < radius**2] = shade


def _skewed(values: Grey, degrees: float, outside: float) -> Grey:
    picture = Image.fromarray(values.astype(np.float32))
    turned = picture.rotate(degrees, Image.Resampling.BICUBIC, fillcolor=outside)
    return np.asarray(turned, dtype=np.float64)


def filled(rings: list[list[tuple[float, float]]], size: tuple[int, int]) -> NDArray[np.bool_]:
    """Rings in pixels, filled by the even-odd rule."""
    total = np.zeros((size[1], size[0]), dtype=bool)
    for ring in rings:
        one = Image.new("1", size)
        ImageDraw.Draw(one).polygon([(x - 0.5, y - 0.5) for x, y in ring], fill=1)
        total ^= np.asarray(one)
    return total
