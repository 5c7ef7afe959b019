"""Measure how often the best way of cutting is the one chosen by hand, and how similarly a drawing
and its picture are cut.

python tests/way_figures.py FOLDER

npm fetches the drawings of `way_marks.toml` into the folder; resvg paints their pictures.
"""

from __future__ import annotations

import argparse
import json
import subprocess
import sys
import tomllib
from functools import cache
from pathlib import Path

import resvg_py

from hingeleaf.artwork.preparation import Preparation
from hingeleaf.artwork.reading import read
from hingeleaf.artwork.ways import cut_best, find_ways
from hingeleaf.paper.card_stock import DEFAULT

SIZE = Preparation(size=60.0)
PIXELS = 1000
ALIKE = 0.9
"""Intersection over union."""


def svg(name: str, folder: Path) -> str:
    """An icon, `set/name`, as a drawing."""
    set_, _, icon = name.partition("/")
    icons = _set(set_, folder)
    drawn = icons["icons"][icon]
    wide, high = (drawn.get(side, icons.get(side, 16)) for side in ("width", "height"))
    spaces = 'xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    return f'<svg {spaces} viewBox="0 0 {wide} {high}">{drawn["body"]}</svg>'


def agreement(drawing: str) -> float:
    """How similarly a drawing and its picture are cut by default."""
    png = bytes(resvg_py.svg_to_bytes(svg_string=drawing, width=PIXELS, background="white", dpi=96))
    one, other = (cut_best(read(data), SIZE, DEFAULT).windows for data in (drawing.encode(), png))
    return one.intersection(other).area / one.union(other).area


@cache
def _set(name: str, folder: Path) -> dict[str, dict[str, dict[str, str]]]:
    package = folder / "node_modules" / "@iconify-json" / name
    if not package.exists():
        command = ["npm", "install", "--ignore-scripts", "--no-audit", f"@iconify-json/{name}"]
        subprocess.run(command, cwd=folder, check=True, timeout=900)
    return json.loads((package / "icons.json").read_text())


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    folder = parser.parse_args().folder
    marks = tomllib.loads(Path(__file__).with_name("way_marks.toml").read_text())
    for group, wanted in marks.items():
        places, shares = [], []
        for name, mark in wanted.items():
            drawing = svg(name, folder)
            kinds = [str(way.kind) for way in find_ways(read(drawing.encode()), SIZE, DEFAULT)]
            places.append(kinds.index(mark) + 1 if mark in kinds else 0)
            shares.append(agreement(drawing))
            sys.stdout.write(f"{name:44} {mark:8} {places[-1]}  {shares[-1]:.3f}\n")
        first, shown = places.count(1), sum(place > 0 for place in places)
        alike = sum(share >= ALIKE for share in shares)
        sys.stdout.write(
            f"{group}: first {first}, shown {shown}, picture alike {alike} of {len(places)}\n"
        )


if __name__ == "__main__":
    main()
