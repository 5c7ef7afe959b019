"""Dialog that lists saved panels, to open or remove one."""

from __future__ import annotations

from typing import TYPE_CHECKING, ClassVar

from textual.binding import BindingType

from hingeleaf_tui import actions
from hingeleaf_tui.messages import MotifsChanged
from hingeleaf_tui.panel_lists import saved_panels
from hingeleaf_tui.screens.dialogs import ActingList, QuestionDialog
from hingeleaf_tui.widgets.text_list import TextList

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf_tui.forms.order_forms import OrderFacts
    from hingeleaf_tui.services import Services


class SavedPanels(ActingList):
    """Choose a saved panel, or remove one after asking."""

    PLACE = "saved"
    BINDINGS: ClassVar[list[BindingType]] = [
        *actions.bindings("sheet"),
        *actions.bindings("saved"),
    ]

    def __init__(self, services: Services, title: str, chosen: str = "") -> None:
        empty = "No panel is saved yet. Press s on a filled one to save it."
        super().__init__(services, title, saved_panels, chosen, empty)
        self._from_bench = ""
        """A removed panel that is still open, unchanged, on the panel screen."""

    def hint(self) -> str:
        """The keys, as a hint."""
        keys = (
            f"{self.key_of('facts')} notes the order, {self.key_of('lay')} writes sheets of many, "
            f"{self.key_of('remove')} removes it, / finds"
        )
        return f"Enter opens it, {keys}, Esc goes back."

    def action_facts(self) -> None:
        """Set the panel's customer, due date and number of cut copies."""
        from hingeleaf_tui.screens.orders import OrderFactsDialog, facts_of

        line = self.chosen
        if line is None:
            self.report("There is no panel to note it of.", "caution")
            return

        def ask(facts: OrderFacts) -> None:
            dialog = OrderFactsDialog(self.services, line.key, facts)
            self.app.push_screen(dialog, lambda _: self._show_again(line.key))

        self.services.library.submit(
            None, lambda library: facts_of(library, line.key), ask, self.refuse
        )

    def action_lay(self) -> None:
        """Lay out saved panels on sheets."""
        from hingeleaf_tui.screens.orders import SheetsDialog

        self.app.push_screen(SheetsDialog(self.services))

    def action_remove(self) -> None:
        """Ask whether to remove the panel under the cursor."""
        if line := self.chosen:
            self.app.push_screen(
                QuestionDialog(
                    f"Remove the panel {line.key}? Its motifs stay in the library.",
                    {"y": "Remove it; undo restores it", "n": "Keep it"},
                ),
                lambda answer: self._remove(line.key) if answer == "y" else None,
            )
        else:
            self.report("There is no panel to remove.", "caution")

    def action_undo(self) -> None:
        """Undo the last change to the library."""
        self.services.library.submit(
            None, lambda library: library.undo(), self._undone, self.refuse
        )

    def _remove(self, name: str) -> None:
        def act(library: Library) -> None:
            library.panels.remove(name)

        self.services.library.submit(None, act, lambda _: self._removed(name), self.refuse)

    def _removed(self, name: str) -> None:
        session = self.services.panel
        if session.name == name and session.filled and not session.unsaved:
            self._from_bench = name
            session.mark_unsaved()
        self._show_again(self._beside(name))
        self.report(f"Removed {name}. {self.key_of('undo')} restores it.", "good")

    def _undone(self, what: str | None) -> None:
        session = self.services.panel
        if self._from_bench and what == f"Remove panel {self._from_bench}":
            self._from_bench = ""
            session.mark_saved()
        self._show_again((what or "").rpartition(" ")[2])
        self.report(f"Undone: {what}." if what else "There is nothing to undo.", "good")

    def _show_again(self, chosen: str) -> None:
        self.show_again(chosen)
        self.post_message(MotifsChanged())  # which also updates the panel screen

    def _beside(self, name: str) -> str:
        """The panel after another in the list, or before it if it is the last."""
        keys = [line.key for line in self.query_one(TextList).lines]
        place = keys.index(name) if name in keys else 0
        return [*keys[place + 1 : place + 2], *keys[max(place - 1, 0) : place], ""][0]
