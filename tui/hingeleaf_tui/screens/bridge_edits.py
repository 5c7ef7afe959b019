"""Key actions that edit bridges."""

from __future__ import annotations

from collections.abc import Callable

from hingeleaf.paper.editing import BridgeEdit, Editor
from hingeleaf.paper.plan_comparison import ComparedPlan
from hingeleaf_tui.bridge_editor import BridgeSession, EditState
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.screens.motif_choices import HoldExample, HoldStylesDialog, PlansScreen

NO_MOTIF = "Choose a motif first: {everywhere.motifs} shows them."


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

    def edit_chosen(self, edit: Callable[[Editor, int], BridgeEdit]) -> None:
        """Make one edit of the chosen bridge."""
        self.edit(lambda now: now.edit_chosen(edit))

    def action_move(self, by: float) -> None:
        """Move the chosen bridge along its edge by mm."""
        self.edit_chosen(lambda editor, number: editor.move(number, by))

    def action_turn(self, by: float) -> None:
        """Turn the chosen bridge by degrees, clockwise as seen."""
        self.edit_chosen(lambda editor, number: editor.turn(number, by))

    def action_widen(self, by: float) -> None:
        """Make the chosen bridge wider by mm (or narrower, down to the card's least web)."""
        self.edit_chosen(lambda editor, number: editor.widen(number, by))

    def action_pin(self) -> None:
        """Pin the chosen bridge, so that planning keeps it, or unpin it."""
        self.edit_chosen(
            lambda editor, number: editor.pin(number, not editor.motif.bridges[number].pinned)
        )

    def action_delete(self) -> None:
        """Delete the chosen bridge."""
        self.edit_chosen(Editor.delete)

    def action_mirror(self) -> None:
        """Add the mirror image of the chosen bridge about the artwork's axis."""
        self.edit_chosen(Editor.mirror)

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

        self.app.push_screen(HoldStylesDialog(self.services, self.now.motif.hold), plan)

    def action_compare(self) -> None:
        """Compare the plans of all hold styles, and keep one."""
        if self.now is None:
            self.report(NO_MOTIF, "caution")
            return

        def take(chosen: ComparedPlan | None) -> None:
            if chosen is not None:
                self.edit(lambda now: EditState.begin(chosen.motif, now.card))
                self.report(
                    f"{chosen.message} {{bridges.undo}} goes back, {{bridges.keep}} saves it.",
                    "good",
                )

        self.app.push_screen(PlansScreen(self.services, self.now.motif, self.now.card), take)
