"""Text input that keeps typed-ahead keys in order and checks its value when left.

A Textual Input; its validator only marks a wrong value, while this one stays until it is right.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from textual import events
from textual.widget import Widget
from textual.widgets import Input

Take = Callable[[str], bool]
"""Gets what was typed; whether it could be used, which is the end of typing."""

LEAVING = {"tab", "shift+tab", "ctrl+q", *(f"f{number}" for number in range(1, 13))}
"""Keys that lead elsewhere from a line that is typed in."""


class TypedLine(Input):
    """An input without a blinking cursor, that keeps keys typed ahead in their order.

    When it is opened, such keys may still be on their way to what had the focus before; the app
    sends those here, since they lack the mark of having been here. With `take`, Enter counts at
    once, and what is typed after it goes on to what has the focus then. With `leave`, what is typed
    counts as well when another key or a click leads elsewhere; what it refuses stays to be fixed.
    """

    def __init__(
        self, value: str = "", *, take: Take | None = None, leave: Take | None = None, **named: Any
    ) -> None:
        super().__init__(value, **named)
        self.cursor_blink = False
        self._take, self._leave = take, leave
        self._over = self.is_retired = False

    def on_focus(self) -> None:
        """Begin to type, perhaps again."""
        self._over = False

    def on_blur(self) -> None:
        """Take what was typed, or go on typing; but not because another window is used."""
        if self.app.app_focus and not self._is_done():
            self.call_later(self._go_on)

    def _go_on(self) -> None:
        """Refuse again, since what got the focus may have said something else meanwhile."""
        if not self._is_done():
            self.screen.set_focus(self)

    def _is_done(self) -> bool:
        return self._leave is None or self.is_retired or self._leave(self.value)

    def retire(self) -> None:
        """Go out of sight now, and away once the keys that are on their way here have passed."""
        self._over = self.is_retired = True
        self.display = False
        self.call_later(self.remove)  # its turn comes after all keys that were sent here

    def on_key(self, event: events.Key) -> None:
        """Mark a key as received, and act on Enter."""
        event.received_by = self  # type: ignore[attr-defined]
        if self._over:
            event.prevent_default()
            focused = self.app.focused
            if focused not in (None, self):
                event.stop()
                focused.post_message(events.Key(event.key, event.character))
        elif event.key == "enter" and self._take is not None:
            event.stop()
            event.prevent_default()
            self._over = self._take(self.value)
        elif event.key in LEAVING and not self._is_done():
            event.stop()
            event.prevent_default()

    @classmethod
    def within(cls, parent: Widget) -> TypedLine | None:
        """The line that is typed in there now, if any."""
        return next((line for line in parent.query(cls) if not line.is_retired), None)

    def has_received(self, event: events.Key) -> bool:
        """Whether a key has been here."""
        return getattr(event, "received_by", None) is self
