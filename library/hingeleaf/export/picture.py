"""PNG preview of a panel as it will look, from above, lit from the top left; and ways to cut.

Windows show the backing, in the shadow of the card's edge. Raised flaps are foreshortened by their
opening, lighter than the card, and cast a shadow according to their lift.

Sizes, shades and limits are our own choice.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import MultiLineString, MultiPolygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.errors import UsageError
from hingeleaf.export.files import write_picture
from hingeleaf.geometry.members import polygons_of
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.lifting import Raised
from hingeleaf.units import MM_PER_INCH

if TYPE_CHECKING:
    from PIL import Image, ImageDraw

OVERSAMPLING = 2
"""Oversampling factor of areas and lines, for smooth edges."""
DPI = 150.0
"""Default resolution, as long as the picture has fewer than …"""
FULL_DPI_PIXELS = 6_000_000
"""… this many pixels; above, the resolution is reduced."""
MAX_PIXELS = 40_000_000
"""Largest picture, in pixels, that is drawn."""
SHADOW_OFFSET = (0.55, 0.75)
"""Displacement of a shadow per mm of height, to the right and down."""
BACKING_DISTANCE = 1.2
"""mm: distance of the card from its backing."""
FLAP_MARGIN = 0.06
"""mm: margin around cut-out flaps, so that no sliver of card is left along the cut."""
SHADE_FACTOR = 0.62
"""Factor on a colour in the shade."""
TILE_SIDE = 360
"""Points of the side of each picture of a way to cut, its rim included."""
_RIM, _MARGIN, _TITLE = 2, 20, 30
_PAPER, _CUT, _INK = "#e8e4da", "#3c4650", "#1a1a1a"


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours `#rrggbb` of a picture."""

    card: str = "#f4efe4"
    backing: str = "#3d5a53"
    flap: str = "#fffdf8"
    line: str = "#b9b1a0"
    words: str = "#4a443a"


PALETTE = Palette()


@dataclass(frozen=True, slots=True)
class Mark:
    """An area of the panel drawn in a colour, `#rrggbb`."""

    area: BaseGeometry
    colour: str


def write_png(
    panel: Panel,
    target: Path | BinaryIO,
    *,
    flaps: Sequence[Raised] = (),
    dpi: float | None = None,
    marks: Sequence[Mark] = (),
) -> None:
    """Write a picture of a panel with the given flaps raised, at true size at its `dpi`.

    `marks` are drawn over it, in their order. Raises ExportError, see `write_file`, UsageError
    for a picture too small or too large.
    """
    dpi = dpi or fitting_dpi(panel)
    write_picture(paint(panel, flaps=flaps, dpi=dpi, marks=marks), target, dpi)


def fitting_dpi(panel: Panel) -> float:
    """The default resolution, reduced for large panels."""
    width, height = panel.size
    return min(DPI, MM_PER_INCH * math.sqrt(FULL_DPI_PIXELS / (width * height)))


def paint(
    panel: Panel,
    *,
    flaps: Sequence[Raised] = (),
    palette: Palette = PALETTE,
    dpi: float = DPI,
    marks: Sequence[Mark] = (),
) -> Image.Image:
    """The picture itself."""
    canvas = _Canvas.of(panel, dpi)
    lying = shapely.buffer(shapely.union_all([flap.hinge.flap for flap in flaps]), FLAP_MARGIN)
    paper = shapely.difference(shapely.difference(panel.sheet, panel.cuts.windows), lying)
    backing = canvas.filled(palette.backing)
    canvas.shade(
        backing,
        [shapely.affinity.translate(paper, *(BACKING_DISTANCE * side for side in SHADOW_OFFSET))],
    )
    backing.paste(palette.card, mask=canvas.mask([paper]))
    canvas.shade(backing, [flap.seen(SHADOW_OFFSET) for flap in flaps])
    raised = [flap.seen() for flap in sorted(flaps, key=lambda flap: flap.lift)]
    backing.paste(palette.flap, mask=canvas.mask(raised))
    backing.paste(palette.line, mask=canvas.lines(shapely.boundary(raised), 0.15))
    backing.paste(palette.line, mask=canvas.lines([panel.cuts.slits], 0.3))
    backing.paste(palette.line, mask=canvas.lines([panel.cuts.folds], 0.2))
    if not panel.guides.is_empty:
        backing.paste(palette.words, mask=canvas.mask([shapely.build_area(panel.guides)]))
    for mark in marks:
        backing.paste(mark.colour, mask=canvas.mask([mark.area]))
    return backing


