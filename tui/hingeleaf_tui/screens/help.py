"""Help, made from the table of actions: what can be done here first, then everything else."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, ClassVar, cast

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from hingeleaf_tui import actions
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.widgets.text_list import Line, TextList

if TYPE_CHECKING:
    from hingeleaf_tui.app import Hingeleaf


class HelpScreen(ModalScreen[None]):
    """Every key with what it does; typing narrows the list, Enter does what is chosen."""

    BINDINGS: ClassVar[list[BindingType]] = [
        Binding("escape,f1", "back", "Back"),
        Binding("down", "into_list", show=False),
    ]
    AUTO_FOCUS = "Input"

    def compose(self) -> ComposeResult:
        """A line to search in, and the list."""
        with Vertical(classes="sheet tall"):
            yield Static("What can be done", classes="title")
            yield Input(placeholder="type to search")
            yield TextList(id="help-list", empty="No action is called like that.")
            yield Static("Esc or F1 goes back.", classes="quiet")

    def on_mount(self) -> None:
        """List everything."""
        self._list()

    @on(Input.Changed)
    def _list(self) -> None:
        wanted = self.query_one(Input).value.lower().split()
        self.query_one(TextList).show(
            [line for line in self._lines() if all(word in line.text.lower() for word in wanted)]
        )

    def action_into_list(self) -> None:
        """From the search into the list."""
        self.query_one(TextList).focus()

    def action_back(self) -> None:
        """Back to the work."""
        self.dismiss()

    def _lines(self) -> Iterator[Line]:
        app = cast("Hingeleaf", self.app)
        below = app.screen_stack[-2]
        here = tuple(reversed(below.places)) if isinstance(below, WorkScreen) else ()
        others = [place for place in actions.PLACES if place not in here]
        for place in (*here, *others):
            for action in actions.at(place):
                keys = actions.all_shown(app.keys_of(action))
                yield Line(f"{keys:<14}{action.says}", action.id, right=actions.PLACES[place])
