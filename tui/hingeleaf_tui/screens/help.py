"""Help and command palette: search actions and run them.

Used instead of Textual's command palette, which has no column of keys, does not show the place of
an action, and marks its input with an emoji.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input, Static

from hingeleaf_tui import action_search, actions
from hingeleaf_tui.messages import RunAction
from hingeleaf_tui.screens.dialogs import SearchDialog
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.text_list import TextList, TextRow
from hingeleaf_tui.widgets.typed_line import TypedLine

if TYPE_CHECKING:
    from hingeleaf_tui.services import Services


class HelpScreen(SearchDialog[None]):
    """Every action with its key; typing filters the list, Enter runs the chosen action."""

    def __init__(self, services: Services, here: Sequence[str]) -> None:
        super().__init__()
        self.services, self._here = services, here

    def compose(self) -> ComposeResult:
        """An input for searching, and the list."""
        with Vertical(classes="sheet tall"):
            yield Static("What can be done", classes="title")
            yield TypedLine(placeholder="type what you want to do")
            yield TextList(id="help-list", empty="No action is called that.")
            yield Static("Enter does it, Esc goes back.", id="dialog-message", classes="quiet")

    def on_mount(self) -> None:
        """List all actions."""
        self._list()

    @on(Input.Changed)
    def _list(self) -> None:
        found = action_search.search(self.query_one(TypedLine).value, self._here)
        lines = [self._line(action) for action in found]
        listed = self.query_one(TextList)
        listed.show(lines)
        listed.cursor = 0

    @on(Input.Submitted)
    @on(CursorList.Opened)
    def _do(self) -> None:
        if line := self.query_one(TextList).chosen:
            self.app.post_message(RunAction(line.key))
            self.dismiss()

    def _line(self, action: actions.Action) -> TextRow:
        keys = actions.all_shown(self.services.keys_of(action))
        return TextRow(f"{keys:<14}{action.help}", action.id, right=actions.PLACES[action.place])