@dataclass(frozen=True, slots=True)
class _Canvas:
    """Converts mm to pixels of a picture, at `scale` pixels per mm."""

    origin: NDArray[np.float64]
    """The top left corner in mm."""
    scale: float
    size: tuple[int, int]

    @classmethod
    def of(cls, panel: Panel, dpi: float) -> _Canvas:
        """A picture of the whole panel. Raises UsageError for one too small or too large."""
        scale = dpi / MM_PER_INCH
        width, height = (round(side * scale) for side in panel.size)
        if min(width, height) < 1 or width * height > MAX_PIXELS:
            raise UsageError(
                f"A picture of {width} × {height} points cannot be drawn.",
                "Choose a lower resolution.",
            )
        return cls(np.array(panel.origin), scale, (width, height))

    def filled(self, colour: str) -> Image.Image:
        """A picture of one colour."""
        from PIL import Image

        return Image.new("RGB", self.size, colour)

    def mask(self, areas: Sequence[BaseGeometry]) -> Image.Image:
        """White where the areas are: rings from large to small, holes black."""
        mask, pen = self._fine()
        parts = np.array(polygons_of(shapely.geometrycollections(list(areas))), dtype=object)
        rings, owner = shapely.get_rings(parts, return_index=True)
        hole = np.diff(owner, prepend=-1) == 0
        for index in np.argsort(-shapely.area(shapely.polygons(rings)), kind="stable"):
            pen.polygon(self._points(rings[index]), fill=0 if hole[index] else 255)
        return mask.reduce(OVERSAMPLING)

    def lines(self, lines: Sequence[BaseGeometry], width: float) -> Image.Image:
        """White along lines, `width` mm wide."""
        mask, pen = self._fine()
        for line in shapely.get_parts(list(lines)):
            points = self._points(line)
            pen.line(points, fill=255, width=max(1, round(width * self.scale * OVERSAMPLING)))
        return mask.reduce(OVERSAMPLING)

    def shade(self, picture: Image.Image, areas: Sequence[BaseGeometry]) -> None:
        """Softly darken a picture where the areas are."""
        from PIL import ImageFilter

        if not areas:
            return
        blur = ImageFilter.GaussianBlur(0.4 * BACKING_DISTANCE * self.scale)
        darker = picture.point(lambda value: value * SHADE_FACTOR)
        picture.paste(darker, mask=self.mask(areas).filter(blur))

    def _fine(self) -> tuple[Image.Image, ImageDraw.ImageDraw]:
        """A black mask, oversampled, and a drawing context for it."""
        from PIL import Image, ImageDraw

        mask = Image.new("L", (self.size[0] * OVERSAMPLING, self.size[1] * OVERSAMPLING))
        return mask, ImageDraw.Draw(mask)

    def _points(self, line: BaseGeometry) -> list[tuple[float, float]]:
        points = (shapely.get_coordinates(line) - self.origin) * (self.scale * OVERSAMPLING)
        return [(x, y) for x, y in points.tolist()]


def write_way_sheet(
    ways: Sequence[tuple[str, MultiPolygon, MultiLineString]], target: Path, columns: int = 4
) -> None:
    """Write a picture for each title, windows and slits: paper is light, cut-out areas are dark.

    Raises ExportError if the file cannot be written.
    """
    from PIL import Image, ImageDraw, ImageFont

    columns = min(columns, len(ways))
    rows = math.ceil(len(ways) / columns)
    sheet = Image.new("RGB", (columns * TILE_SIDE, rows * (TILE_SIDE + _TITLE)), "white")
    pen, font = ImageDraw.Draw(sheet), ImageFont.load_default(18)
    for number, (title, windows, slits) in enumerate(ways):
        left, top = number % columns * TILE_SIDE, number // columns * (TILE_SIDE + _TITLE)
        sheet.paste(_tile(windows, slits), (left + _RIM, top + _TITLE))
        pen.text((left + 6, top + 4), title, fill=_INK, font=font)
    write_picture(sheet, target)


def _tile(windows: MultiPolygon, slits: MultiLineString) -> Image.Image:
    left, top, right, bottom = shapely.total_bounds([windows, slits])
    side = TILE_SIDE - 2 * _RIM
    scale = (side - 2 * _MARGIN) / max(right - left, bottom - top)
    corner = np.array([left + right, top + bottom]) / 2 - side / scale / 2
    canvas = _Canvas(corner, scale, (side, side))
    tile = canvas.filled(_PAPER)
    tile.paste(_CUT, mask=canvas.mask([windows]))
    tile.paste(_CUT, mask=canvas.lines([slits], 2 / scale))
    return tile
