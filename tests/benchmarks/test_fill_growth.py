"""Large fields, the first filling after a fresh install, and how long budgets take."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from fill_problems import tell

TOLD = """
import json, resource, time
started = time.perf_counter()
from fill_problems import pool, problems
from hingeleaf.field.letters import letter_field
from hingeleaf.fill.filler import fill
from hingeleaf.fill.rules import Budget, Rules
from hingeleaf.tasks import finish

def run(field, rules):
    shown, started = [], time.perf_counter()
    filling = finish(fill(field, pool(), rules), lambda _: shown.append(time.perf_counter()))
    return {
        "seconds": time.perf_counter() - started, "first": shown[0] - started,
        "silence": max(b - a for a, b in zip(shown, shown[1:])),
        "coverage": filling.coverage, "count": filling.count, "steps": filling.steps,
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


def test_large_letters_are_filled_as_well_in_as_much_time_for_their_area(
    capsys: pytest.CaptureFixture[str],
) -> None:
    one, four, sixteen = (
        told_by(
            "finish(fill(problems()['S'], pool(), Rules(seconds=0.1)))\n"
            f"print(json.dumps(run(letter_field('B', {200 * scale}), "
            f"Rules(seconds={3 * scale**2}))))"
        )
        for scale in (1, 2, 4)
    )
    for answer in (one, four, sixteen):
        tell(
            capsys,
            f"{answer['count']} motifs in {answer['seconds']:.1f} s: "
            f"{answer['coverage']:.4f}, {answer['megabytes']:.0f} MB",
        )
    assert four["coverage"] > one["coverage"] - 0.01
    assert sixteen["coverage"] > one["coverage"] - 0.01
    assert sixteen["megabytes"] < 1500
    assert sixteen["seconds"] < 60


def test_the_first_filling_shows_progress_at_once_and_later_ones_are_quick(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    first, second = told_by(
        "rules = Rules(budget=Budget.QUICK)\n"
        "print(json.dumps([run(problems()['B'], rules) for _ in range(2)]))",
        NUMBA_CACHE_DIR=str(tmp_path),
    )
    [warm] = told_by(
        "print(json.dumps([run(problems()['B'], Rules(budget=Budget.QUICK))]))",
        NUMBA_CACHE_DIR=str(tmp_path),
    )
    for name, answer in (("first", first), ("second", second), ("warm start", warm)):
        tell(capsys, f"{name}: {answer['seconds']:.2f} s, shown after {answer['first']:.3f} s")
    assert first["first"] < 1
    assert first["seconds"] < 8
    assert second["seconds"] < 1.5
    assert warm["seconds"] < 1.5
