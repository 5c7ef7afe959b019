"""Help and command palette: finds an action by its words and runs it."""

from __future__ import annotations

from collections.abc import Iterator

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input, Static

from hingeleaf_tui import actions
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.screens.dialogs import Dialog
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.text_list import Line, TextList
from hingeleaf_tui.widgets.typed_line import TypedLine


class HelpScreen(Dialog[None]):
    """Every key with what it does; typing narrows the list, Enter does what is chosen."""

    AUTO_FOCUS = "TypedLine"

    def compose(self) -> ComposeResult:
        """A line to search in, and the list."""
        with Vertical(classes="sheet tall"):
            yield Static("What can be done", classes="title")
            yield TypedLine(placeholder="type to search")
            yield TextList(id="help-list", empty="No action is called like that.")
            yield Static("Enter does it, Esc goes back.", id="sheet-says", classes="quiet")

    def on_mount(self) -> None:
        """List everything."""
        self._list()

    @on(Input.Changed)
    def _list(self) -> None:
        wanted = self.query_one(TypedLine).value.lower().split()
        self.query_one(TextList).show(
            [line for line in self._lines() if all(word in line.text.lower() for word in wanted)]
        )

    def key_down(self) -> None:
        """From the search into the list."""
        self.query_one(TextList).focus()

    @on(Input.Submitted)
    @on(CursorList.Opened)
    def _do(self) -> None:
        line, below = self.query_one(TextList).chosen, self._below
        if line is None or below is None:
            return
        action = actions.find(line.key)
        owners = {"everywhere": self.app, below.PLACE: below}
        owner = owners.get(action.place) or below.focused
        if getattr(owner, "PLACE", action.place) != action.place:
            self.say(f"That is for another place: {actions.PLACES[action.place]}.", "caution")
            return
        self.dismiss()
        self.app.call_later(self.app.run_action, action.name, owner)

    @property
    def _below(self) -> WorkScreen | None:
        """The screen that help is about."""
        below = self.app.screen_stack[-2]
        return below if isinstance(below, WorkScreen) else None

    def _lines(self) -> Iterator[Line]:
        here = tuple(reversed(self._below.places)) if self._below else ()
        others = [place for place in actions.PLACES if place not in here]
        for place in (*here, *others):
            for action in actions.at(place):
                keys = actions.all_shown(self.hingeleaf.keys_of(action))
                yield Line(f"{keys:<14}{action.says}", action.id, right=actions.PLACES[place])
