"""Long tasks: generators that yield their progress and stop when closed.

A task never starts threads and never prints. Its caller (a command, a screen's worker)
decides what to show; `close()` on the generator stops the work at its next step.
"""

import time
from collections.abc import Callable, Generator
from dataclasses import dataclass
from typing import Generic, TypeAlias, TypeVar

Result = TypeVar("Result")
Seen = TypeVar("Seen")
Best = TypeVar("Best", covariant=True)


@dataclass(frozen=True, slots=True)
class Progress(Generic[Best]):
    """Progress of a task: `done` of `total` steps, a message, and the best result so far if any."""

    done: int
    total: int
    message: str = ""
    so_far: Best | None = None

    @property
    def share(self) -> float:
        """Share of the work done, from 0 to 1."""
        return self.done / self.total if self.total else 0.0


Task: TypeAlias = Generator[Progress[Result], None, Result]


def finish(task: Task[Result], report: Callable[[Progress[Result]], None] | None = None) -> Result:
    """Run a task to its end, calling `report` at every step, and return its result."""
    while True:
        try:
            progress = next(task)
        except StopIteration as end:
            result: Result = end.value
            return result
        if report is not None:
            report(progress)


def map_results(
    task: Task[Result], change: Callable[[Result], Seen | None], *, every: float = 0.0
) -> Generator[Progress[Seen], None, Result]:
    """The task with the intermediate result of every step mapped; its return value is unchanged.

    Steps less than `every` seconds after the last are skipped, except the first with a result.
    """
    last, has_result = -every, False
    try:
        while True:
            step = next(task)
            new = step.so_far is not None and not has_result
            if time.monotonic() - last < every and not new:
                continue
            has_result = has_result or new
            so_far = None if step.so_far is None else change(step.so_far)
            yield Progress(step.done, step.total, step.message, so_far)
            last = time.monotonic()
    except StopIteration as end:
        result: Result = end.value
        return result
    finally:
        task.close()
