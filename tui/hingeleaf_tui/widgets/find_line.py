"""Search line: a labelled input whose text is searched for as it is typed."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from textual.containers import Horizontal
from textual.message import Message
from textual.widget import Widget
from textual.widgets import Input, Static

from hingeleaf_tui.widgets.host import Placed
from hingeleaf_tui.widgets.typed_line import TypedLine


class FindLine(Placed, Horizontal):
    """Shows the query; `open` lets the user type, `leave` is called at the end."""

    PLACE = "find"

    @dataclass
    class Changed(Message):
        """The query changed."""

        value: str

    def __init__(self, hint: str, leave: Callable[[], None], *, id: str) -> None:
        super().__init__(id=id)
        self._hint, self._leave = hint, leave

    def compose(self) -> Iterator[Widget]:
        """The label and the input."""
        yield Static("Find", classes="quiet")
        yield TypedLine(take=self._take, keys={}, placeholder=self._hint, select_on_focus=False)

    @property
    def value(self) -> str:
        """The query."""
        return self.query_one(TypedLine).value.strip()

    def open(self) -> None:
        """Let the user type."""
        self.screen.set_focus(self.query_one(TypedLine))  # immediately, for keys typed ahead

    def set(self, value: str) -> None:
        """Set another query."""
        self.query_one(TypedLine).value = value

    def on_input_changed(self, event: Input.Changed) -> None:
        """Search while typing."""
        event.stop()
        self.post_message(self.Changed(self.value))

    def action_to_list(self) -> None:
        """Move the focus to the results."""
        self._leave()

    def _take(self, _: str) -> bool:
        self._leave()
        return True
