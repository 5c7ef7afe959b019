"""Progress measured by step budget (deterministic) or deadline."""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Protocol, TypeVar

Round = TypeVar("Round")


class Schedule(Protocol):
    """A measure of progress, from 0 to 1."""

    def share(self, steps: int) -> float:
        """From 0 to 1, after this number of steps."""


@dataclass(frozen=True, slots=True)
class StepBudget:
    """A number of steps, independent of time: repeatable for a given seed."""

    total: int

    def share(self, steps: int) -> float:
        """From 0 to 1, after this number of steps."""
        return min(1.0, steps / self.total) if self.total else 1.0


@dataclass(frozen=True, slots=True)
class Deadline:
    """A period from one reading of a clock to another."""

    clock: Callable[[], float]
    begin: float
    end: float

    def share(self, steps: int) -> float:
        """From 0 to 1, now."""
        if self.end <= self.begin:
            return 1.0
        return min(1.0, (self.clock() - self.begin) / (self.end - self.begin))


def in_time(
    rounds: Sequence[Round], last: int, clock: Callable[[], float], end: float
) -> Iterator[Round]:
    """The rounds one by one; if time gets short, only the `last` ones of them.

    A round is expected to take as long as the previous one, and each of the last half as long.
    """
    took = 0.0
    for index, each in enumerate(rounds):
        begun = clock()
        if index < len(rounds) - last and begun + (1 + last / 2) * took > end:
            continue
        yield each
        took = clock() - begun
