"""Icons as windows of a known size, and the same icons as an independent renderer fills them."""

from __future__ import annotations

import io
import re

import material_design_icons_pack as pack
import numpy as np
import resvg_py
import shapely
from numpy.typing import NDArray
from PIL import Image
from shapely import MultiPolygon

from hingeleaf.artwork.reading import read

SIZE = 80.0
MARGIN = 2.0


def icon_windows(icon: pack.Icon, size: float = SIZE) -> MultiPolygon:
    """The icon as windows, `size` mm long, about the origin."""
    windows, middle, scale = _measured(icon, size)
    return shapely.transform(windows, lambda points: (points - middle) * scale)


def rendered(
    icon: pack.Icon, pixel: float, kerf: float = 0.0, size: float = SIZE
) -> NDArray[np.bool_]:
    """Which pixels resvg fills when the icon is `size` mm long and a pixel `pixel` mm wide.

    With a kerf it also draws the outlines, as wide as a blade cuts.
    """
    _, middle, scale = _measured(icon, size)
    units = 24.0 / read(icon.svg.encode(), name=icon.slug).width
    half = (size / 2 + MARGIN) / scale
    x, y, side = (middle[0] - half) * units, (middle[1] - half) * units, 2 * half * units
    count = round((size + 2 * MARGIN) / pixel)
    frame = (
        f'viewBox="{x:.9f} {y:.9f} {side:.9f} {side:.9f}" width="{count}" height="{count}" '
        'shape-rendering="crispEdges"'
    )
    if kerf:
        width = kerf / scale * units
        frame += f' stroke="#000" stroke-width="{width:.9f}" stroke-linejoin="round"'
    svg = re.sub(r'viewBox="[^"]*"', frame, icon.svg, count=1)
    picture = Image.open(io.BytesIO(bytes(resvg_py.svg_to_bytes(svg_string=svg, dpi=96))))
    return np.asarray(picture.getchannel("A")) > 127


def _measured(icon: pack.Icon, size: float) -> tuple[MultiPolygon, NDArray[np.float64], float]:
    """The icon's area in the file's mm, the middle of its bounding box, and the scale to `size`."""
    artwork = read(icon.svg.encode(), name=icon.slug)
    area = shapely.union_all([shape.area for shape in artwork.shapes])
    windows = area if isinstance(area, MultiPolygon) else MultiPolygon([area])
    west, north, east, south = windows.bounds
    scale = size / max(east - west, south - north)
    return windows, np.array([(west + east) / 2, (north + south) / 2]), scale
