"""Build fields from letters and words.

Heights are measured on the finished letter, thickening included. By default a letter's height is
that of its ink, from its lowest to its highest point, and a word's height is that of its capitals,
so that names cut as a set have letters of one size. Either measure can be chosen for both.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Annotated

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely import LineString, MultiPolygon

from hingeleaf.errors import FieldError, FontError
from hingeleaf.field.font_chain import FontChain, open_chain
from hingeleaf.field.glyphs import Glyphs, bounds
from hingeleaf.field.letter_spacing import separate_accents, separate_letters, separate_lines
from hingeleaf.fonts import FontFace
from hingeleaf.geometry.members import area_of
from hingeleaf.geometry.offsets import thicken
from hingeleaf.geometry.symmetry import upright_axis
from hingeleaf.geometry.winding import painted_area
from hingeleaf.model import Field, Points
from hingeleaf.params import (
    LENGTH,
    MAX_LENGTH,
    TOLERANCE,
    Parameter,
    Validated,
    distance,
    parameter,
)
from hingeleaf.units import format_mm

Row = list[Glyphs]
MAX_LINE_SPACING = 100.0
"""Largest distance between two baselines, in letter heights."""
MAX_LETTERS = 500
"""Of one text. Letters are moved apart pair by pair: ten thousand took more than 20 GB."""


class Measure(StrEnum):
    """What a text's height measures."""

    INK = "ink"
    """From the lowest to the highest point of what is drawn; with several lines, of the tallest."""
    CAPITALS = "capitals"
    """A flat capital letter of the font, such as H."""


class Align(StrEnum):
    """How the lines of a text are aligned."""

    LEFT = "left"
    CENTRE = "centre"
    RIGHT = "right"


@dataclass(frozen=True, slots=True)
class Lettering(Validated):
    """How text is set. Raises UsageError for a value out of its bounds."""

    height: Annotated[
        float,
        Parameter(
            "Its height, as 200, 20cm or 8in.", LENGTH, low=0, high=MAX_LENGTH, above=True, step=5
        ),
    ]
    measure: Measure | None = parameter(
        None,
        "Height of the ink (usual for a letter) or of capitals (usual for words).",
        label="Height of",
        none="as usual",
    )
    font: FontFace | None = parameter(
        None, "An installed font, or a font file.", none="built-in", pick=True
    )
    weight: float | None = parameter(
        None,
        "Of a variable font: 400 is regular, 700 bold.",
        low=1,
        high=1000,
        none="as the font",
        step=100,
    )
    bolder: float | None = distance(
        0.0,
        "How much every stroke is thickened, each side; auto: enough for motifs to fit in.",
        title="thickening of strokes",
        label="Thicken",
        none="auto",
        step=0.5,
    )
    """Letters move apart by the same amount. None leaves the amount to `panel.fit_lettering`."""
    align: Align = parameter(
        Align.CENTRE, "How the lines of a word are aligned.", label="Alignment", fields=("word",)
    )
    line_spacing: float = parameter(
        1.4,
        "Distance between baselines, in heights.",
        low=0,
        high=MAX_LINE_SPACING,
        above=True,
        step=0.1,
        fields=("word",),
    )
    letter_spacing: float = parameter(
        0.0,
        "Extra space between letters; may be negative.",
        LENGTH,
        low=-MAX_LENGTH,
        high=MAX_LENGTH,
        label="Letter space",
        step=0.5,
        fields=("word",),
    )
    widest: float | None = distance(
        None,
        "A longer word is made smaller to fit this width.",
        above=True,
        title="greatest width",
        label="Max width",
        none="any",
        step=5,
        fields=("word",),
    )
    further: tuple[FontFace, ...] = parameter(
        (),
        "A font for letters that the font lacks; may be given several times.",
        title="further fonts",
        option="--further-font",
        label="Fallback",
    )
    """After them come the two faces that come with Hingeleaf."""
    least_gap: float = distance(
        0.0,
        "The least distance between letters, accents and lines.",
        title="least gap between letters",
        option="-",
        label="-",
    )
    """Only letters that overlap stay joined, as in a script."""
    tolerance: float = parameter(
        TOLERANCE,
        "How far a flattened curve may deviate from the true one.",
        LENGTH,
        low=1e-4,
        high=10,
        option="-",
        label="-",
    )

    @property
    def thickening(self) -> float:
        """How much every stroke is thickened on each side, mm."""
        return self.bolder or 0.0


