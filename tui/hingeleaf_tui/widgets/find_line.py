"""Search line whose Textual input, slow to load, is created on first use."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from textual.message import Message

from hingeleaf_tui.widgets.host import LineWidget, Placed
from hingeleaf_tui.widgets.words import fit

if TYPE_CHECKING:
    from rich.style import Style
    from textual.widgets import Input

    from hingeleaf_tui.widgets.style_cache import StyleCache

LABEL = " Find  "


class FindLine(Placed, LineWidget):
    """Shows the query; `open` lets the user type, `leave` is called at the end."""

    PLACE = "find"

    @dataclass
    class Changed(Message):
        """The query changed."""

        value: str

    def __init__(self, hint: str, leave: Callable[[], None], *, id: str) -> None:
        super().__init__(id=id)
        self._hint, self._leave = hint, leave
        self._value = ""

    @property
    def value(self) -> str:
        """The query."""
        return self._value

    def open(self) -> None:
        """Let the user type."""
        from hingeleaf_tui.widgets.typed_line import TypedLine

        line = TypedLine.within(self)
        if line is None:
            line = TypedLine(
                self._value, take=self._take, placeholder=self._hint, select_on_focus=False
            )
            self.mount(line)
        self.screen.set_focus(line)  # immediately, for keys typed ahead

    def set(self, value: str) -> None:
        """Set another query."""
        self._value = value
        from hingeleaf_tui.widgets.typed_line import TypedLine

        if line := TypedLine.within(self):
            line.retire()
        self.post_message(self.Changed(value))
        self.refresh()

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """The label and the query, or a hint if it is empty."""
        words, kind = (self._value, "") if self._value else (self._hint, "quiet")
        return [
            (LABEL, style_of("quiet")),
            (fit(words, self.size.width - len(LABEL)), style_of(kind)),
        ]

    def on_input_changed(self, event: Input.Changed) -> None:
        """Search while typing."""
        event.stop()
        self._value = event.value.strip()
        self.post_message(self.Changed(self._value))

    def action_to_list(self) -> None:
        """Move the focus to the results."""
        self._leave()

    def _take(self, _: str) -> bool:
        self._leave()
        return True
