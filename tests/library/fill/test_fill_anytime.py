"""Fillings while they grow: progress, stopping, budgets, time limits, and the same again."""

from __future__ import annotations

import itertools
import os
import subprocess
import sys
from pathlib import Path

import pytest
from shapely import box

from hingeleaf.fill.filler import fill
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.options import Budget, FillOptions
from hingeleaf.fill.schedule import in_time
from hingeleaf.tasks import Progress, finish
from support.call_counts import at_each_call
from support.fill_problems import faults, placed, pool as icons
from support.fill_shapes import plain_field, pool, tile


def test_a_seed_repeats_to_the_last_bit_and_another_differs() -> None:
    def result(seed: int) -> Filling:
        return finish(fill(tile(), pool(), FillOptions(seed=seed, budget=Budget.DRAFT)))

    first, again, other = result(3), result(3), result(4)
    assert first.placements == again.placements
    assert first.placements != other.placements


ELSEWHERE = """
from support.fill_shapes import pool, tile
from hingeleaf.fill.filler import fill
from hingeleaf.fill.options import Budget, FillOptions
from hingeleaf.tasks import finish
print(finish(fill(tile(), pool(), FillOptions(seed=3, budget=Budget.DRAFT))).placements)
"""


def test_machine_code_made_anew_for_a_plainer_processor_computes_the_same(tmp_path: Path) -> None:
    """With other instructions helpers are inlined and loops laid out in another way."""
    ran = subprocess.run(
        [sys.executable, "-c", ELSEWHERE],
        env={
            **os.environ,
            "PYTHONPATH": os.pathsep.join(sys.path),
            "NUMBA_CPU_NAME": "generic",
            "HOME": str(tmp_path),
            "XDG_CACHE_HOME": str(tmp_path / "caches"),
        },
        capture_output=True,
        text=True,
        check=True,
    )
    here = finish(fill(tile(), pool(), FillOptions(seed=3, budget=Budget.DRAFT)))
    assert ran.stdout.strip() == str(here.placements)
    assert any(tmp_path.rglob("hingeleaf/machine_code/**/*.nbi"))


def test_every_report_has_a_valid_filling_that_only_gets_better() -> None:
    field, items, wanted = tile(), pool(), FillOptions(budget=Budget.QUICK)
    seen: list[Progress[Filling]] = []
    final = finish(fill(field, items, wanted), seen.append)
    fillings = [progress.so_far for progress in seen if progress.so_far is not None]
    assert len(fillings) == len(seen)
    distinct = [each for each, _ in itertools.groupby(fillings)]
    assert len(distinct) >= 4
    coverages = [each.coverage for each in [*distinct, final]]
    assert coverages == sorted(coverages)
    for each in distinct:
        assert faults(field, placed(each.placements, items), wanted.gap, wanted.margin) == []
    shares = [progress.share for progress in seen if progress.message == "improving"]
    assert shares == sorted(shares)


@pytest.mark.parametrize("after", [1, 4, 40, 60])
def test_it_stops_at_any_step_and_leaves_a_valid_answer(after: int) -> None:
    field, items, wanted = tile(), pool(), FillOptions(budget=Budget.THOROUGH)
    task = fill(field, items, wanted)
    last = list(itertools.islice(task, after))[-1]
    task.close()
    assert last.so_far is not None
    assert faults(field, placed(last.so_far.placements, items), wanted.gap, wanted.margin) == []
    with pytest.raises(StopIteration):
        next(task)


class Clock:
    """A clock that goes on by a fifth of a second each time it is read, or as it is told."""

    def __init__(self, each: float = 0.2) -> None:
        self.now, self._each = 0.0, each

    def __call__(self) -> float:
        self.go_on(self._each)
        return self.now

    def go_on(self, seconds: float) -> None:
        self.now += seconds


def test_a_budget_counts_steps_whatever_the_clock_says() -> None:
    wanted = FillOptions(budget=Budget.DRAFT)
    slow = finish(fill(tile(), pool(), wanted, clock=Clock()))
    fast = finish(fill(tile(), pool(), wanted))
    assert slow.placements == fast.placements
    assert slow.steps == fast.steps > 0


def test_larger_budgets_take_more_steps_and_cover_more() -> None:
    draft, quick = (
        finish(fill(tile(), pool(), FillOptions(budget=budget)))
        for budget in (Budget.DRAFT, Budget.QUICK)
    )
    assert quick.steps > 2 * draft.steps
    assert quick.coverage > draft.coverage


def test_a_time_limit_is_kept_by_the_clock_and_replaces_the_budget() -> None:
    clock = Clock()
    filling = finish(fill(tile(), pool(), FillOptions(seconds=20.0), clock=clock))
    assert filling.steps > 0
    assert 15 < clock.now < 25
    assert filling.seconds <= clock.now


def test_a_time_limit_is_kept_where_the_exact_finish_alone_takes_longer() -> None:
    """Some 100 involved shapes, and a clock that goes on by 20 µs at each call of a function."""
    field, items = plain_field(box(0, 0, 300, 300)), icons()
    finish(fill(tile(), items, FillOptions(budget=Budget.DRAFT)))
    now = Clock(0.0)
    with at_each_call(lambda: now.go_on(2e-5)):
        filling = finish(fill(field, items, FillOptions(seconds=2.0), clock=now))
    assert filling.count > 90
    assert 0.8 < filling.seconds / 2.0 < 1.15
    assert faults(field, placed(filling.placements, items), 2.0, 2.0) == []


def test_rounds_are_left_out_once_time_gets_short() -> None:
    def run(end: float) -> list[int]:
        done: list[int] = []
        for each in in_time(range(6), 2, lambda: 2.0 * len(done), end):
            done.append(each)
        return done

    assert run(100.0) == [0, 1, 2, 3, 4, 5]
    assert run(9.0) == [0, 1, 2, 4, 5]
    assert run(0.0) == [0, 4, 5]
