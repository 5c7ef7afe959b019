"""The process for tasks: steps, ends, refusals, stopping, and that it never outlives the app."""

from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

import pytest

from hingeleaf.errors import HingeleafError, QueryError
from hingeleaf.fill.options import Budget
from hingeleaf.panel.refill import FILL_ALL
from hingeleaf.tasks import Progress, finish
from hingeleaf_tui import fill_worker
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.worker_process import WorkerProcess
from support import subprocess_tasks
from support.app_pilot import make_library


@pytest.fixture(scope="module")
def apart() -> Iterator[WorkerProcess]:
    made = WorkerProcess()
    yield made
    made.close()


def test_every_step_and_the_result_come_over(apart: WorkerProcess) -> None:
    steps: list[Progress[int]] = []
    assert finish(apart.run(subprocess_tasks.counting, 3), steps.append) == 3
    assert steps == [Progress(n, 3, f"at {n}", n) for n in range(3)]


def test_the_process_is_another_one_and_is_kept(apart: WorkerProcess) -> None:
    first = finish(apart.run(subprocess_tasks.pid))
    assert first != os.getpid()
    assert finish(apart.run(subprocess_tasks.pid)) == first


def test_a_refusal_comes_over_with_all_that_it_carries(apart: WorkerProcess) -> None:
    with pytest.raises(QueryError) as refused:
        finish(apart.run(subprocess_tasks.refusing))
    assert (refused.value.message, refused.value.remedy) == ("No such word.", "Ask again.")
    assert refused.value.pointer == "hold:soggy\n     ^^^^^"


def test_a_fault_comes_over_with_its_traceback(apart: WorkerProcess) -> None:
    with pytest.raises(RuntimeError, match=r"subprocess_tasks\.py(.|\n)*DivisionError: a fault"):
        finish(apart.run(subprocess_tasks.faulty))
    assert finish(apart.run(subprocess_tasks.counting, 2)) == 2


@pytest.mark.parametrize("taken", [1, 2, 3])
def test_a_stopped_task_makes_room_for_the_next(apart: WorkerProcess, taken: int) -> None:
    process = finish(apart.run(subprocess_tasks.pid))
    task = apart.run(subprocess_tasks.counting, 3)
    for _ in range(taken):
        next(task)
    task.close()
    assert finish(apart.run(subprocess_tasks.pid)) == process


def test_a_task_that_does_not_stop_is_ended(
    apart: WorkerProcess, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("hingeleaf_tui.worker_process.STOP_TIMEOUT", 0.1)
    process = finish(apart.run(subprocess_tasks.pid))
    task = apart.run(subprocess_tasks.slow, 60.0)
    next(task)
    task.close()
    assert finish(apart.run(subprocess_tasks.pid)) != process


def test_a_process_that_was_killed_is_told_and_begun_again(apart: WorkerProcess) -> None:
    task = apart.run(subprocess_tasks.slow, 60.0)
    next(task)
    assert apart.process is not None
    apart.process.kill()
    with pytest.raises(HingeleafError, match="ended from outside"):
        next(task)
    assert finish(apart.run(subprocess_tasks.counting, 2)) == 2


APP = """
from support import subprocess_tasks
from hingeleaf.tasks import finish
from hingeleaf_tui.worker_process import WorkerProcess

if __name__ == "__main__":
    apart = WorkerProcess()
    print(finish(apart.run(subprocess_tasks.pid)), flush=True)
    next(task := apart.run(subprocess_tasks.slow, 60.0))
    input()
"""


@pytest.mark.parametrize("how", ["killed", "left"])
def test_it_ends_with_the_app_even_in_the_midst_of_a_step(tmp_path: Path, how: str) -> None:
    script = tmp_path / "app.py"
    script.write_text(APP)
    places = [str(Path(subprocess_tasks.__file__).parents[1]), os.environ.get("PYTHONPATH", "")]
    environ = {**os.environ, "PYTHONPATH": os.pathsep.join(places)}
    app = subprocess.Popen(
        [sys.executable, str(script)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, env=environ
    )
    with app:
        assert app.stdout is not None and app.stdin is not None
        process = int(app.stdout.readline())
        os.kill(process, 0)
        if how == "killed":
            app.kill()
        else:
            app.stdin.close()
    end = time.monotonic() + 120
    while is_there(process):
        assert time.monotonic() < end, "it is still there"
        time.sleep(0.02)


def is_there(process: int) -> bool:
    """Whether a process runs; one that has ended and that nobody asks after does not."""
    try:
        state = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0]
    except FileNotFoundError:
        return False
    return state != "Z"


def test_a_filling_is_the_same_to_the_bit_in_the_process(
    apart: WorkerProcess, tmp_path: Path
) -> None:
    library, recipe = (
        make_library(tmp_path),
        recipe_form.with_value(recipe_form.default_recipe(), "height", "70"),
    )
    recipe = replace(recipe, rules=replace(recipe.rules, seed=5, budget=Budget.DRAFT))
    sheet = fill_worker.PictureSize(40, 18, Ink.BRAILLE, Ink.PIXELS.dots)
    here = finish(fill_worker.fill(library, recipe, FILL_ALL, sheet))
    there = finish(apart.run(fill_worker.fill, library, recipe, FILL_ALL, sheet))
    assert isinstance(here, fill_worker.FillFrame) and isinstance(there, fill_worker.FillFrame)
    assert there.filling.placements == here.filling.placements
    assert replace(there.filling, seconds=0) == replace(here.filling, seconds=0)
    assert there.picture is not None and here.picture is not None
    assert (there.picture.signs == here.picture.signs).all()
