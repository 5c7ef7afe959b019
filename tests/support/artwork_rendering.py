"""Compare drawings rendered by resvg with the areas that the library reads from them."""

from __future__ import annotations

import io
import multiprocessing
import re
from collections.abc import Iterable, Sequence
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from PIL import Image
from shapely import MultiPolygon

from hingeleaf.artwork.painted_area import dark_area
from hingeleaf.model import Artwork

SIZE = 256
"""Pixels of a picture's width."""
Pixels = NDArray[np.float64]


def painted(svg: str, width: int = SIZE) -> Pixels:
    """The opacity of every pixel, from 0 to 1, as resvg paints a drawing of ours."""
    return _rgba(svg, width)[..., 3]


def dark(svg: str, width: int = SIZE) -> Pixels:
    """How much every pixel differs from white paper, from 0 to 1."""
    pixels = _rgba(svg, width)
    on_white = pixels[..., :3] * pixels[..., 3:] + 1 - pixels[..., 3:]
    differs: Pixels = 1 - on_white.min(axis=2)
    return differs


def painted_areas(areas: Sequence[MultiPolygon], artwork: Artwork, width: int = SIZE) -> Pixels:
    """The same of areas on the page of an artwork, by the same renderer."""
    return painted(as_svg(areas, artwork), width)


def as_svg(areas: Iterable[MultiPolygon], artwork: Artwork) -> str:
    """Areas in mm as plain polygons on the artwork's page."""
    paths = "".join(f'<path fill-rule="evenodd" d="{_path_data(area)}"/>' for area in areas)
    width, height = artwork.width, artwork.height
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.9g}mm" height="{height:.9g}mm" '
        f'viewBox="0 0 {width:.9g} {height:.9g}" preserveAspectRatio="none">{paths}</svg>'
    )


def agreement(first: Pixels, second: Pixels) -> float:
    """Intersection over union of what is painted more than half; 1 if both are empty."""
    rows = min(len(first), len(second))
    one, other = first[:rows] > 0.5, second[:rows] > 0.5
    union = np.count_nonzero(one | other)
    return 1.0 if union == 0 else np.count_nonzero(one & other) / union


def silhouette_agreement(svg: str, artwork: Artwork, width: int = SIZE) -> float:
    """How well all painted shapes agree with what resvg paints in any colour."""
    areas = [shape.area for shape in artwork.shapes]
    return agreement(painted(svg, width), painted_areas(areas, artwork, width))


def picture_agreement(svg: str, artwork: Artwork) -> float:
    """How well the painted picture agrees with what resvg shows against white paper."""
    ours = painted_areas([dark_area(artwork.shapes, "#ffffff")], artwork)
    return agreement(dark(svg), ours)


def in_another_process(svg: str) -> float | None:
    """`silhouette_agreement` where a crash of the renderer ends nothing; None if it crashed."""
    with multiprocessing.get_context("spawn").Pool(1) as pool:
        return pool.apply_async(_read_and_compare, (svg,)).get(60)


def _read_and_compare(svg: str) -> float:
    from hingeleaf.artwork.reading import read

    return silhouette_agreement(svg, read(svg.encode()))


def _rgba(svg: str, width: int) -> NDArray[np.float64]:
    import resvg_py

    text = re.sub(r"^\s*<\?xml[^>]*\?>", "", svg)
    picture: Any = resvg_py.svg_to_bytes(svg_string=text, width=width, dpi=96)
    return np.asarray(Image.open(io.BytesIO(bytes(picture))).convert("RGBA")) / 255


def _path_data(area: MultiPolygon) -> str:
    rings = shapely.get_rings(shapely.get_parts(area))
    return "".join(
        "M" + "L".join(f"{x:.7g},{y:.7g}" for x, y in shapely.get_coordinates(ring)[:-1]) + "Z"
        for ring in rings
    )
