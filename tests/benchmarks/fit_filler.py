"""What another value of a filler's constant does. Run as a script:

    PYTHONPATH=tests python tests/benchmarks/fit_filler.py packing.CONTACT 0.2 0.35 0.5 [--others]

Values are tried on letters B and S; with --others on letter M and a border.
Constants that compiled code uses are built in, so only those of other modules change.
"""

from __future__ import annotations

import argparse
import importlib
from time import process_time

import numpy as np

from hingeleaf.fill.filler import fill
from hingeleaf.fill.options import FillOptions
from hingeleaf.tasks import finish
from support.fill_problems import GAP, pool, problems

SEEDS = range(3)
FITTED, OTHERS = ("B", "S"), ("M", "border")


def figures(names: tuple[str, ...]) -> list[float]:
    """Means: coverage, share within half the gap, 95th percentile, largest gap (mm), seconds."""
    rows = []
    for name in names:
        for seed in SEEDS:
            begun = process_time()
            filling = finish(fill(problems()[name], pool(), FillOptions(gap=GAP, seed=seed)))
            even = filling.evenness
            assert even is not None
            rows.append(
                [
                    filling.coverage,
                    even.share_within_half_gap,
                    even.p95,
                    filling.largest_gap,
                    process_time() - begun,
                ]
            )
    return [float(mean) for mean in np.mean(rows, axis=0)]


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("constant")
    parser.add_argument("values", nargs="+", type=float)
    parser.add_argument("--others", action="store_true")
    said = parser.parse_args()
    module, _, name = said.constant.rpartition(".")
    home = importlib.import_module(f"hingeleaf.fill.{module}")
    assert hasattr(home, name), f"there is no {said.constant}"
    for value in said.values:
        setattr(home, name, value)
        told = "  ".join(f"{each:.3f}" for each in figures(OTHERS if said.others else FITTED))
        print(f"{said.constant} = {value:g}: {told}")  # noqa: T201


if __name__ == "__main__":
    main()
