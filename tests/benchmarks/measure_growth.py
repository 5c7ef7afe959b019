"""How time grows with the number of motifs: `python measure_growth.py`.

Squares of 150, 300 and 600 mm, motifs of 12 to 45 mm, as many changes for each motif in all.
"""

from __future__ import annotations

import itertools
import math
import sys
import time
from pathlib import Path

from shapely import box

sys.path.insert(0, str(Path(__file__).parents[1]))

from hingeleaf.fill import filler
from hingeleaf.fill.options import Budget, FillOptions
from hingeleaf.tasks import finish
from support.fill_problems import faults, placed, pool
from support.fill_shapes import plain_field

SIDES = (150, 300, 600)


def main() -> None:
    """Print motifs, coverage and seconds of the processor for each, then the exponents."""
    each, _ = filler.STEPS[Budget.DRAFT]
    filler.STEPS[Budget.DRAFT] = (each, sys.maxsize)
    rules, items, rows = FillOptions(budget=Budget.DRAFT), pool(), []
    finish(filler.fill(plain_field(box(0, 0, 60, 60)), items, rules))
    for side in SIDES:
        field = plain_field(box(0, 0, side, side))
        begun = time.process_time()
        filling = finish(filler.fill(field, items, rules))
        rows.append((filling.count, time.process_time() - begun))
        assert not faults(field, placed(filling.placements, items), rules.gap, rules.margin)
        row = (side, filling.count, f"{filling.coverage:.3f}", f"{rows[-1][1]:.2f} s")
        print(*row, sep="\t", flush=True)  # noqa: T201
    for (few, short), (many, long) in itertools.pairwise(rows):
        print(f"n^{math.log(long / short) / math.log(many / few):.2f}")  # noqa: T201


if __name__ == "__main__":
    main()
