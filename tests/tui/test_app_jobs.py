"""Work beside the screens: order, replacement, stopping, refusals, faults."""

from __future__ import annotations

import threading
import time
from collections.abc import Callable
from queue import Empty, Queue
from types import SimpleNamespace
from typing import Any

import pytest

from hingeleaf.errors import UsageError
from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.jobs import KEY_PAUSE, Jobs


class Desk:
    """Stands for the app's thread: takes calls and makes them when told."""

    def __init__(self) -> None:
        self.calls: Queue[Callable[[], None]] = Queue()
        self.crashes: list[BaseException] = []
        self.jobs = Jobs(self.calls.put, self.crashes.append)

    def settle(self) -> None:
        """Take every call that is still to come from jobs which have not ended."""
        for thread in threading.enumerate():
            if thread.name.startswith("job "):
                thread.join(120)
        while not self.calls.empty():
            self.calls.get()()

    def run_until(self, done: Callable[[], Any], seconds: float = 120.0) -> None:
        end = time.monotonic() + seconds
        while not done():
            assert time.monotonic() < end, "never happened"
            try:
                self.calls.get(timeout=0.02)()
            except Empty:
                continue


@pytest.fixture
def desk() -> Any:
    made = Desk()
    yield made
    made.jobs.close()


def counting(to: int, gate: threading.Event | None = None) -> Task[int]:
    for number in range(to):
        if gate is not None and number == 1:
            gate.wait(10)
        yield Progress(number, to, f"at {number}", number)
    return to


def test_a_job_tells_its_result_and_is_over(desk: Desk) -> None:
    results: list[int] = []
    desk.jobs.start("count", lambda: counting(3), done=results.append)
    desk.run_until(lambda: results)
    assert results == [3]
    assert not desk.jobs.busy


def test_a_newer_job_of_a_group_silences_the_older(desk: Desk) -> None:
    gate, results = threading.Event(), []
    desk.jobs.start("count", lambda: counting(5, gate), done=results.append)
    desk.jobs.start("count", lambda: counting(2), done=results.append)
    gate.set()
    desk.run_until(lambda: results)
    desk.settle()
    assert results == [2]


def test_jobs_of_other_groups_go_on(desk: Desk) -> None:
    results: list[int] = []
    desk.jobs.start("one", lambda: counting(2), done=results.append)
    desk.jobs.start("other", lambda: counting(4), done=results.append)
    desk.run_until(lambda: len(results) == 2)
    assert sorted(results) == [2, 4]


def test_progress_that_piles_up_is_replaced_by_the_newest(
    desk: Desk, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("hingeleaf_tui.jobs.MIN_STEP_INTERVAL", 0.0)
    steps: list[int] = []
    results: list[int] = []
    desk.jobs.start(
        "count",
        lambda: counting(50),
        step=lambda progress: steps.append(progress.done),
        done=results.append,
    )
    desk.settle()  # nobody takes a call before the job has ended
    assert results == [50]
    assert steps == [49]


def test_a_paused_job_waits_and_goes_on_where_it_was(desk: Desk) -> None:
    gate, results = threading.Event(), []
    shown: list[int] = []
    desk.jobs.start(
        "count",
        lambda: counting(6, gate),
        step=lambda progress: shown.append(progress.done),
        done=results.append,
    )
    desk.run_until(lambda: shown)
    desk.jobs.pause("count")
    gate.set()
    desk.run_until(desk.calls.empty)
    assert shown == [0]
    assert desk.jobs.is_paused("count")
    assert not desk.jobs.busy
    assert not results
    assert desk.jobs.resume("count")
    desk.run_until(lambda: results)
    assert results == [6]
    assert not desk.jobs.resume("count")


def test_a_refusal_and_a_fault_go_different_ways(desk: Desk) -> None:
    refused: list[str] = []

    def refusing() -> Task[int]:
        yield Progress(0, 1)
        raise UsageError("No.", "Ask again.")

    def faulty() -> Task[int]:
        yield Progress(0, 1)
        raise ZeroDivisionError

    desk.jobs.start("one", refusing, failed=lambda error: refused.append(str(error)))
    desk.jobs.start("other", faulty, failed=lambda error: refused.append(str(error)))
    desk.run_until(lambda: refused and desk.crashes)
    assert refused == ["No. Ask again."]
    assert isinstance(desk.crashes[0], ZeroDivisionError)


def test_questions_wait_their_turn_and_the_newest_on_a_topic_counts(desk: Desk) -> None:
    gate, order = threading.Event(), []
    desk.jobs.submit("slow", lambda: gate.wait(10), lambda _: order.append("slow"))
    for word in ("f", "fe", "fern"):
        desk.jobs.submit("search", lambda word=word: word, order.append)
    desk.jobs.submit(None, lambda: "written", order.append)
    desk.jobs.submit(None, lambda: "written again", order.append)
    gate.set()
    desk.run_until(lambda: not desk.jobs.busy)
    assert order == ["slow", "fern", "written", "written again"]


def test_questions_all_run_on_one_thread(desk: Desk) -> None:
    names: list[str] = []
    for topic in ("a", "b", None):
        desk.jobs.submit(topic, lambda: threading.current_thread().name, names.append)
    desk.run_until(lambda: not desk.jobs.busy)
    assert set(names) == {"library"}


def test_closing_gives_up_searches_but_not_writing() -> None:
    desk, gate, done = Desk(), threading.Event(), []
    desk.jobs.submit("slow", lambda: gate.wait(10))
    desk.jobs.submit("search", lambda: done.append("search"))
    desk.jobs.submit(None, lambda: done.append("write"))
    threading.Timer(0.05, gate.set).start()
    desk.jobs.close()
    assert done == ["write"]


def test_jobs_rest_while_a_key_is_answered(desk: Desk, monkeypatch: pytest.MonkeyPatch) -> None:
    """By a clock that only goes on while somebody sleeps."""
    now, times = [100.0], []

    def sleep(seconds: float) -> None:
        now[0] += seconds

    clock = SimpleNamespace(monotonic=lambda: now[0], sleep=sleep)
    monkeypatch.setattr("hingeleaf_tui.jobs.time", clock)

    def stepping() -> Task[int]:
        for number in range(3):
            times.append(now[0])
            if number == 1:
                desk.jobs.yield_to_input()
            yield Progress(number, 3, "at work", number)
        return 3

    results: list[int] = []
    desk.jobs.start("step", stepping, done=results.append)
    desk.run_until(lambda: results)
    assert results == [3]
    assert times == pytest.approx([100.0, 100.0, 100.0 + KEY_PAUSE])
