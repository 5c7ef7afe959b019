"""Count function calls as a machine-independent measure of work."""

from __future__ import annotations

import cProfile
import itertools
import os
import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from types import FrameType
from typing import Any, Self, TypeVar

Material = TypeVar("Material")


@contextmanager
def at_each_call(note: Callable[[], object]) -> Iterator[None]:
    """Call `note` before every Python or C function call of this thread."""

    def hook(frame: FrameType, event: str, argument: Any) -> None:
        if event in ("call", "c_call"):
            note()

    before = sys.getprofile()
    sys.setprofile(hook)
    try:
        yield
    finally:
        sys.setprofile(before)


class Calls:
    """Counts Python and C function calls in a `with` block, using the C profiler."""

    def __init__(self) -> None:
        self._profile = cProfile.Profile()

    def __enter__(self) -> Self:
        self._profile.enable()
        return self

    def __exit__(self, *_: object) -> None:
        self._profile.disable()

    @property
    def count(self) -> int:
        """The count, available after the block."""
        return sum(entry.callcount for entry in self._profile.getstats())


def calls(work: Callable[[Material], object], material: Material) -> int:
    """The number of calls that some work makes."""
    with Calls() as made:
        work(material)
    return made.count


def killed_at(call: int, work: Callable[[], object]) -> None:
    """Do some work in a forked process that is killed at a given call.

    Nothing is cleaned up there: it ends as in a power cut or by `kill -9`.
    """
    process = os.fork()
    if not process:
        made = itertools.count(1)

        def note() -> None:
            if next(made) == call:
                os.kill(os.getpid(), signal.SIGKILL)

        with at_each_call(note):
            work()
        os._exit(0)
    os.waitpid(process, 0)
