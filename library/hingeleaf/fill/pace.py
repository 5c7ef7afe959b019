"""How far the work is: by counted steps, or by the clock."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Protocol


class Pace(Protocol):
    """Tells how far the work is."""

    def share(self, steps: int) -> float:
        """From 0 to 1, after so many steps."""


@dataclass(frozen=True, slots=True)
class Counted:
    """So many steps, whatever time they take: the same again for the same seed."""

    total: int

    def share(self, steps: int) -> float:
        """From 0 to 1, after so many steps."""
        return min(1.0, steps / self.total) if self.total else 1.0


@dataclass(frozen=True, slots=True)
class Timed:
    """From one reading of a clock to another."""

    clock: Callable[[], float]
    begin: float
    end: float

    def share(self, steps: int) -> float:
        """From 0 to 1, now."""
        if self.end <= self.begin:
            return 1.0
        return min(1.0, (self.clock() - self.begin) / (self.end - self.begin))
