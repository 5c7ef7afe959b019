"""Trace a scan or photograph of a dark drawing on light paper.

The light is evened out, a threshold found (N. Otsu, 1979), and the outline interpolated between
pixels by marching squares (contourpy), which follows soft edges to a fraction of a pixel.
"""

from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from hingeleaf.artwork.cleaning import smoothed, without_small
from hingeleaf.artwork.colours import TONES, brightness, looks_like_sheet, tone
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
from hingeleaf.geometry.members import area_of, longest_side, valid
from hingeleaf.model import Artwork, Severity, Shape

SPECK = 0.004
"""Spots nowhere longer than this share of the picture are dirt (our own choice)."""
SMOOTH = 0.5
"""Pixels by which outlines are smoothed (our own choice)."""
MIN_CONTRAST, MIN_CONTRAST_DRAWN = 0.1, 0.02
"""Least difference between ink and paper, relative to black and white, in a scan and in a picture
without grain (our own choice)."""
MAX_SPOTS = 5_000
"""Greatest number of outlines; more means noise or a photograph (our own choice)."""
PAPER = TONES + 1
"""Tone number that stands for paper."""
_GRAINLESS = 0.9
"""Least share of a drawn picture's pixels that equal their neighbours (our own choice)."""
MAX_TONED_SIDE = 1200
"""Longest side in pixels to which drawings in flat colours are reduced (our own choice)."""
_FLAT = 0.6
"""Least share of a drawing in flat colours that is away from edges (our own choice)."""
_MIN_TONE = 0.002
"""Least share of a picture that a tone covers; less is noise at an edge (our own choice)."""
_WHITE_EDGE = 0.1
"""Least share of a picture's border that is bare paper if it was drawn on white (our own
choice)."""
_GRADUAL = 4
"""Of 255: if no channel changes by more than this from pixel to pixel, there is no edge (our own
choice)."""
_THIN_LINE = 2.0
"""Pixels: tone further than this inside an edge zone is a separate line (our own choice)."""
_BLUR = 0.8
"""Pixels: standard deviation of the blur before outlines are followed (our own choice)."""
_ROUNDS = 3
_MIN_PIXELS = 12
"""Rounds of fitting the light, and fewest bright pixels for one (our own choice)."""


def trace(data: bytes, name: str) -> Artwork:
    """The dark shapes of a PNG or JPEG picture, in mm by its resolution.

    Raises HostileArtworkError, UnreadableArtworkError or NothingToCutError.
    """
    notes = Diagnostics()
    picture = open_picture(data, name, notes)
    is_drawn = is_grainless(picture.grey)
    if picture.colours is not None and is_drawn:
        small = picture.reduced(MAX_TONED_SIDE)
        if found := _tones(small):
            return _trace_tones(small, *found, name, notes)
    page = whole_page(picture.grey)
    if not is_drawn:
        picture, page = _only_page(replace(picture, colours=None), notes)
    ink, level = _dark_on_light(picture.grey, notes)
    faintest = MIN_CONTRAST_DRAWN if is_drawn else MIN_CONTRAST
    area = _outlined(ink, level, name) if np.ptp(ink) >= faintest else MultiPolygon()
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
    return _artwork(name, shapes, picture, notes)


def _artwork(
    name: str, shapes: tuple[Shape, ...], picture: GreyImage, notes: Diagnostics
) -> Artwork:
    height, width = (side * picture.pixel for side in picture.grey.shape)
    return Artwork(name, shapes, width, height, notes.findings(), picture.stated)


def is_grainless(values: NDArray[Any]) -> bool:
    """Whether a picture was drawn, not photographed: most pixels equal their neighbours."""
    return bool(np.mean(values[:, 1:] == values[:, :-1]) > _GRAINLESS)


def _only_page(picture: GreyImage, notes: Diagnostics) -> tuple[GreyImage, ScannedPage]:
    """A scan or photograph without its background and shadows."""
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
        f"The page is assumed to be {name}, since the picture states no size.",
        severity=Severity.NOTE,
        remedy="Give its intended size, for example --size 60mm.",
    )
    return replace(picture, grey=grey, pixel=pixel, stated=True), page


