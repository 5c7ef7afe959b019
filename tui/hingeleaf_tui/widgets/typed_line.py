"""Text input that keeps typed-ahead keys in order and checks its value when left; path suggestions.

A Textual Input, whose validator only marks an invalid value, while this one stays open until it is
valid.
"""

from __future__ import annotations

import os
from collections.abc import Callable, Mapping
from pathlib import Path
from weakref import WeakSet

from textual import events
from textual.suggester import Suggester
from textual.widget import Widget
from textual.widgets import Input

MAX_LISTED = 5000
"""Greatest number of names in a folder that are searched."""


class PathSuggester(Suggester):
    """Suggests whole paths, folders with a trailing slash; → accepts the suggestion."""

    def __init__(self) -> None:
        super().__init__(use_cache=False, case_sensitive=True)

    async def get_suggestion(self, value: str) -> str | None:
        """The completed path; None if there is none."""
        return complete(value)


def complete(typed: str) -> str | None:
    """The first path, by name, that begins with the typed text; hidden ones last."""
    folder, prefix = os.path.split(typed)
    if not typed or (not folder and not prefix):
        return None
    try:
        with os.scandir(Path(folder or ".").expanduser()) as entries:
            fitting = sorted(
                (entry.name.startswith("."), entry.name, entry.is_dir())
                for _, entry in zip(range(MAX_LISTED), entries, strict=False)
                if entry.name.startswith(prefix)
            )
    except OSError:
        return None
    if not fitting:
        return None
    _, name, is_folder = fitting[0]
    return f"{typed[: len(typed) - len(prefix)]}{name}{'/' if is_folder else ''}"


Take = Callable[[str], bool]
"""Receives the typed text; returns whether it was valid, which ends typing."""

ACCEPTS = {"Enter": "Accept"}
LEAVING = {"tab", "shift+tab", "ctrl+q", *(f"f{number}" for number in range(1, 13))}
"""Keys that leave an input for another place."""


class TypedLine(Input):
    """An input without a blinking cursor that keeps typed-ahead keys in order.

    When it opens, such keys may still be on their way to the widget that had the focus before; the
    app forwards those that have not been here yet. With `take`, Enter submits immediately, and
    later keys go to whatever has the focus then. With `leave`, the text is also submitted when
    another key or a click moves the focus; if refused, the input stays open. `keys` are
    shown in the key footer.
    """

    def __init__(
        self,
        value: str = "",
        *,
        take: Take | None = None,
        leave: Take | None = None,
        keys: Mapping[str, str] = ACCEPTS,
        placeholder: str = "",
        suggester: Suggester | None = None,
        select_on_focus: bool = True,
    ) -> None:
        super().__init__(value, placeholder, suggester=suggester, select_on_focus=select_on_focus)
        self.input_keys = keys
        self.cursor_blink = False
        self._take, self._leave = take, leave
        self._over = self.is_closed = False
        self._received: WeakSet[events.Key] = WeakSet()

    def on_focus(self) -> None:
        """Start typing, perhaps again."""
        self._over = False

    def on_blur(self) -> None:
        """Submit the text or keep the focus; not if another window got the focus."""
        if self.app.app_focus and not self._is_done():
            self.call_later(self._go_on)

    def _go_on(self) -> None:
        """Report the refusal again, since the newly focused widget may have overwritten it."""
        if not self._is_done():
            self.screen.set_focus(self)

    def _is_done(self) -> bool:
        return self._leave is None or self.is_closed or self._leave(self.value)

    def close(self) -> None:
        """Hide now, and remove once all pending keys have passed."""
        self._over = self.is_closed = True
        self.display = False
        self.call_later(self.remove)  # runs after all keys that were sent here

    def on_key(self, event: events.Key) -> None:
        """Mark a key as received, and handle Enter."""
        self._received.add(event)
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
        """The input that is open inside a widget, if any."""
        return next((line for line in parent.query(cls) if not line.is_closed), None)

    def has_received(self, event: events.Key) -> bool:
        """Whether a key was already received here."""
        return event in self._received
