"""Draw all starter patterns in one picture: `python tests/contact_sheet.py FILE.png [NAME…]`.

Each as it is cut, its bridges in place; what lifts is lighter, its hinge dotted. `--size 20mm`
draws them re-cut for that size, as many points per mm as `--scale` says.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import font_source_sans_pro
import numpy as np
import resvg_py
import shapely
from shapely.geometry.base import BaseGeometry

from hingeleaf import starter
from hingeleaf.model import Motif
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.resized import Resized, cuts_at_size
from hingeleaf.units import parse_length

CARD, BACKING, FLAP, HINGE, WORDS = "#e6dfcd", "#3d5a53", "#fffdf8", "#a0522d", "#4a443a"
COLUMNS = 8
FONT = Path(font_source_sans_pro.__file__).parent / "files" / "SourceSansPro-Regular.ttf"


def draw(motifs: list[Motif], size: float | None, scale: float) -> bytes:
    """The picture as PNG. All motifs are used at `size` mm, or each as large as it was drawn."""
    longest = size or max(motif.size for motif in motifs)
    room, words = longest * 1.18, 3.2 if size is None else longest * 0.09
    height = room + 1.6 * words
    cells = []
    for number, motif in enumerate(motifs):
        x = (number % COLUMNS + 0.5) * room
        y = number // COLUMNS * height + room / 2
        cells.append(
            f'<g transform="translate({x:.3f} {y:.3f})">{_motif(motif, size or motif.size)}'
            f'<text y="{longest / 2 + 1.5 * words:.2f}" font-size="{words:.2f}" fill="{WORDS}"'
            f' font-family="Source Sans Pro" text-anchor="middle">{motif.name}</text></g>'
        )
    wide = min(len(motifs), COLUMNS) * room
    high = -(-len(motifs) // COLUMNS) * height + words
    picture = resvg_py.svg_to_bytes(
        svg_string=f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.3f} {high:.3f}">'
        f"{''.join(cells)}</svg>",
        width=round(wide * scale),
        background=CARD,
        dpi=96,
        font_files=[str(FONT)],
    )
    return bytes(picture)


def _motif(motif: Motif, size: float) -> str:
    """One motif as cut, in SVG."""
    flaps = Resized(motif, DEFAULT, size).hinges.hinges
    cuts = cuts_at_size(motif, size, DEFAULT)
    hinges = "".join(_path(shapely.LineString(flap.line)) for flap in flaps)
    dash = size / 60
    return (
        f'<path fill="{FLAP}" fill-rule="evenodd" d="{_paths([flap.flap for flap in flaps])}"/>'
        f'<path fill="{BACKING}" fill-rule="evenodd" d="{_path(cuts.windows)}"/>'
        f'<path fill="none" stroke="{BACKING}" stroke-width="0.3" d="{_path(cuts.slits)}"/>'
        f'<path fill="none" stroke="{HINGE}" stroke-width="{dash:.3f}" stroke-linecap="round"'
        f' stroke-dasharray="0 {2 * dash:.3f}" d="{hinges}"/>'
    )


def _paths(areas: list[shapely.Polygon]) -> str:
    return "".join(_path(area) for area in areas)


def _path(shape: BaseGeometry) -> str:
    lines = shapely.get_parts(shape.boundary if shape.geom_type.endswith("Polygon") else shape)
    coordinates = [np.round(shapely.get_coordinates(line), 3).tolist() for line in lines]
    return "".join("M" + "L".join(f"{x} {y}" for x, y in line) for line in coordinates)


if __name__ == "__main__":
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("file", type=Path)
    reader.add_argument("names", nargs="*")
    reader.add_argument("--size", type=parse_length)
    reader.add_argument("--scale", type=float, default=4.5)
    wanted = reader.parse_args()
    chosen = [
        starter.bridged(pattern, DEFAULT)
        for pattern in starter.patterns()
        if pattern.name in wanted.names or not wanted.names
    ]
    wanted.file.write_bytes(draw(chosen, wanted.size, wanted.scale))
