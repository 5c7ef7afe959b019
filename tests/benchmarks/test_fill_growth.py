"""Large fields, and the first filling after a fresh install, in seconds of the processor."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

from figures import Figure

Tell = Callable[[Figure], Figure]

TOLD = """
import json, resource
from time import process_time
from support.fill_problems import pool, problems
from support.text_fields import letter_field
from hingeleaf.fill.filler import fill
from hingeleaf.fill.options import Budget, FillOptions
from hingeleaf.tasks import finish

def run(field, rules):
    shown, started = [], process_time()
    task = fill(field, pool(), rules, clock=process_time)
    filling = finish(task, lambda _: shown.append(process_time()))
    return {
        "seconds": process_time() - started, "first": shown[0] - started,
        "coverage": filling.coverage, "count": filling.count,
        "megabytes": resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024,
    }
pool(), problems()
"""


def told_by(script: str, **environment: str) -> Any:
    """What a script prints as JSON, in a process of its own."""
    paths = [*sys.path, str(Path(__file__).parents[1])]
    answer = subprocess.run(
        [sys.executable, "-c", TOLD + script],
        env={**os.environ, "PYTHONPATH": os.pathsep.join(paths), **environment},
        capture_output=True,
        text=True,
        check=True,
    )
    return json.loads(answer.stdout)


def test_large_letters_are_filled_as_well_in_as_much_time_for_their_area(tell: Tell) -> None:
    one, four, sixteen = (
        told_by(
            "finish(fill(problems()['S'], pool(), FillOptions(seconds=0.1)))\n"
            f"print(json.dumps(run(letter_field('B', {200 * scale}), "
            f"FillOptions(seconds={3 * scale**2}))))"
        )
        for scale in (1, 2, 4)
    )
    bar = one["coverage"] - 0.01
    for title, answer in (("4 times", four), ("16 times", sixteen)):
        peer = one["coverage"]
        title = f"B at {title} its area, coverage"
        share = Figure(title, answer["coverage"], "share", "once", peer, least=bar)
        assert tell(share).reached
    assert tell(Figure("B at 16 times, memory", sixteen["megabytes"], "MB", most=1500)).reached
    assert tell(Figure("B at 16 times", sixteen["seconds"], "s", most=60)).reached
    tell(Figure("B at 16 times, motifs", sixteen["count"], ""))


def test_the_first_filling_shows_progress_at_once_and_later_ones_are_quick(
    tmp_path: Path, tell: Tell
) -> None:
    first, second = told_by(
        "rules = FillOptions(budget=Budget.QUICK)\n"
        "print(json.dumps([run(problems()['B'], rules) for _ in range(2)]))",
        NUMBA_CACHE_DIR=str(tmp_path),
    )
    [warm] = told_by(
        "print(json.dumps([run(problems()['B'], FillOptions(budget=Budget.QUICK))]))",
        NUMBA_CACHE_DIR=str(tmp_path),
    )
    assert tell(Figure("first filling, first report", first["first"], "s", most=1)).reached
    assert tell(Figure("first filling", first["seconds"], "s", most=8)).reached
    assert tell(Figure("second filling", second["seconds"], "s", most=1.5)).reached
    assert tell(Figure("first filling, compiled", warm["seconds"], "s", most=1.5)).reached
