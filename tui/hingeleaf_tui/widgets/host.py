"""Base classes of widgets: access to the app, keys by place, messages that name their widget."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, ClassVar, Protocol, cast

from rich.segment import Segment
from rich.style import Style
from textual.binding import BindingType
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from hingeleaf_tui import actions

if TYPE_CHECKING:
    from hingeleaf_tui.widgets.style_cache import StyleCache


class Host(Protocol):
    """The part of the app that widgets use."""

    style_of: StyleCache


def host(widget: Widget) -> Host:
    """The app of a widget."""
    return cast("Host", widget.app)


class LineWidget(Widget):
    """A widget that is drawn line by line from styled pieces."""

    ALLOW_SELECT = False

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """The pieces of one line, from left to right; the rest is padded with blanks."""
        raise NotImplementedError

    def render_line(self, y: int) -> Strip:
        """Render one line."""
        style_of = host(self).style_of
        segments = [Segment(text, style) for text, style in self.pieces(y, style_of)]
        return Strip(segments).adjust_cell_length(self.size.width, style_of())


class Placed:
    """A widget or screen whose keys are those of its place in the action table."""

    BINDINGS: ClassVar[list[BindingType]] = []

    def __init_subclass__(cls, **options: object) -> None:
        if "PLACE" in vars(cls):
            cls.BINDINGS = [*actions.bindings(vars(cls)["PLACE"])]
        super().__init_subclass__(**options)


@dataclass
class WidgetMessage(Message):
    """A message about a widget, so that `on` can select messages by the widget's id."""

    widget: Widget

    @property
    def control(self) -> Widget:
        """The widget itself."""
        return self.widget
