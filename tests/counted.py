"""Work counted in calls of functions: the same number on every machine, however busy it is."""

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
    """Call `note` whenever this thread is about to call a Python or C function."""

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
    """How many Python and C functions were called in a `with` block, by the profiler in C."""

    def __init__(self) -> None:
        self._profile = cProfile.Profile()

    def __enter__(self) -> Self:
        self._profile.enable()
        return self

    def __exit__(self, *_: object) -> None:
        self._profile.disable()

    @property
    def count(self) -> int:
        """Once the block has ended."""
        return sum(entry.callcount for entry in self._profile.getstats())


def calls(work: Callable[[Material], object], material: Material) -> int:
    """How many calls some work makes."""
    with Calls() as made:
        work(material)
    return made.count


def killed_at(call: int, work: Callable[[], object]) -> None:
    """Do some work in a forked process that is killed at its so-manieth call, if it comes to that.

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
