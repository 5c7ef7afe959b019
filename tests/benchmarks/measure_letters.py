"""Letters of starter patterns: `python measure_letters.py EFFORT never|allowed|all [LETTERS]`.

200 mm high, options as they come, a frame 25 mm deep: coverage, share of the free paper within half
the gap, 95th percentile of its distance, motifs, seconds of the processor, rank among 62
characters, and faults.
"""

from __future__ import annotations

import string
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

import hingeleaf as hl
from hingeleaf import starter
from hingeleaf.model import Severity
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.tasks import finish


def main(effort: str, bend: str, letters: str = string.ascii_uppercase) -> None:
    """Print a line for each letter, then the means."""
    rows = []
    with tempfile.TemporaryDirectory() as folder:
        library = hl.open_library(Path(folder) / "library.db")
        finish(starter.add_patterns(library, DEFAULT))
        for letter in letters:
            field = hl.letter(letter, height=200)
            recipe = hl.make_recipe(field, budget=effort, bend=bend, depth=25)
            begun = time.process_time()
            filled = finish(hl.fill_steps(library, recipe))
            seconds = time.process_time() - begun
            report = hl.check_panel(library, filled.panel())
            faults = [each.kind for each in report.findings if each.severity is Severity.FAULT]
            filling, even = filled.filling, filled.filling and filled.filling.evenness
            assert filling and even
            rows.append((filling.coverage, even.share_within_half_gap, even.p95, seconds))
            rank = "" if report.legibility is None else report.legibility
            shown = "\t".join(f"{number:.3f}" for number in rows[-1])
            print(letter, shown, filling.count, rank, *faults, sep="\t", flush=True)  # noqa: T201
        library.close()
    print("mean", *(f"{mean:.4f}" for mean in np.mean(rows, axis=0)), sep="\t")  # noqa: T201


if __name__ == "__main__":
    main(*sys.argv[1:])
