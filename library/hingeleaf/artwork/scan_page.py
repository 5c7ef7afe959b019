"""Find the page, shadows and punched holes in a scan or photograph."""

import math
from dataclasses import dataclass

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray
from shapely import MultiPolygon, Polygon

from hingeleaf.artwork.pixels import Grey
from hingeleaf.model import Points

Mask = NDArray[np.bool_]
SEARCH_PIXELS = 300
"""Longest side, in pixels, of the reduced picture in which the page is searched for (our own
choice)."""
MIN_PAGE, MAX_PAGE = 0.2, 0.985
"""Least and greatest share of the picture that a page covers; more counts as all of it (our own
choice)."""
MIN_RECTANGULARITY = 0.93
"""Least share of its bounding rectangle that a page fills (our own choice)."""
MIN_INK = 0.002
"""Least share of a page that is drawn on; otherwise it is a light shape on a dark ground (our own
choice)."""
EDGE_WIDTH = 0.008
"""Width cut off along the page's edges, as a share of the picture's longest side (our own
choice)."""
MIN_SHADOW = 0.03
"""Least share of the page that its half-dark part must cover to count as a shadow (our own
choice)."""
FORMATS = {"A4": (297.0, 210.0), "Letter": (279.4, 215.9)}
"""mm: ISO 216; ASME Y14.1 size A."""
MIN_ROUNDNESS = 0.85
"""Least roundness of a punched hole: 4π area / perimeter² (our own choice)."""
HOLE_DIAMETERS = 0.012, 0.06
"""Range of a punched hole's diameter, as a share of the page's longer side (our own choice)."""
MARGIN = 0.13
"""Share of the shorter side within which holes are punched: 12 mm in ISO 838, with allowance."""
_RATIO_TOLERANCE = 0.02
"""How far a page's proportions may be off those of a paper format (our own choice)."""
_DARK_EDGE = 3
"""Pixels along a picture's edge where the light cannot be measured."""


@dataclass(frozen=True, slots=True)
class ScannedPage:
    """The position of the page in a picture."""

    mask: Mask
    """Mask of the page in the picture, without its rim."""
    corners: Points
    """Its corners in pixels, (4, 2), in order around it."""

    @property
    def sides(self) -> tuple[float, float]:
        """The lengths of its first and second side in pixels."""
        first, second = np.hypot(*np.diff(self.corners[:3], axis=0).T)
        return float(first), float(second)

    @property
    def format(self) -> tuple[str, float] | None:
        """The paper format matching its proportions, and mm per pixel if it has that format.

        Pages of the A series have equal proportions; A4 is assumed.
        """
        long, short = max(self.sides), min(self.sides)
        for name, (height, width) in FORMATS.items():
            if abs(long / short / (height / width) - 1) < _RATIO_TOLERANCE:
                return name, height / long
        return None

    def places(self, points: Points) -> Points:
        """Positions (n, 2) along its first and its second side, in pixels."""
        along = np.diff(self.corners[:3], axis=0) / np.array(self.sides)[:, None]
        placed: Points = (points - self.corners[0]) @ along.T
        return placed


def whole_page(grey: Grey) -> ScannedPage:
    """The whole picture as a page."""
    height, width = grey.shape
    corners = np.array([(0, 0), (width, 0), (width, height), (0, height)], dtype=float)
    return ScannedPage(np.ones(grey.shape, dtype=bool), corners)


