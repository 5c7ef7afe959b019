"""PNG: the panel as it will look, from above, light from the top left.

Windows show the backing, in the shade of the card's edge. Raised flaps are foreshortened by their
opening, lighter than the card, and throw the shadow that their lift gives.
"""

from __future__ import annotations

import io
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np
import shapely
from shapely import Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.errors import UsageError
from hingeleaf.export.files import replacing
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.lifting import Raised
from hingeleaf.paper.sheets import polygons_of
from hingeleaf.units import MM_PER_INCH

if TYPE_CHECKING:
    from PIL import Image

FINER = 2
"""Drawn so many times as large, then made smaller: smooth edges."""
DPI = 150.0
"""Resolution when nobody names one, as long as the picture stays under …"""
ENOUGH = 6_000_000
"""… so many points; above, the resolution goes down."""
LARGEST = 40_000_000
"""A picture with more points is refused."""
LIGHT = (0.55, 0.75)
"""How far a shadow falls per mm of height, rightwards and down."""
EDGE = 1.2
"""mm by which the card stands off its backing."""
SEAM = 0.06
"""Where a flap was cut out, no hair of card is left along the cut."""
SHADE = 0.62
"""What is left of a colour in the shade."""


@dataclass(frozen=True, slots=True)
class Palette:
    """Colours `#rrggbb` of a picture."""

    card: str = "#f4efe4"
    backing: str = "#3d5a53"
    flap: str = "#fffdf8"
    line: str = "#b9b1a0"


PALETTE = Palette()


def write_png(
    panel: Panel,
    target: Path | BinaryIO,
    *,
    flaps: Sequence[Raised] = (),
    palette: Palette = PALETTE,
    dpi: float | None = None,
) -> None:
    """Write a picture of a panel with the given flaps raised, at true size at its `dpi`.

    A file at `target` is replaced only once the new one is whole; ExportError if it cannot be,
    UsageError for a picture too small or too large to draw.
    """
    dpi = dpi or fitting_dpi(panel)
    data = io.BytesIO()
    paint(panel, flaps=flaps, palette=palette, dpi=dpi).save(data, "PNG", dpi=(dpi, dpi))
    if isinstance(target, Path):
        with replacing(target) as stream:
            stream.write(data.getvalue())
    else:
        target.write(data.getvalue())


def fitting_dpi(panel: Panel) -> float:
    """The usual resolution, or one at which the picture does not get unwieldy."""
    width, height = panel.size
    return min(DPI, MM_PER_INCH * math.sqrt(ENOUGH / (width * height)))


def paint(
    panel: Panel,
    *,
    flaps: Sequence[Raised] = (),
    palette: Palette = PALETTE,
    dpi: float = DPI,
) -> Image.Image:
    """The picture itself."""
    from PIL import Image

    canvas = _Canvas(panel, dpi)
    lying = shapely.buffer(shapely.union_all([flap.flap.region for flap in flaps]), SEAM)
    paper = shapely.difference(shapely.difference(panel.sheet, panel.cuts.windows), lying)
    backing = canvas.filled(palette.backing)
    canvas.shade(backing, [shapely.affinity.translate(paper, *(EDGE * side for side in LIGHT))])
    backing.paste(palette.card, mask=canvas.mask([paper]))
    canvas.shade(backing, [flap.seen(LIGHT) for flap in flaps])
    raised = [flap.seen() for flap in sorted(flaps, key=lambda flap: flap.lift)]
    backing.paste(palette.flap, mask=canvas.mask(raised))
    canvas.draw(backing, shapely.boundary(raised), palette.line, 0.15)
    canvas.draw(backing, shapely.get_parts(panel.cuts.slits), palette.line, 0.3)
    canvas.draw(backing, shapely.get_parts(panel.cuts.folds), palette.line, 0.2)
    return backing.resize(canvas.final, Image.Resampling.BOX)


class _Canvas:
    """Turns mm of a panel into points of a picture."""

    def __init__(self, panel: Panel, dpi: float) -> None:
        width, height = panel.size
        scale = dpi / MM_PER_INCH
        self.final = (round(width * scale), round(height * scale))
        if min(self.final) < 1 or self.final[0] * self.final[1] > LARGEST:
            raise UsageError(
                f"A picture of {self.final[0]} × {self.final[1]} points cannot be drawn.",
                "Choose another resolution.",
            )
        self.size = (self.final[0] * FINER, self.final[1] * FINER)
        self.scale = scale * FINER
        self.origin = np.array(panel.origin)

    def filled(self, colour: str) -> Image.Image:
        """A picture of one colour."""
        from PIL import Image

        return Image.new("RGB", self.size, colour)

    def mask(self, areas: Sequence[BaseGeometry]) -> Image.Image:
        """White where the areas are: rings from large to small, holes black."""
        from PIL import Image, ImageDraw

        mask = Image.new("L", self.size)
        pen = ImageDraw.Draw(mask)
        rings = []
        for area in polygons_of(shapely.geometrycollections(list(areas))):
            rings.append((area.exterior, 255))
            rings.extend((hole, 0) for hole in area.interiors)
        rings.sort(key=lambda ring: -Polygon(ring[0]).area)
        for ring, value in rings:
            pen.polygon(self._points(ring), fill=value)
        return mask

    def shade(self, picture: Image.Image, areas: Sequence[BaseGeometry]) -> None:
        """Darken a picture softly where the areas are."""
        from PIL import ImageFilter

        if not areas:
            return
        blur = ImageFilter.GaussianBlur(0.4 * EDGE * self.scale)
        picture.paste(
            picture.point(lambda value: value * SHADE), mask=self.mask(areas).filter(blur)
        )

    def draw(
        self, picture: Image.Image, lines: Iterable[BaseGeometry], colour: str, width: float
    ) -> None:
        """Lines `width` mm wide."""
        from PIL import ImageDraw

        pen = ImageDraw.Draw(picture)
        for line in shapely.get_parts(list(lines)):
            pen.line(self._points(line), fill=colour, width=max(1, round(width * self.scale)))

    def _points(self, line: BaseGeometry) -> list[tuple[float, float]]:
        points = (shapely.get_coordinates(line) - self.origin) * self.scale
        return [(x, y) for x, y in points.tolist()]
