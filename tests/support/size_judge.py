"""Find the faults of a motif at a size, by scaling it and eroding paper and windows."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from PIL import Image, ImageDraw
from scipy import ndimage
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import polygons_of
from hingeleaf.model import Card, Motif
from hingeleaf.paper.hinges import MIN_REACH
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.resized import Resized, cuts_at_size
from hingeleaf.paper.size_limits import FailureMode

TAIL = 3.0
"""Longest thin strip in least widths; a longer one tears or cannot be weeded."""
TAPERED = 0.36
"""Share of a strip's area in its outer half: a quarter for a straight tip, half for an even
strip."""
LEAN = 0.15
"""Margin, as a share, within which a strip is doubtful."""
PIXEL = 0.04
"""Pixel size in images of strips, as a share of the least width."""


@dataclass(frozen=True, slots=True)
class Requirement:
    """A least width and the criteria of a strip; `tighter` makes them stricter or more lenient."""

    width: float
    tighter: float

    @property
    def radius(self) -> float:
        return (self.width + self.tighter) / 2

    @property
    def longest(self) -> float:
        return float(TAIL * self.width * (1 - LEAN * np.sign(self.tighter)))

    @property
    def tapered(self) -> float:
        return float(TAPERED * (1 - LEAN * np.sign(self.tighter)))


def weaknesses(motif: Motif, size: float, card: Card, tighter: float = 0.0) -> set[FailureMode]:
    """The faults at a size; `tighter` mm are added to the card's limits."""
    cuts = cuts_at_size(motif, size, card)
    found = set()
    if find_parts(cuts).loose:
        found.add(FailureMode.LOOSE)
    west, north, east, south = cuts.windows.bounds
    sheet = shapely.box(west - 20, north - 20, east + 20, south + 20)
    if _comes_apart(sheet, cuts.windows, Requirement(card.least_web, tighter)):
        found.add(FailureMode.WEB)
    if any(
        _closes_up(each, Requirement(card.least_window, tighter)) for each in cuts.windows.geoms
    ):
        found.add(FailureMode.WINDOW)
    return found


def folding(motif: Motif, size: float, card: Card) -> int:
    """How many flaps reach far enough to be folded."""
    return sum(flap.reach >= MIN_REACH for flap in Resized(motif, card, size).hinges.hinges)


def _comes_apart(sheet: Polygon, windows: BaseGeometry, asked: Requirement) -> bool:
    """Whether eroded paper falls into pieces, lets two cuts meet, or loses a long strip."""
    radius = asked.radius
    paper = sheet.difference(windows)
    eroded = paper.buffer(-radius, quad_segs=32)
    pieces = [
        piece
        for piece in polygons_of(eroded)
        if not piece.buffer(-radius / 10).is_empty or piece.area > 100
    ]
    separate = len(polygons_of(windows.buffer(1e-4)))
    main = max(pieces, key=lambda piece: piece.area)
    return len(pieces) > 1 or len(main.interiors) < separate or _strip(paper, eroded, asked)


def _closes_up(window: Polygon, asked: Requirement) -> bool:
    radius = asked.radius
    core = window.buffer(-radius, quad_segs=32)
    pieces = [p for p in polygons_of(core) if not p.buffer(-radius / 10).is_empty]
    return core.is_empty or len(pieces) > 1 or _strip(window, core, asked)


def _strip(whole: BaseGeometry, core: BaseGeometry, asked: Requirement) -> bool:
    """Whether a long strip is lost that is not a tapering tip."""
    blunt = core.buffer(asked.radius, quad_segs=32)
    pieces = polygons_of(whole.difference(blunt).buffer(-0.03 * asked.width))
    return any(_is_strip(each, blunt, asked) for each in pieces if each.area > asked.width**2 / 2)


def _is_strip(piece: Polygon, blunt: BaseGeometry, asked: Requirement) -> bool:
    """Decided on a raster: the distance of its pixels from wider parts, along the paper."""
    pixel = PIXEL * asked.width
    west, north, east, south = piece.bounds
    size = (int((east - west) / pixel) + 3, int((south - north) / pixel) + 3)
    drawn = Image.new("1", size)
    outline = (shapely.get_coordinates(piece.exterior) - (west, north)) / pixel + 1
    ImageDraw.Draw(drawn).polygon([tuple(xy) for xy in outline.tolist()], fill=1)
    inside = np.asarray(drawn)
    rows, columns = np.nonzero(inside)
    places = shapely.points(columns * pixel + west - pixel, rows * pixel + north - pixel)
    shapely.prepare(blunt)
    begins = np.zeros_like(inside)
    begins[rows, columns] = shapely.dwithin(places, blunt, 0.1 * asked.width)
    if not begins.any():
        return False
    far = _steps(inside, begins)[inside]
    length = far.max() * pixel
    return bool(length > asked.longest and (far > far.max() / 2).mean() > asked.tapered)


def _steps(inside: np.ndarray, begins: np.ndarray) -> np.ndarray:
    """Geodesic distance in pixels from the starting pixels, with octagonal steps."""
    reached, steps = begins & inside, np.zeros(inside.shape)
    for step in range(1, inside.size):
        shape = ndimage.generate_binary_structure(2, 1 + step % 2)
        grown = ndimage.binary_dilation(reached, shape) & inside
        new = grown & ~reached
        if not new.any():
            break
        steps[new], reached = step, grown
    return steps
