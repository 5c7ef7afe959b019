"""Letters against outsiders: resvg sets the same text, fontTools measures the same glyphs."""

from __future__ import annotations

import io
from pathlib import Path

import font_fredoka_one
import font_manrope
import font_source_sans_pro
import numpy as np
import pytest
import resvg_py
import shapely
from fontTools.pens.areaPen import AreaPen
from fontTools.pens.boundsPen import BoundsPen
from fontTools.ttLib import TTFont
from fontTools.varLib.instancer import instantiateVariableFont
from numpy.typing import NDArray
from PIL import Image
from scipy.ndimage import binary_erosion
from shapely import MultiPolygon

from hingeleaf.field.letters import Lettering, Measure, set_text
from hingeleaf.fonts import open_font
from support.text_fields import letter_field, word_field

FREDOKA = Path(font_fredoka_one.FredokaOne)
VARIABLE = Path(font_manrope.__file__).parent / "files" / "Manrope-VariableFont_wght.ttf"
SANS = Path(font_source_sans_pro.__file__).parent / "files" / "SourceSansPro-Bold.otf"


def ink(body: str, width: float, height: float, font: Path | None = None) -> NDArray[np.bool_]:
    """What resvg paints, cut to its own bounding box."""
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.0f}" height="{height:.0f}">'
        f"{body}</svg>"
    )
    fonts = [str(font)] if font else []
    png = bytes(
        resvg_py.svg_to_bytes(svg_string=svg, dpi=96, font_files=fonts, skip_system_fonts=True)
    )
    painted = np.asarray(Image.open(io.BytesIO(png)))[:, :, 3] > 127
    rows, columns = np.flatnonzero(painted.any(axis=1)), np.flatnonzero(painted.any(axis=0))
    return painted[rows[0] : rows[-1] + 1, columns[0] : columns[-1] + 1]


def path_data(area: MultiPolygon) -> str:
    rings = [ring for part in area.geoms for ring in (part.exterior, *part.interiors)]
    return "".join(
        "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in ring.coords[:-1]) + "Z" for ring in rings
    )


@pytest.mark.parametrize(
    ("font", "family"),
    [(FREDOKA, "Fredoka One"), (SANS, "Source Sans Pro"), (VARIABLE, "Manrope")],
)
@pytest.mark.parametrize("text", ["AVATAR", "To Lynn", "B8&g", "Wharf"])
def test_text_looks_as_another_renderer_sets_it(font: Path, family: str, text: str) -> None:
    """Same letters, same kerning, same counters: the painted areas agree."""
    weight = {SANS: 700, VARIABLE: 200}.get(font, 400)
    words = text.replace("&", "&amp;")
    body = (
        f'<text x="100" y="750" font-family="{family}" font-size="700" font-weight="{weight}">'
        f"{words}</text>"
    )
    theirs = ink(body, 4500, 1000, font)
    style = Lettering(theirs.shape[0], measure=Measure.INK, font=open_font(font))
    area = word_field(text, style).area
    ours = ink(f'<path fill-rule="evenodd" d="{path_data(area)}"/>', area.bounds[2] + 2, 1000)
    assert ours.shape == pytest.approx(theirs.shape, abs=4)
    height, width = np.minimum(ours.shape, theirs.shape)
    differ = ours[:height, :width] ^ theirs[:height, :width]
    # Nowhere do they differ by a block of three by three of some 500 pixels: edges only.
    assert not binary_erosion(differ, np.ones((3, 3))).any()


@pytest.mark.parametrize("font", [FREDOKA, SANS])
@pytest.mark.parametrize("letter", "BSMOgQ&3")
def test_proportions_and_area_as_font_tools_measures_them(font: Path, letter: str) -> None:
    glyphs = (opened := TTFont(font)).getGlyphSet()
    name = opened.getBestCmap()[ord(letter)]
    bounds, area = BoundsPen(glyphs), AreaPen(glyphs)
    glyphs[name].draw(bounds)
    glyphs[name].draw(area)
    left, bottom, right, top = bounds.bounds
    scale = 200 / (top - bottom)
    ours = letter_field(letter, 200, font=font, tolerance=0.001).area
    assert ours.bounds == pytest.approx((0, 0, (right - left) * scale, 200), abs=0.01)
    assert ours.area == pytest.approx(abs(area.value) * scale**2, rel=1e-4)


@pytest.mark.parametrize("weight", [200, 430, 800])
def test_a_variable_font_at_a_weight_as_font_tools_makes_it(weight: int) -> None:
    """The outline at a weight, against the static font that fontTools' instancer makes of it."""
    static = instantiateVariableFont(TTFont(VARIABLE), {"wght": weight})
    glyphs = static.getGlyphSet()
    for letter in "HRg":
        pen = BoundsPen(glyphs)
        glyphs[static.getBestCmap()[ord(letter)]].draw(pen)
        left, bottom, right, top = pen.bounds
        ours = letter_field(letter, 100, font=VARIABLE, weight=weight).area
        width = ours.bounds[2]
        # The instancer rounds to whole units of 2000 to the em.
        assert width / 100 == pytest.approx((right - left) / (top - bottom), abs=0.002)


@pytest.mark.parametrize("font", [FREDOKA, SANS])
def test_capitals_are_as_high_as_asked_by_the_fonts_own_figures(font: Path) -> None:
    glyphs = (opened := TTFont(font)).getGlyphSet()
    heights = {}
    for letter in "Hx":
        pen = BoundsPen(glyphs)
        glyphs[opened.getBestCmap()[ord(letter)]].draw(pen)
        heights[letter] = pen.bounds[3] - pen.bounds[1]
    shapes = {
        each.text: each.shape for each in set_text(["Hx"], Lettering(90, font=open_font(font)))
    }
    measured = {text: np.ptp(shapely.get_coordinates(s)[:, 1]) for text, s in shapes.items()}
    assert measured["H"] == pytest.approx(90, abs=0.01)
    assert measured["x"] == pytest.approx(90 * heights["x"] / heights["H"], abs=0.01)