def _tones(picture: GreyImage) -> tuple[NDArray[np.int8], dict[int, str]] | None:
    """The tone of each pixel, PAPER for bare ones, and the colours of tones, if drawn on white.

    A region whose colour changes only gradually has one tone; soft edges are divided between the
    tones on either side. None if the picture was not drawn, or has fewer than two tones.
    """
    colours = picture.colours
    assert colours is not None
    low, high = (edge(axis=2) / np.float32(255) for edge in (colours.min, colours.max))
    bare = looks_like_sheet(1 - low, 1 - high)
    if np.concatenate([bare[0], bare[-1], bare[:, 0], bare[:, -1]]).mean() < _WHITE_EDGE:
        return None
    even = _is_even(colours)
    labels, count = scipy.ndimage.label(even & ~bare)
    sizes = np.maximum(np.bincount(labels.ravel(), minlength=count + 1), 1)
    if sizes[1:].sum() < _FLAT * np.count_nonzero(~bare):
        return None
    channels = [np.bincount(labels.ravel(), colours[..., k].ravel()) / sizes for k in range(3)]
    means = np.round(channels).astype(int).T[1:]
    names = [f"#{red:02x}{green:02x}{blue:02x}" for red, green, blue in means.tolist()]
    by_label = np.array([PAPER, *map(tone, names)])
    shares = np.bincount(by_label, sizes) / labels.size
    largest = {
        tone(names[k]): names[k]
        for k in np.argsort(sizes[1:], kind="stable")
        if shares[tone(names[k])] > _MIN_TONE
    }
    if len(largest) < 2:
        return None
    levels = {**{step: brightness(name) for step, name in largest.items()}, PAPER: 1.0}
    sure = np.isin(by_label, list(levels))[labels] & even
    return _divided(by_label.astype(np.int8)[labels], ~sure, picture.grey, levels), largest


def _is_even(colours: NDArray[np.uint8]) -> NDArray[np.bool_]:
    """Mask of the pixels that differ only slightly from all their neighbours."""
    even = np.ones(colours.shape[:2], dtype=bool)
    for along, marks in ((colours, even), (colours.swapaxes(0, 1), even.T)):
        low, high = np.minimum(along[1:], along[:-1]), np.maximum(along[1:], along[:-1])
        gradual = (high - low).max(axis=2) <= _GRADUAL
        marks[1:] &= gradual
        marks[:-1] &= gradual
    return even


def _divided(
    tones: NDArray[np.int8], edges: NDArray[np.bool_], grey: Grey, levels: dict[int, float]
) -> NDArray[np.int8]:
    """The tones with each edge pixel given the neighbouring tone that it resembles most."""
    away, nearest = scipy.ndimage.distance_transform_edt(edges, return_indices=True)
    tones = tones[*nearest]
    thin = away > _THIN_LINE
    alike = np.abs(grey[thin][:, None] - np.array(list(levels.values()))).argmin(axis=1)
    tones[thin] = np.array(list(levels), dtype=np.int8)[alike]
    divided, closest = tones.copy(), np.full(grey.shape, np.inf)
    for step, level in levels.items():
        beside = edges & scipy.ndimage.binary_dilation(tones == step, np.ones((3, 3)))
        unlike = np.where(beside, np.abs(grey - level), np.inf)
        better = unlike < closest
        divided[better], closest[better] = step, unlike[better]
    return divided


def _trace_tones(
    picture: GreyImage,
    tones: NDArray[np.int8],
    colours: dict[int, str],
    name: str,
    notes: Diagnostics,
) -> Artwork:
    """Flat tones as stacked areas, the lightest at the bottom: each with all darker ones."""
    height, width = tones.shape
    shapes: list[Shape] = []
    darker = MultiPolygon()
    for number, step in zip(range(len(colours), 0, -1), sorted(colours), strict=True):
        drawn = _outlined((tones <= step).astype(np.float32), 0.5, name)
        area = smoothed(_cleaned(drawn, max(height, width), notes), SMOOTH)
        darker = _without_slivers(area, darker)
        placed = shapely.transform(darker, lambda points: points * picture.pixel)
        shapes.insert(0, Shape(f"tone {number}", placed, colour=colours[step]))
    return _artwork(name, tuple(shapes), picture, notes)


