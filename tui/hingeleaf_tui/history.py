"""Undo and redo over immutable states, each step with its name."""

from __future__ import annotations

from typing import Generic, TypeVar

State = TypeVar("State")

MOST = 200
"""Steps that can be undone; older ones are forgotten."""


class History(Generic[State]):
    """The state now, with those that it came from and those that were undone."""

    def __init__(self, now: State) -> None:
        self.now = now
        self._before: list[tuple[str, State]] = []
        self._after: list[tuple[str, State]] = []

    @property
    def last(self) -> str:
        """What the newest step was; empty where there is none."""
        return self._before[-1][0] if self._before else ""

    @property
    def can_amend(self) -> bool:
        """Whether the newest step was made just now, and not come back to."""
        return bool(self._before) and not self._after

    def step(self, what: str, state: State) -> None:
        """Go on to another state; what was undone cannot be redone from then on."""
        self._before = [*self._before[1 - MOST :], (what, self.now)]
        self._after.clear()
        self.now = state

    def amend(self, state: State) -> None:
        """Another state within the same step."""
        self.now = state

    def undo(self) -> str:
        """Go back one step; what was undone, empty where there is nothing."""
        return self._go(self._before, self._after)

    def redo(self) -> str:
        """Make the step again that was undone; what it was, empty where there is nothing."""
        return self._go(self._after, self._before)

    def _go(self, source: list[tuple[str, State]], target: list[tuple[str, State]]) -> str:
        if not source:
            return ""
        what, state = source.pop()
        target.append((what, self.now))
        self.now = state
        return what
