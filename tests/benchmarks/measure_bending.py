"""The shared problem filled rigid and bent: `python measure_bending.py SECONDS [SEEDS] [FIELD…]`.

By the processor's seconds; every kind may bend, with no fold or round part to spare, and holds.
"""

from __future__ import annotations

import sys
import time
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from hingeleaf.fill.filler import fill
from hingeleaf.fill.options import FillOptions, Spread
from hingeleaf.fill.pool import StiffParts
from hingeleaf.model import Field
from hingeleaf.tasks import finish
from support.fill_problems import GAP, faults, measures, placed, pool, problems


def measured(field: Field, seconds: float, seed: int, *, bent: bool) -> dict[str, float]:
    """Coverage, dilated coverage and largest circle; share within half the gap; seconds taken."""
    items = pool()
    if bent:
        items = [replace(item, stiff=StiffParts()) for item in items]
    rules = FillOptions(
        gap=GAP, spread=Spread.FREE, avoid_neighbours=False, seed=seed, seconds=seconds
    )
    filling = finish(fill(field, items, rules, clock=time.process_time))
    assert faults(field, placed(filling.placements, items), GAP, GAP) == []
    assert filling.evenness is not None
    within = filling.evenness.share_within_half_gap
    return {**measures(field, filling, items), "within": within, "seconds": filling.seconds}


def main(seconds: float, seeds: int, *names: str) -> None:
    """Print the medians of each field."""
    columns = ("coverage", "dilated", "empty circle", "within", "seconds")
    print("field", "how", *columns, sep="\t")  # noqa: T201
    for name in names or ("B", "S", "M", "border"):
        for bent in (False, True):
            rows = [measured(problems()[name], seconds, seed, bent=bent) for seed in range(seeds)]
            middle = (f"{np.median([row[column] for row in rows]):.3f}" for column in columns)
            print(name, "bent" if bent else "rigid", *middle, sep="\t", flush=True)  # noqa: T201


if __name__ == "__main__":
    main(float(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else 2, *sys.argv[3:])
