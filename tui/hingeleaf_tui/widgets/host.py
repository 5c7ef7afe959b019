"""Interface that widgets need from the app."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, Protocol, cast

if TYPE_CHECKING:
    from textual.screen import Screen
    from textual.widget import Widget

    from hingeleaf_tui.actions import Action
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.widgets.style_cache import StyleCache


class Host(Protocol):
    """The part of the app that widgets use."""

    pens: StyleCache
    ascii: bool
    """Whether only ASCII characters may be used."""

    @property
    def drawing_ink(self) -> Ink:
        """The ink of drawings."""

    def keys_of(self, action: Action) -> str:
        """The current keys of an action."""

    def actions_on(self, screen: Screen[Any]) -> Sequence[Action]:
        """The actions of a screen and of its focused widget."""


def host(widget: Widget) -> Host:
    """The app of a widget."""
    return cast("Host", widget.app)
