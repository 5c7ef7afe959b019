"""Undo and redo over immutable states, with a name for each step."""

from typing import Generic, TypeVar

State = TypeVar("State")

MAX_STEPS = 200
"""Greatest number of steps that can be undone."""


class History(Generic[State]):
    """The current state, with the previous and the undone ones."""

    def __init__(self, now: State) -> None:
        self.now = now
        self._before: list[tuple[str, State]] = []
        self._after: list[tuple[str, State]] = []

    @property
    def last(self) -> str:
        """Name of the newest step; empty if there is none."""
        return self._before[-1][0] if self._before else ""

    @property
    def can_amend(self) -> bool:
        """Whether the newest step was just made, not reached by undo or redo."""
        return bool(self._before) and not self._after

    def step(self, what: str, state: State) -> None:
        """Make a step to a new state; undone steps can no longer be redone."""
        self._before = [*self._before[1 - MAX_STEPS :], (what, self.now)]
        self._after.clear()
        self.now = state

    def amend(self, state: State) -> None:
        """Replace the state within the same step."""
        self.now = state

    def undo(self) -> str:
        """Go back one step; returns its name, empty if there is none."""
        return self._go(self._before, self._after)

    def redo(self) -> str:
        """Repeat the step undone last; returns its name, empty if there is none."""
        return self._go(self._after, self._before)

    def _go(self, source: list[tuple[str, State]], target: list[tuple[str, State]]) -> str:
        if not source:
            return ""
        what, state = source.pop()
        target.append((what, self.now))
        self.now = state
        return what
