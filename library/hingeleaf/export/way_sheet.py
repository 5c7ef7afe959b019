"""Draw several ways to cut one drawing side by side, as a PNG to choose from."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon

from hingeleaf.export.files import write_picture

if TYPE_CHECKING:
    from PIL import Image

TILE = 360
"""Pixels of each picture's side."""
_MARGIN, _TITLE = 20, 30
_PAPER, _CUT, _INK = "#e8e4da", "#3c4650", "#1a1a1a"
_FINE = 2
"""Pictures are drawn so much larger and shrunk, for smooth edges."""


def write_way_sheet(
    ways: Sequence[tuple[str, MultiPolygon, MultiLineString]], target: Path, columns: int = 4
) -> None:
    """Write a picture for each title, windows and slits: paper is light, what is cut out is dark.

    Raises ExportError when the file cannot be written.
    """
    from PIL import Image, ImageDraw, ImageFont

    columns = min(columns, len(ways))
    rows = math.ceil(len(ways) / columns)
    sheet = Image.new("RGB", (columns * TILE, rows * (TILE + _TITLE)), "white")
    pen, font = ImageDraw.Draw(sheet), ImageFont.load_default(18)
    for number, (title, windows, slits) in enumerate(ways):
        left, top = number % columns * TILE, number // columns * (TILE + _TITLE)
        tile = _tile(windows, slits).resize((TILE - 4, TILE - 4), Image.Resampling.LANCZOS)
        sheet.paste(tile, (left + 2, top + _TITLE))
        pen.text((left + 6, top + 4), title, fill=_INK, font=font)
    write_picture(sheet, target)


def _tile(windows: MultiPolygon, slits: MultiLineString) -> Image.Image:
    from PIL import Image, ImageDraw

    side = TILE * _FINE
    left, top, right, bottom = shapely.total_bounds([windows, slits])
    scale = (side - 2 * _MARGIN * _FINE) / max(right - left, bottom - top)
    shift = np.array([side, side]) / 2 - np.array([left + right, top + bottom]) / 2 * scale
    tile = Image.new("RGB", (side, side), _PAPER)
    pen = ImageDraw.Draw(tile)

    def pixels(line: shapely.Geometry) -> list[tuple[float, float]]:
        return [(x, y) for x, y in (shapely.get_coordinates(line) * scale + shift).tolist()]

    # The largest first, so that an island's own windows lie over it.
    for part in sorted(windows.geoms, key=lambda part: -shapely.Polygon(part.exterior).area):
        pen.polygon(pixels(part.exterior), fill=_CUT)
        for hole in part.interiors:
            pen.polygon(pixels(hole), fill=_PAPER)
    for line in slits.geoms:
        pen.line(pixels(line), fill=_CUT, width=2 * _FINE)
    return tile
