"""How compose and check grow, measured against themselves in one run."""

from __future__ import annotations

import time
from collections.abc import Callable

from pytest_benchmark.fixture import BenchmarkFixture

from hingeleaf.panel.check import check
from panel_samples import grid_panel


def seconds(work: Callable[[], object], rounds: int = 3) -> float:
    """Processor time of the quickest of a few rounds: others use the machine too."""
    best = float("inf")
    for _ in range(rounds):
        start = time.process_time()
        work()
        best = min(best, time.process_time() - start)
    return best


def test_composing_and_checking_three_hundred_motifs(benchmark: BenchmarkFixture) -> None:
    report = benchmark.pedantic(lambda: check(grid_panel(15, 20)), rounds=3)
    assert report.holds


def test_composing_and_checking_grow_about_linearly() -> None:
    small = seconds(lambda: check(grid_panel(10, 10)))
    large = seconds(lambda: check(grid_panel(20, 20)))
    assert large / small < 4 * 1.6
