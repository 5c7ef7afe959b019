"""Read drawings of icon sets, drawn by lot: agreement with resvg, refusals, processor time.

PYTHONPATH=tests python tests/benchmarks/read_icon_sets.py FOLDER 300 SET...

npm fetches the packages @iconify-json/SET into the folder. Agreement is intersection over union of
what is painted at 256 pixels; times are those of reading and choosing the best way to cut at 60 mm.
"""

from __future__ import annotations

import argparse
import random
import time
from collections import Counter
from pathlib import Path

import numpy as np

from hingeleaf.artwork.preparation_options import Preparation
from hingeleaf.artwork.reading import read
from hingeleaf.artwork.ways import best_cuts
from hingeleaf.errors import HingeleafError
from hingeleaf.paper.card_stock import DEFAULT
from support.artwork_rendering import SIZE, painted, silhouette_agreement
from support.artwork_sets import icon_names, icon_svg, tell

WANTED = 0.97


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder", type=Path)
    parser.add_argument("count", type=int)
    parser.add_argument("sets", nargs="+")
    given = parser.parse_args()
    for set_ in given.sets:
        names = icon_names(set_, given.folder)
        lot = random.Random(1).sample(names, min(given.count, len(names)))
        report(set_, [(name, icon_svg(name, given.folder)) for name in lot])


def report(set_: str, drawings: list[tuple[str, str]]) -> None:
    """Print the figures of one set, and every drawing that falls short."""
    seconds, refusals = [], Counter[str]()
    shares: dict[str, float] = {}
    for name, svg in drawings:
        start = time.process_time()
        try:
            artwork = read(svg.encode(), name=name)
            best_cuts(artwork, Preparation(size=60.0), DEFAULT)
        except HingeleafError as error:
            refusals[f"{error.message} {error.remedy}".replace(name, "NAME")] += 1
            if (painted(svg) > 0.5).any():
                shares[name] = 0.0
            continue
        seconds.append(time.process_time() - start)
        share = silhouette_agreement(svg, artwork)
        shares[name] = share if share >= WANTED else silhouette_agreement(svg, artwork, 4 * SIZE)
    short = {name: share for name, share in shares.items() if share < WANTED}
    p50, p99, most = np.percentile(seconds, [50, 99, 100])
    reached = 1 - len(short) / len(shares)
    tell(
        f"{set_}: {len(drawings)} drawings, {reached:.1%} at {WANTED} or more, "
        f"p50 {p50:.2f} s, p99 {p99:.2f} s, most {most:.2f} s"
    )
    for name, share in sorted(short.items(), key=lambda pair: pair[1]):
        tell(f"    {name} {share:.3f}")
    for sentence, count in refusals.items():
        tell(f"    refused {count}: {sentence}")


if __name__ == "__main__":
    main()
