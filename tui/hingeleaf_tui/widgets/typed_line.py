"""The line that is typed in, everywhere in the app."""

from __future__ import annotations

from typing import Any

from textual import events
from textual.widgets import Input


class TypedLine(Input):
    """An input without a blinking cursor: an idle screen sends nothing.

    It marks the keys that reach it. When it is opened, keys typed ahead may still be on their way
    to what had the focus before; the app sends those, which have no mark, here in their order.
    """

    def __init__(self, value: str = "", **named: Any) -> None:
        super().__init__(value, **named)
        self.cursor_blink = False

    def on_key(self, event: events.Key) -> None:
        """Mark a key as received."""
        event.received_by = self  # type: ignore[attr-defined]

    def has_received(self, event: events.Key) -> bool:
        """Whether a key has been here."""
        return getattr(event, "received_by", None) is self
