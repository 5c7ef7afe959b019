"""Tasks that tests run in a worker process, which imports them by name."""

from __future__ import annotations

import os
import time

from hingeleaf.errors import QueryError
from hingeleaf.tasks import Progress, Task


def counting(to: int) -> Task[int]:
    for number in range(to):
        yield Progress(number, to, f"at {number}", number)
    return to


def pid() -> Task[int]:
    yield Progress(0, 1)
    return os.getpid()


def slow(seconds: float) -> Task[None]:
    """One step, then a very long one."""
    yield Progress(0, 1, "", None)
    time.sleep(seconds)
    yield Progress(1, 1, "", None)


def refusing() -> Task[int]:
    yield Progress(0, 1)
    raise QueryError("No such word.", "Ask again.", query="hold:soggy", start=5, end=10)


def faulty() -> Task[int]:
    yield Progress(0, 1)
    raise ZeroDivisionError("a fault")
