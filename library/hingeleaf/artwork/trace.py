"""Trace a scan or photograph of a dark drawing on light paper.

The light is evened out, a threshold found (N. Otsu, 1979), and the outline drawn between the
pixels by marching squares (contourpy), which follows soft edges to a fraction of a pixel.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from hingeleaf.artwork.cleaning import smoothed
from hingeleaf.artwork.colours import LUMINANCE, WHITE, brightness, is_sheet, tone
from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.artwork.pixels import Grey, GreyImage, open_picture
from hingeleaf.artwork.scan_page import (
    ScannedPage,
    find_page,
    punch_holes,
    whole_page,
    without_shadow,
)
from hingeleaf.errors import HostileArtworkError, NothingToCutError
from hingeleaf.geometry.members import area_of, valid
from hingeleaf.model import Artwork, Severity, Shape

SPECK = 0.004
"""Spots nowhere longer than this share of the picture are dirt."""
SMOOTH = 0.5
"""Pixels by which outlines are smoothed."""
FAINTEST = 0.1
"""The least difference between ink and paper, of the whole from black to white."""
MAX_SPOTS = 5_000
"""Outlines in one picture; more is noise or a photograph."""
_RIM = 1.0
_THINNED = 0.15
"""Pixels: half the width of a soft edge, and how far a point that is left out may lie."""
_FLAT, _FLAT_SHARE = 0.9, 0.003
"""A drawing in flat colours: so much of it has colours that cover so much of it each."""
_BLUR = 0.8
_ROUNDS = 3
_FEWEST_PIXELS = 12


def trace(data: bytes, name: str) -> Artwork:
    """The dark shapes of a PNG or JPEG picture, in mm by its resolution.

    Raises HostileArtworkError, UnreadableArtworkError or NothingToCutError.
    """
    notes = Diagnostics()
    picture = open_picture(data, name, notes)
    tones = None if picture.colours is None else _flat_tones(picture.colours)
    if tones:
        return _trace_tones(picture, tones, name, notes)
    picture, page = _only_page(picture, notes)
    ink, level = _dark_on_light(picture.grey, notes)
    area = _outlined(ink, level, name) if np.ptp(ink) >= FAINTEST else MultiPolygon()
    area = _not_punched(_cleaned(area, max(ink.shape), notes), page, notes)
    if area.is_empty:
        raise NothingToCutError(
            f"{name} shows no dark shape on a light ground.", "Take the picture in better light."
        )
    area = shapely.transform(smoothed(area, SMOOTH), lambda points: points * picture.pixel)
    shapes = tuple(
        Shape(f"piece {number}", MultiPolygon([polygon]), colour="#000000")
        for number, polygon in enumerate(area.geoms, 1)
    )
    height, width = ink.shape
    return Artwork(name, shapes, width * picture.pixel, height * picture.pixel, notes.findings())


def is_grainless(values: NDArray[Any]) -> bool:
    """Whether a picture was drawn, not taken: most pixels are just as those beside them."""
    return bool(np.mean(values[:, 1:] == values[:, :-1]) > _FLAT)


def _only_page(picture: GreyImage, notes: Diagnostics) -> tuple[GreyImage, ScannedPage]:
    """A scan or photograph without its background and shadows."""
    if is_grainless(picture.grey):
        return picture, whole_page(picture.grey)
    found = find_page(picture.grey)
    page = found or whole_page(picture.grey)
    grey = np.where(page.mask, without_shadow(picture.grey, page.mask), 1.0)
    if found is None:
        return replace(picture, grey=grey), page
    notes.add("page", "The background around the page is left out.", severity=Severity.NOTE)
    if picture.stated or page.format is None:
        return replace(picture, grey=grey), page
    name, pixel = page.format
    notes.add(
        "page",
        f"The page is taken for {name}, since the picture states no size.",
        severity=Severity.NOTE,
        remedy="Say how long the drawing is meant to be, for example --size 60mm.",
    )
    return replace(picture, grey=grey, pixel=pixel), page


def _flat_tones(colours: NDArray[np.uint8]) -> list[tuple[float, str]]:
    """Brightness and colour of each tone but the paper's, if the picture is flat colours on white.

    Nothing for scans and photographs, whose colours are many, and for less than two tones.
    """
    rows = colours.astype(np.uint32) @ np.array([1 << 16, 1 << 8, 1], np.uint32)
    if not is_grainless(rows):
        return []
    packed = rows.ravel()
    values, counts = np.unique(packed, return_counts=True)
    main = counts >= _FLAT_SHARE * packed.size
    if counts[main].sum() < _FLAT * packed.size:
        return []
    found: dict[int, tuple[int, str]] = {}
    for value, count in zip(values[main].tolist(), counts[main].tolist(), strict=True):
        colour = f"#{value:06x}"
        if not is_sheet(colour, WHITE):
            found[tone(colour)] = max(found.get(tone(colour), (0, "")), (count, colour))
    corners = [f"#{rows[y, x]:06x}" for y in (0, -1) for x in (0, -1)]
    if len(found) < 2 or sum(is_sheet(corner, WHITE) for corner in corners) < 3:
        return []
    return [(brightness(colour), colour) for _, (_, colour) in sorted(found.items(), reverse=True)]


def _trace_tones(
    picture: GreyImage, tones: list[tuple[float, str]], name: str, notes: Diagnostics
) -> Artwork:
    """Flat tones as areas over each other, the lightest below: each with all that is darker."""
    assert picture.colours is not None
    ink = 1 - picture.colours @ np.array(LUMINANCE) / 255
    lighter = [1.0, *(bright for bright, _ in tones)]
    shapes: list[Shape] = []
    darker = MultiPolygon()
    for number in range(len(tones), 0, -1):
        bright, colour = tones[number - 1]
        level = 1 - (lighter[number - 1] + bright) / 2
        area = _cleaned(_outlined(ink, level, name), max(ink.shape), notes)
        area = _without_rims(smoothed(area, SMOOTH), darker)
        placed = shapely.transform(area, lambda points: points * picture.pixel)
        shapes.insert(0, Shape(f"tone {number}", placed, colour=colour))
        darker = area
    height, width = ink.shape
    return Artwork(
        name, tuple(shapes), width * picture.pixel, height * picture.pixel, notes.findings()
    )


def _without_rims(area: MultiPolygon, darker: MultiPolygon) -> MultiPolygon:
    """The area without the rims about darker ones, where soft edges pass through its tone."""
    own = shapely.buffer(shapely.difference(area, darker), -_RIM, quad_segs=2)
    grown = shapely.simplify(shapely.buffer(own, _RIM * 1.05, quad_segs=2), _THINNED)
    return area_of(shapely.union(darker, grown))


def _dark_on_light(grey: Grey, notes: Diagnostics) -> tuple[Grey, float]:
    """The ink on every pixel, from 0 to 1, and the threshold from which it counts."""
    ink = 1 - even_light(grey)
    level = otsu(ink)
    edge = np.concatenate([ink[0], ink[-1], ink[:, 0], ink[:, -1]])
    if np.median(edge) <= level:
        return ink, level
    notes.add("inverted", "Light on dark, so its light parts are taken.", severity=Severity.NOTE)
    return 1 - ink, 1 - level


def otsu(values: Grey) -> float:
    """The threshold that best separates values from 0 to 1 into two classes (Otsu)."""
    counts, edges = np.histogram(values, bins=256, range=(0.0, 1.0))
    middle = (edges[:-1] + edges[1:]) / 2
    below = np.cumsum(counts)
    above = below[-1] - below
    total = np.cumsum(counts * middle)
    with np.errstate(divide="ignore", invalid="ignore"):
        between = (total[-1] * below / below[-1] - total) ** 2 / (below * above)
    between[~np.isfinite(between)] = 0.0
    best = np.flatnonzero(between >= between.max() * (1 - 1e-12))
    return float(edges[1:][best].mean())


def even_light(grey: Grey) -> Grey:
    """The picture divided by the light on its paper, a smooth surface fitted to bright pixels."""
    step = max(1, max(grey.shape) // 200)
    sample = grey[::step, ::step]
    weights = np.array([1.0, 0, 0, 0, 0, 0])
    for _ in range(_ROUNDS):
        paper = np.clip(sample / _surface(weights, sample.shape), 0, 1)
        rows, columns = np.nonzero(paper > otsu(paper))
        if len(rows) < _FEWEST_PIXELS:
            break
        x, y = columns / sample.shape[1], rows / sample.shape[0]
        terms = np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])
        weights = np.linalg.lstsq(terms, sample[rows, columns], rcond=None)[0]
    even: Grey = np.clip(grey / _surface(weights, grey.shape), 0.0, 1.0)
    return even


def _surface(weights: Grey, shape: tuple[int, ...]) -> Grey:
    """A surface of second order over the picture, from its terms 1, x, y, x², xy, y²."""
    height, width = shape
    x, y = np.arange(width) / width, np.arange(height)[:, None] / height
    one, by_x, by_y, by_xx, by_xy, by_yy = weights
    surface = (one + by_x * x + by_xx * x * x) + (by_y + by_yy * y) * y + by_xy * y * x
    bright: Grey = np.clip(surface, 0.1, None)
    return bright


def _outlined(ink: Grey, level: float, name: str) -> MultiPolygon:
    """Where ink exceeds the level, in pixels from the picture's upper left corner."""
    from contourpy import FillType, contour_generator
    from scipy import ndimage

    soft = np.pad(ndimage.gaussian_filter(ink, _BLUR), 1)
    generator = contour_generator(z=soft, fill_type=FillType.OuterOffset)
    filled: Any = generator.filled(level, np.inf)
    if sum(len(offsets) - 1 for offsets in filled[1]) > MAX_SPOTS:
        raise HostileArtworkError(
            f"{name} is too grainy to be traced: it has more than {MAX_SPOTS:,} spots.",
            "Take the picture in better light, or clean it in a picture editor.",
        )
    middle = 0.5  # a pixel's value stands at its middle; the padding is one pixel
    polygons = []
    for points, offsets in zip(*filled, strict=True):
        rings = [points[start:end] - middle for start, end in pairwise(offsets) if end - start > 3]
        if rings:
            polygons.append(Polygon(rings[0], rings[1:]))
    return valid(MultiPolygon(polygons))


def _cleaned(area: MultiPolygon, longest: int, notes: Diagnostics) -> MultiPolygon:
    """The area without spots and pinholes."""
    speck = max(3.0, SPECK * longest)
    kept, removed = [], 0
    for polygon in area.geoms:
        if _length(polygon) < speck:
            removed += 1
            continue
        holes = [hole for hole in polygon.interiors if _length(hole) >= speck]
        removed += len(polygon.interiors) - len(holes)
        kept.append(Polygon(polygon.exterior, holes))
    if removed:
        notes.add("speck", f"{removed} spots and pinholes removed.", severity=Severity.NOTE)
    return MultiPolygon(kept)


def _not_punched(area: MultiPolygon, page: ScannedPage, notes: Diagnostics) -> MultiPolygon:
    holes = punch_holes(area, page)
    if not holes:
        return area
    notes.add("punched", f"{len(holes)} punched holes are left out.", severity=Severity.NOTE)
    return MultiPolygon([part for k, part in enumerate(area.geoms) if k not in holes])


def _length(geometry: shapely.Geometry) -> float:
    left, top, right, bottom = geometry.bounds
    return float(max(right - left, bottom - top))
