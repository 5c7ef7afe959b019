"""Letters of any fonts, cut out of card 20 mm high, by flood fill. Run as a script:

    python tests/benchmarks/letters_of_fonts.py FONT_FILE... [--picture FILE.png]

For each font: letters that hold as asked, those that hold smaller, refused with a size, and what
falls out by a flood fill of pixels. The picture shows thirty of them, some of each font.
"""

from __future__ import annotations

import argparse
import string
import sys
from pathlib import Path
from time import process_time

import numpy as np
import resvg_py
import shapely
from scipy import ndimage
from shapely import MultiPolygon

from hingeleaf.errors import HingeleafError
from hingeleaf.field.letters import Lettering
from hingeleaf.field.shapes import Outline
from hingeleaf.field.specs import KeepOutText, ShapeSpec
from hingeleaf.fonts import FontFace, open_font
from hingeleaf.panel.cut_lettering import cut_lettering
from hingeleaf.panel.fit_lettering import fit_text
from hingeleaf.paper.card_stock import DEFAULT

ACCENTED = "ÀÁÂÃÄÅÇÈÉÊËÍÎÑÒÓÔÖØÙÚÜŁŻàáâäåçèéêëñöøüłżậễ"[:40]
LETTERS = string.ascii_uppercase + string.ascii_lowercase + string.digits + "&" + ACCENTED
HEIGHT, STEP = 20.0, 0.05
SPECK = 0.02
"""mm²: smaller pieces are dust of the raster, not paper."""
SHOWN, COLUMNS, CELL = 30, 6, 30.0
SPEC = ShapeSpec(Outline.RECTANGLE, (120.0, 120.0))
FIELD = SPEC.build()


def main() -> None:
    """Print one line for each font, and draw some."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("fonts", nargs="+")
    parser.add_argument("--picture", type=Path)
    given = parser.parse_args()
    shown: list[MultiPolygon] = []
    each = max(1, SHOWN // len(given.fonts))
    for number, name in enumerate(given.fonts):
        made, line = _figures(open_font(Path(name)))
        sys.stdout.write(f"{line}\n")
        sys.stdout.flush()
        chance = np.random.default_rng(number)
        shown += [made[at] for at in chance.choice(len(made), each, replace=False)]
    if given.picture:
        given.picture.write_bytes(_picture(shown))


def _figures(face: FontFace) -> tuple[list[MultiPolygon], str]:
    begun, made, refused = process_time(), [], []
    smaller, loose = [], []
    for letter in LETTERS:
        text = KeepOutText(letter, Lettering(HEIGHT, font=face))
        try:
            fitted = fit_text(text, SPEC, FIELD, DEFAULT)
        except HingeleafError as error:
            refused.append(f"{letter}: {error}")
            continue
        windows = cut_lettering(fitted.shape_in(FIELD), DEFAULT, widen=True).windows
        made.append(windows)
        smaller += [letter] * (fitted.style.height < HEIGHT - 1e-9)
        loose += [letter] * (_loose(windows) > 0)
    told = (
        f"{face.name}: {len(made)} of {len(LETTERS)} hold, {len(smaller)} of them smaller, "
        f"{len(refused)} refused, loose by flood fill: {' '.join(loose) or 'none'}, "
        f"{process_time() - begun:.1f} s"
    )
    return made, "\n".join([told, *(f"    {refusal}" for refusal in refused)])


def _loose(windows: MultiPolygon) -> int:
    """Pieces of paper that are not the sheet's, larger than a speck (scipy.ndimage.label)."""
    left, top, right, bottom = windows.bounds
    x, y = np.arange(left - 1, right + 1, STEP), np.arange(top - 1, bottom + 1, STEP)
    shapely.prepare(windows)
    pieces, _ = ndimage.label(~shapely.contains_xy(windows, *np.meshgrid(x, y)))
    areas = np.sort(np.bincount(pieces.ravel())[1:])[:-1] * STEP**2
    return int((areas > SPECK).sum())


def _picture(letters: list[MultiPolygon]) -> bytes:
    """A contact sheet: what is cut is dark."""
    cells = []
    for number, windows in enumerate(letters):
        left, top, right, bottom = windows.bounds
        x = (number % COLUMNS + 0.5) * CELL - (left + right) / 2
        y = (number // COLUMNS + 0.5) * CELL - (top + bottom) / 2
        rings = (ring.coords for area in windows.geoms for ring in (area.exterior, *area.interiors))
        path = "".join("M" + "L".join(f"{a:.3f} {b:.3f}" for a, b in ring) + "Z" for ring in rings)
        cells.append(f'<path transform="translate({x:.2f} {y:.2f})" d="{path}"/>')
    wide, high = COLUMNS * CELL, -(-len(letters) // COLUMNS) * CELL
    return bytes(
        resvg_py.svg_to_bytes(
            svg_string='<svg xmlns="http://www.w3.org/2000/svg" fill="#3d5a53" '
            f'fill-rule="evenodd" viewBox="0 0 {wide} {high}">{"".join(cells)}</svg>',
            width=round(6 * wide),
            background="#f4efe4",
            dpi=96,
        )
    )


if __name__ == "__main__":
    main()