@dataclass(frozen=True, slots=True)
class Letter:
    """A letter (with its marks) or ligature, and its shape in its final position."""

    text: str
    shape: MultiPolygon


def text_field(
    kind: str, lines: Sequence[str], style: Lettering, *, cut_outline: bool = False
) -> Field:
    """Lines of text as one field of the given kind.

    The field's box begins at (0, 0); y points down; counters are holes. The field has an outline
    only with `cut_outline`.

    Raises FontError (a letter the font lacks, a bad font), FieldError (no letter; a counter that
    closes; strokes thicker than the letter is high) or UsageError (a length out of range).
    """
    label = " ".join(line.strip() for line in lines)
    if kind == "letter" and style.measure is None:
        style = replace(style, measure=Measure.INK)
    area = area_of(shapely.union_all([letter.shape for letter in set_text(lines, style)]))
    return Field(kind, label, area, area if cut_outline else MultiPolygon(), upright_axis(area))


def split_lines(lines: str | Sequence[str]) -> list[str]:
    """The lines that are not blank, stripped."""
    parts = lines.splitlines() if isinstance(lines, str) else lines
    return [part.strip() for part in parts if part.strip()]


def set_text(lines: Sequence[str], style: Lettering) -> list[Letter]:
    """Set lines of text: every letter's shape in mm, y down, the bounding box beginning at (0, 0).

    Errors as for `text_field`.
    """
    return _from_origin(_set_lines(lines, style))


def substitutes(lines: Sequence[str], style: Lettering) -> dict[str, str]:
    """The letters that the font lacks, each with the name of the face that it is set in."""
    chain = open_chain(style.font, style.weight, style.further)
    return {letter: face.name for line in lines for letter, face in chain.substitutes(line).items()}


def _set_lines(lines: Sequence[str], style: Lettering) -> list[Letter]:
    """The letters of lines of text, the baseline of the first at y = 0."""
    if sum(map(len, lines)) > MAX_LETTERS:
        raise FieldError(f"A text has at most {MAX_LETTERS} letters.", "Shorten it.")
    chain = open_chain(style.font, style.weight, style.further)
    rows = [row for row in map(chain.shape, lines) if any(part.rings for part in row)]
    if not rows:
        raise FieldError("There is no letter to fill.", "Give at least one letter.")
    units = _units(chain, rows, style)
    scale = min(_scale(style, units), *(_widest_scale(row, style) for row in rows))
    pitch = style.line_spacing * (scale * units + 2 * style.thickening)
    letters = [_set_row(row, scale, number * pitch, style) for number, row in enumerate(rows)]
    shapes = separate_lines([[letter.shape for letter in row] for row in letters], style.least_gap)
    return [
        replace(letter, shape=shape)
        for row, moved in zip(letters, shapes, strict=True)
        for letter, shape in zip(row, moved, strict=True)
    ]


def _units(chain: FontChain, rows: Sequence[Row], style: Lettering) -> float:
    """The measured height, in font units."""
    if style.measure is not Measure.INK:
        bottom, top = chain.shapers[0].capital_bounds()
        return top - bottom
    heights = (top - bottom for _, bottom, _, top in map(bounds, rows))
    return max(heights)


def _scale(style: Lettering, units: float) -> float:
    if not units > 0:
        raise FontError("The letters of this font have no height.", "Choose another font.")
    scale = (style.height - 2 * style.thickening) / units
    if scale <= 0:
        raise FieldError(
            f"Letters {format_mm(style.height)} high cannot be made "
            f"{format_mm(style.thickening)} bolder on every side.",
            "Make them higher or less bold.",
        )
    return scale