def find_page(grey: Grey) -> ScannedPage | None:
    """The page, if there is something else around it, such as a scanner's bed or a table.

    A page is the largest bright part, nearly rectangular, and drawn on.
    """
    step = max(1, max(grey.shape) // SEARCH_PIXELS)
    small = scipy.ndimage.uniform_filter(grey, step)[step // 2 :: step, step // 2 :: step]
    for level in thresholds(small):
        labels, count = scipy.ndimage.label(
            scipy.ndimage.binary_opening(small > level, iterations=2)
        )
        if not count:
            continue
        sizes = scipy.ndimage.sum_labels(np.ones_like(small), labels, np.arange(1, count + 1))
        part = labels == int(np.argmax(sizes)) + 1
        whole = scipy.ndimage.binary_fill_holes(part)
        rows, columns = np.nonzero(whole)
        share = len(rows) / whole.size
        hull = shapely.MultiPoint(np.column_stack([columns, rows])).convex_hull
        box = shapely.minimum_rotated_rectangle(hull.buffer(0.5, cap_style="square"))
        if not MIN_PAGE < share < MAX_PAGE or box.area * MIN_RECTANGULARITY > len(rows):
            continue
        if np.median(small[~whole]) > level:  # the other half of a folded page
            continue
        drawn = whole & ~part & scipy.ndimage.binary_erosion(whole, iterations=4)
        if drawn.sum() < MIN_INK * len(rows):
            continue
        corners = shapely.get_coordinates(box)[:4] * step
        rim = math.ceil(EDGE_WIDTH * max(grey.shape) / step) + 1
        inner = scipy.ndimage.binary_erosion(whole, iterations=rim, border_value=0)
        mask = np.kron(inner, np.ones((step, step), dtype=bool))[: grey.shape[0], : grey.shape[1]]
        missing = [(0, full - have) for full, have in zip(grey.shape, mask.shape, strict=True)]
        return ScannedPage(np.pad(mask, missing), corners)
    return None


def without_shadow(grey: Grey, page: Mask) -> Grey:
    """The brightness relative to that of the paper nearby, if a shadow falls on the page.

    A half-dark region that covers a part of the page and reaches its edge is a shadow on paper.
    """
    step = max(1, max(grey.shape) // SEARCH_PIXELS)
    small, within = grey[::step, ::step], page[::step, ::step]
    dark, bright = thresholds(small[within])
    half = scipy.ndimage.binary_opening(within & (small > dark) & (small <= bright), iterations=2)
    edge = within & ~scipy.ndimage.binary_erosion(within, iterations=2)
    labels, count = scipy.ndimage.label(half)
    reaching = np.unique(labels[edge & half])
    shadow = np.isin(labels, reaching[reaching > 0])
    if not count or shadow.sum() < MIN_SHADOW * within.sum():
        return grey
    paper = within & (small > dark) & (shadow | (small > bright))
    light = np.ones_like(small)
    for width in (40.0, 12.0, 2.5):
        weight = scipy.ndimage.gaussian_filter(paper.astype(float), width)
        near = scipy.ndimage.gaussian_filter(np.where(paper, small, 0.0), width)
        light = np.where(weight > 0.15, near / np.maximum(weight, 1e-6), light)
    zoomed = scipy.ndimage.zoom(light, step, order=1)[: grey.shape[0], : grey.shape[1]]
    missing = [(0, full - have) for full, have in zip(grey.shape, zoomed.shape, strict=True)]
    even: Grey = np.clip(grey / np.maximum(np.pad(zoomed, missing, mode="edge"), 0.05), 0, 1)
    inner = scipy.ndimage.binary_erosion(page, iterations=_DARK_EDGE, border_value=0)
    return np.where(inner, even, 1.0)


def thresholds(values: Grey) -> tuple[float, float]:
    """The two levels that best divide values from 0 to 1 into three classes (N. Otsu, 1979)."""
    counts, edges = np.histogram(values, bins=64, range=(0.0, 1.0))
    middle = (edges[:-1] + edges[1:]) / 2
    weight = np.concatenate([[0], np.cumsum(counts)])
    moment = np.concatenate([[0.0], np.cumsum(counts * middle)])
    first, second = np.triu_indices(65, 1)

    def spread(start: NDArray[np.intp], end: NDArray[np.intp]) -> Grey:
        inside = np.maximum(weight[end] - weight[start], 1e-9)
        value: Grey = (moment[end] - moment[start]) ** 2 / inside
        return value

    total = spread(0 * first, first) + spread(first, second) + spread(second, 0 * second + 64)
    best = int(np.argmax(total))
    return float(edges[first[best]]), float(edges[second[best]])


def punch_holes(area: MultiPolygon, page: ScannedPage) -> list[int]:
    """Indices of the polygons, in pixels, that are holes punched in the margin of a page.

    They are round, of equal size, two or more in a row along a side, and as large relative to the
    page as those of ISO 838 (6 mm) relative to A4 to A6.
    """
    rims = [Polygon(part.exterior) for part in area.geoms]
    sizes = np.array([2 * math.sqrt(rim.area / math.pi) for rim in rims]) / max(page.sides)
    round_ = np.array([4 * math.pi * rim.area / rim.length**2 for rim in rims]) > MIN_ROUNDNESS
    able = np.flatnonzero(round_ & (HOLE_DIAMETERS[0] < sizes) & (sizes < HOLE_DIAMETERS[1]))
    places = page.places(np.array([rims[k].centroid.coords[0] for k in able]).reshape(-1, 2))
    found: set[int] = set()
    for across, side in enumerate(page.sides):
        for margin in (places[:, across], side - places[:, across]):
            row = able[margin < MARGIN * min(page.sides)]
            depths = margin[margin < MARGIN * min(page.sides)]
            if len(row) < 2 or np.ptp(depths) > HOLE_DIAMETERS[1] * side:
                continue
            if sizes[row].min() > 0.8 * sizes[row].max():
                found |= set(row.tolist())
    return sorted(found)
