"""Key actions that edit bridges."""

from __future__ import annotations

from collections.abc import Callable

from hingeleaf_tui.bridge_editor import BridgeSession, EditState
from hingeleaf_tui.screens.base import WorkScreen

FINE, COARSE = 0.2, 2.0
"""mm that one key moves a bridge."""


class BridgeEdits(WorkScreen):
    """A screen on which bridges are edited."""

    def do(self, act: Callable[[BridgeSession], EditState]) -> None:
        """Edit the bridges, and show what came of it."""
        raise NotImplementedError

    def edit(self, change: Callable[[EditState], EditState]) -> None:
        """Make one edit, which can be taken back."""
        self.do(lambda session: session.edit(change))

    def action_earlier(self) -> None:
        """Move the chosen bridge back along its edge."""
        self.edit(lambda now: now.move(-COARSE))

    def action_farther(self) -> None:
        """Move the chosen bridge on along its edge."""
        self.edit(lambda now: now.move(COARSE))

    def action_slightly_earlier(self) -> None:
        """Move it back by a little."""
        self.edit(lambda now: now.move(-FINE))

    def action_slightly_farther(self) -> None:
        """Move it on by a little."""
        self.edit(lambda now: now.move(FINE))

    def action_turn_left(self) -> None:
        """Turn the chosen bridge against the clock."""
        self.edit(lambda now: now.turn(-5))

    def action_turn_right(self) -> None:
        """Turn the chosen bridge with the clock."""
        self.edit(lambda now: now.turn(5))

    def action_wider(self) -> None:
        """Make the chosen bridge wider."""
        self.edit(lambda now: now.widen(0.5))

    def action_narrower(self) -> None:
        """Make the chosen bridge narrower."""
        self.edit(lambda now: now.widen(-0.5))

    def action_pin(self) -> None:
        """Pin the chosen bridge, or let it go."""
        self.edit(lambda now: now.pin())

    def action_delete(self) -> None:
        """Take the chosen bridge away."""
        self.edit(lambda now: now.delete())

    def action_mirror(self) -> None:
        """Add the chosen bridge's mirror image."""
        self.edit(lambda now: now.mirror())

    def action_plan(self) -> None:
        """Plan all bridges again in the same hold style."""
        self.edit(lambda now: now.plan(now.motif.hold))

    def action_undo(self) -> None:
        """Take the last edit back."""
        self.do(BridgeSession.undo)

    def action_redo(self) -> None:
        """Make an edit again."""
        self.do(BridgeSession.redo)