def _widest_scale(row: Row, style: Lettering) -> float:
    """The largest scale at which a row does not exceed the greatest width."""
    if style.widest is None:
        return math.inf
    left, right = _row_edges(row)
    apart = np.subtract.outer(np.arange(len(row)), np.arange(len(row))) * _tracking(style)
    room = style.widest - 2 * style.thickening - apart
    reach = np.subtract.outer(right, left)
    counts = reach > 0
    scale = float((room[counts] / reach[counts]).min())
    if scale <= 0:
        raise FieldError(
            f"The text does not fit a width of {format_mm(style.widest)}.",
            "Allow more width, or make the letters less bold.",
        )
    return scale


def _row_edges(row: Row) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Left and right edges of the ink of every cluster; NaN where there is none."""
    edges = [
        (box[0], box[2]) if part.rings and (box := bounds([part])) else (np.nan, np.nan)
        for part in row
    ]
    left, right = np.array(edges).T
    return left, right


def _tracking(style: Lettering) -> float:
    return style.letter_spacing + 2 * style.thickening


def _set_row(row: Row, scale: float, baseline: float, style: Lettering) -> list[Letter]:
    inked = [
        (part, shift)
        for part, shift in zip(row, np.arange(len(row)) * _tracking(style), strict=True)
        if part.rings
    ]
    shapes = [_shape(part, scale, (shift, baseline), style) for part, shift in inked]
    shapes = separate_letters(
        [separate_accents(each, style.least_gap) for each in shapes], style.least_gap
    )
    left, _, right, _ = shapely.total_bounds(shapes)
    share = {Align.LEFT: 0.0, Align.CENTRE: 0.5, Align.RIGHT: 1.0}[style.align]
    anchor = np.array([left + share * (right - left), 0.0])
    return [
        Letter(part.text, shapely.transform(shape, lambda points: points - anchor))
        for (part, _), shape in zip(inked, shapes, strict=True)
    ]


def _shape(
    part: Glyphs, scale: float, place: tuple[float, float], style: Lettering
) -> MultiPolygon:
    """One cluster in mm. Raises FieldError if a counter closes when strokes are thickened."""
    rings = part.flattened(style.tolerance / scale)
    thin = painted_area([_closed(points) * (scale, -scale) + place for points in rings])
    if not style.thickening:
        return thin
    bold = thicken(thin, style.thickening, style.tolerance)
    if count_holes(bold) < count_holes(thin):
        raise FieldError(
            f"Made {format_mm(style.thickening)} bolder, a counter of {part.text!r} closes.",
            "Make the letters less bold or higher.",
        )
    return bold


def count_holes(shape: MultiPolygon) -> int:
    """The number of holes of a shape: 1 for O, 2 for B."""
    return int(shapely.get_num_interior_rings(shapely.get_parts(shape)).sum())


def _from_origin(letters: Sequence[Letter]) -> list[Letter]:
    left, top, _, _ = shapely.total_bounds([letter.shape for letter in letters])
    return [
        Letter(letter.text, shapely.transform(letter.shape, lambda points: points - (left, top)))
        for letter in letters
    ]


def _closed(ring: Points) -> Points:
    return ring if np.array_equal(ring[0], ring[-1]) else np.vstack([ring, ring[:1]])


def text_outlines(
    words: str, left: float, top: float, height: float, widest: float
) -> list[LineString]:
    """The outlines of a line of words, its capitals `height` mm high from `top` down.

    It is made smaller if it would be wider than `widest`; its baseline does not move.
    """
    letters = _set_lines([words], Lettering(height, widest=widest))
    area = shapely.union_all([letter.shape for letter in letters])
    corner = np.array([left - area.bounds[0], top + height])
    moved = shapely.transform(shapely.get_parts(area.boundary), lambda points: points + corner)
    return [LineString(line) for line in moved]
