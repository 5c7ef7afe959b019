"""Progress measured by step budget (deterministic) or deadline."""

from collections.abc import Callable, Iterator, Sequence
from typing import TypeVar

Round = TypeVar("Round")


Schedule = Callable[[int], float]
"""The share of the work that is done, from 0 to 1, after a number of steps."""


def step_budget(total: int) -> Schedule:
    """A number of steps, independent of time: repeatable for a given seed."""
    return lambda steps: min(1.0, steps / total) if total else 1.0


def deadline(clock: Callable[[], float], begin: float, end: float) -> Schedule:
    """A period from one reading of a clock to another."""
    return lambda _: min(1.0, (clock() - begin) / (end - begin)) if begin < end else 1.0


def in_time(
    rounds: Sequence[Round], last: int, clock: Callable[[], float], end: float
) -> Iterator[Round]:
    """The rounds one by one; if time gets short, only the `last` ones of them.

    A round is expected to take as long as the previous one, and each of the last half as long.
    """
    took = 0.0
    for index, each in enumerate(rounds):
        start = clock()
        if index < len(rounds) - last and start + (1 + last / 2) * took > end:
            continue
        yield each
        took = clock() - start
