"""Measure how often the best way of cutting is the one chosen by hand, and how similarly a drawing
and its picture are cut.

PYTHONPATH=tests python tests/benchmarks/ways_of_drawings.py FOLDER [--lot 12 --sets SET...]

npm fetches the drawings of `way_marks.toml` into the folder; resvg paints their pictures. With
--lot so many drawings of each set are drawn by lot, and only their pictures are compared.
"""

from __future__ import annotations

import argparse
import random
import re
import tomllib
from pathlib import Path

import resvg_py

from hingeleaf.artwork.preparation_options import Preparation
from hingeleaf.artwork.reading import read
from hingeleaf.artwork.ways import best_cuts, find_ways
from hingeleaf.paper.card_stock import DEFAULT
from support.artwork_sets import icon_names, icon_svg, tell

SIZE = Preparation(size=60.0)
PIXELS = 1000
ALIKE = 0.9
"""Intersection over union."""
FEWEST = 4
"""Shapes of a drawing in layers."""


def agreement(drawing: str) -> float:
    """How similarly a drawing and its picture are cut by default."""
    png = bytes(resvg_py.svg_to_bytes(svg_string=drawing, width=PIXELS, background="white", dpi=96))
    one, other = (best_cuts(read(data), SIZE, DEFAULT).windows for data in (drawing.encode(), png))
    return one.intersection(other).area / one.union(other).area


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("--lot", type=int)
    parser.add_argument("--sets", nargs="+", default=[])
    given = parser.parse_args()
    if given.lot:
        compare_by_lot(given.sets, given.lot, given.folder)
        return
    marks = tomllib.loads(Path(__file__).with_name("way_marks.toml").read_text())
    for group, wanted in marks.items():
        places, shares = [], []
        for name, mark in wanted.items():
            drawing = icon_svg(name, given.folder)
            kinds = [str(way.kind) for way in find_ways(read(drawing.encode()), SIZE, DEFAULT)]
            places.append(kinds.index(mark) + 1 if mark in kinds else 0)
            shares.append(agreement(drawing))
            tell(f"{name:44} {mark:8} {places[-1]}  {shares[-1]:.3f}")
        first, shown = places.count(1), sum(place > 0 for place in places)
        alike = sum(share >= ALIKE for share in shares)
        tell(f"{group}: first {first}, shown {shown}, picture alike {alike} of {len(places)}")


def compare_by_lot(sets: list[str], count: int, folder: Path) -> None:
    """How many drawings of each set, with several shapes, are cut as their pictures are."""
    for set_ in sets:
        layered = [name for name in icon_names(set_, folder) if parts_of(name, folder) >= FEWEST]
        shares = {}
        for name in random.Random(1).sample(layered, min(count, len(layered))):
            shares[name] = agreement(icon_svg(name, folder))
        alike = [name for name, share in shares.items() if share >= ALIKE]
        tell(f"{set_}: {len(alike)} of {len(shares)} alike")
        for name in shares.keys() - set(alike):
            tell(f"    {name} {shares[name]:.3f}")


def parts_of(name: str, folder: Path) -> int:
    """How many shapes an icon is drawn with, about."""
    return len(re.findall("<(?:path|circle|ellipse|rect)", icon_svg(name, folder)))


if __name__ == "__main__":
    main()