def _without_slivers(area: MultiPolygon, darker: MultiPolygon) -> MultiPolygon:
    """The union of an area and all darker ones, without slivers due to separate smoothing."""
    if darker.is_empty:
        return area
    own = shapely.buffer(shapely.difference(area, darker), -SMOOTH, quad_segs=2)
    grown = shapely.simplify(shapely.buffer(own, 1.05 * SMOOTH, quad_segs=2), SMOOTH / 5)
    return area_of(shapely.union(darker, grown))


def _dark_on_light(grey: Grey, notes: Diagnostics) -> tuple[Grey, float]:
    """The ink in every pixel, from 0 to 1, and the threshold from which it counts."""
    ink = 1 - even_light(grey)
    level = otsu(ink)
    edge = np.concatenate([ink[0], ink[-1], ink[:, 0], ink[:, -1]])
    if np.median(edge) <= level:
        return ink, level
    notes.add("inverted", "Light on dark, so its light parts are used.", severity=Severity.NOTE)
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
    """The picture divided by its illumination, a smooth surface fitted to bright pixels."""
    step = max(1, max(grey.shape) // 200)
    sample = grey[::step, ::step]
    weights = np.array([1.0, 0, 0, 0, 0, 0])
    for _ in range(_ROUNDS):
        paper = np.clip(sample / _surface(weights, sample.shape), 0, 1)
        rows, columns = np.nonzero(paper > otsu(paper))
        if len(rows) < _MIN_PIXELS:
            break
        x, y = columns / sample.shape[1], rows / sample.shape[0]
        terms = np.column_stack([np.ones_like(x), x, y, x * x, x * y, y * y])
        weights = np.linalg.lstsq(terms, sample[rows, columns], rcond=None)[0]
    return np.clip(grey / _surface(weights.astype(np.float32), grey.shape), 0.0, 1.0)


def _surface(weights: Grey, shape: tuple[int, ...]) -> Grey:
    """A second-order surface over the picture, from the terms 1, x, y, x², xy, y²."""
    height, width = shape
    x = np.arange(width, dtype=np.float32) / width
    y = np.arange(height, dtype=np.float32)[:, None] / height
    one, by_x, by_y, by_xx, by_xy, by_yy = weights
    surface = (one + by_x * x + by_xx * x * x) + (by_y + by_yy * y) * y + by_xy * y * x
    bright: Grey = np.clip(surface, 0.1, None)
    return bright


def _outlined(ink: Grey, level: float, name: str) -> MultiPolygon:
    """Where ink exceeds the level, in pixels from the picture's upper left corner."""
    from contourpy import FillType, contour_generator

    soft = np.pad(scipy.ndimage.gaussian_filter(ink, _BLUR), 1)
    generator = contour_generator(z=soft, fill_type=FillType.OuterOffset)
    filled: Any = generator.filled(level, np.inf)
    if sum(len(offsets) - 1 for offsets in filled[1]) > MAX_SPOTS:
        raise HostileArtworkError(
            f"{name} is too grainy to be traced: it has more than {MAX_SPOTS:,} spots.",
            "Take the picture in better light, or clean it in a picture editor.",
        )
    middle = 0.5  # a pixel's value is at its centre; the padding is one pixel
    polygons = []
    for points, offsets in zip(*filled, strict=True):
        rings = [points[start:end] - middle for start, end in pairwise(offsets) if end - start > 3]
        if rings:
            polygons.append(Polygon(rings[0], rings[1:]))
    return valid(MultiPolygon(polygons))


def _cleaned(area: MultiPolygon, longest: int, notes: Diagnostics) -> MultiPolygon:
    """The area without spots and pinholes."""
    speck = max(3.0, SPECK * longest)
    area, spots, pinholes = without_small(area, lambda part: longest_side([part]) >= speck)
    if removed := spots + pinholes:
        notes.add("speck", f"{removed} spots and pinholes removed.", severity=Severity.NOTE)
    return area


def _not_punched(area: MultiPolygon, page: ScannedPage, notes: Diagnostics) -> MultiPolygon:
    holes = punch_holes(area, page)
    if not holes:
        return area
    notes.add("punched", f"{len(holes)} punched holes are left out.", severity=Severity.NOTE)
    return MultiPolygon([part for k, part in enumerate(area.geoms) if k not in holes])
