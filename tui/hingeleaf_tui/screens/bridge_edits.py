"""Key actions that edit bridges."""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING

from hingeleaf_tui.bridge_editor import BridgeSession, EditState
from hingeleaf_tui.screens.base import WorkScreen

if TYPE_CHECKING:
    from hingeleaf.paper.plan_comparison import ComparedPlan
    from hingeleaf_tui.screens.motif_choices import HoldExample

NO_MOTIF = "Choose a motif first: F2 shows them, Enter opens one here."


class BridgeEdits(WorkScreen):
    """A screen for editing bridges."""

    now: EditState | None = None
    """The state of the bridges shown."""

    def do(self, act: Callable[[BridgeSession], EditState]) -> None:
        """Edit the bridges, and show the result."""
        raise NotImplementedError

    def edit(self, change: Callable[[EditState], EditState]) -> None:
        """Make one edit, which can be undone."""
        self.do(lambda session: session.edit(change))

    def action_move(self, by: float) -> None:
        """Move the chosen bridge along its edge by mm."""
        self.edit(lambda now: now.move(by))

    def action_turn(self, by: float) -> None:
        """Turn the chosen bridge by degrees."""
        self.edit(lambda now: now.turn(by))

    def action_widen(self, by: float) -> None:
        """Make the chosen bridge wider by mm."""
        self.edit(lambda now: now.widen(by))

    def action_pin(self) -> None:
        """Pin or unpin the chosen bridge."""
        self.edit(lambda now: now.pin())

    def action_delete(self) -> None:
        """Delete the chosen bridge."""
        self.edit(lambda now: now.delete())

    def action_mirror(self) -> None:
        """Add the mirror image of the chosen bridge."""
        self.edit(lambda now: now.mirror())

    def action_plan(self) -> None:
        """Plan all bridges again in the same hold style."""
        self.edit(lambda now: now.plan(now.motif.hold))

    def action_undo(self) -> None:
        """Undo the last edit."""
        self.do(BridgeSession.undo)

    def action_redo(self) -> None:
        """Redo an edit."""
        self.do(BridgeSession.redo)

    def action_hold(self) -> None:
        """Choose the hold style in which to plan the bridges."""
        if self.now is None:
            self.report(NO_MOTIF, "caution")
            return

        def plan(example: HoldExample | None) -> None:
            if example is not None:
                self.edit(lambda now: now.plan(example.hold))

        from hingeleaf_tui.screens.motif_choices import HoldStylesDialog

        self.app.push_screen(HoldStylesDialog(self.services, self.now.motif.hold), plan)

    def action_compare(self) -> None:
        """Compare the plans of all hold styles, and keep one."""
        from hingeleaf_tui.screens.motif_choices import PlansScreen

        if self.now is None:
            self.report(NO_MOTIF, "caution")
            return

        def keep(chosen: ComparedPlan | None) -> None:
            if chosen is not None:
                self.edit(lambda now: EditState.begin(chosen.motif, now.card))
                self.report(f"{chosen.message} u goes back, s saves it.", "good")

        self.app.push_screen(PlansScreen(self.services, self.now.motif, self.now.card), keep)
