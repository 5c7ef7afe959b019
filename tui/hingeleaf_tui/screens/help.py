"""Help, made from the table of actions: what can be done here first, then everything else."""

from __future__ import annotations

from collections.abc import Iterator

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input, Static

from hingeleaf_tui import actions
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.screens.sheet import Sheet
from hingeleaf_tui.widgets.text_list import Line, TextList


class HelpScreen(Sheet[None]):
    """Every key with what it does; typing narrows the list."""

    AUTO_FOCUS = "Input"

    def compose(self) -> ComposeResult:
        """A line to search in, and the list."""
        with Vertical(classes="sheet tall"):
            yield Static("What can be done", classes="title")
            yield Input(placeholder="type to search")
            yield TextList(id="help-list", empty="No action is called like that.")
            yield Static("Esc goes back.", id="sheet-says", classes="quiet")

    def on_mount(self) -> None:
        """List everything."""
        self._list()

    @on(Input.Changed)
    def _list(self) -> None:
        wanted = self.query_one(Input).value.lower().split()
        self.query_one(TextList).show(
            [line for line in self._lines() if all(word in line.text.lower() for word in wanted)]
        )

    def key_down(self) -> None:
        """From the search into the list."""
        self.query_one(TextList).focus()

    def _lines(self) -> Iterator[Line]:
        app = self.hingeleaf
        below = app.screen_stack[-2]
        here = tuple(reversed(below.places)) if isinstance(below, WorkScreen) else ()
        others = [place for place in actions.PLACES if place not in here]
        for place in (*here, *others):
            for action in actions.at(place):
                keys = actions.all_shown(app.keys_of(action))
                yield Line(f"{keys:<14}{action.says}", action.id, right=actions.PLACES[place])
