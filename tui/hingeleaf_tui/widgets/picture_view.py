"""Widgets that show a picture and repaint only changed cells, with or without a crosshair.

Used instead of Textual's Static, which sends its whole area again for every change.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from rich.segment import Segment
from textual import events
from textual.geometry import Region
from textual.message import Message
from textual.strip import Strip
from textual.widget import Widget

from hingeleaf_tui.widgets.host import Placed, WidgetMessage, host
from hingeleaf_tui.widgets.words import fit, wrap

if TYPE_CHECKING:
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.widgets.style_cache import StyleCache

LONG_GAP = 12
"""Unchanged cells between two changed ones that are skipped; shorter gaps are cheaper to send than
to skip."""


class PictureView(Widget):
    """Shows a picture of characters; unchanged cells are not sent to the terminal again."""

    ALLOW_SELECT = False

    class Resized(WidgetMessage):
        """The view was resized and needs a new picture."""

    def __init__(self, *, id: str | None = None, placeholder: str = "") -> None:
        super().__init__(id=id)
        self._picture: Picture | None = None
        self._placeholder = placeholder
        self._strips: dict[int, Strip] = {}
        self._pens: StyleCache | None = None
        self._pixels: Any = None
        """The widget that shows pixels, if they are used."""

    @property
    def columns(self) -> int:
        """Width in characters."""
        return self.content_size.width

    @property
    def rows(self) -> int:
        """Characters down."""
        return self.content_size.height

    def show(self, picture: Picture) -> None:
        """Show a picture of the view's own size."""
        if picture.dots is not None:
            self._show_pixels(picture)
            return
        self._hide_pixels()
        before, self._picture = self._picture, picture
        if before is None or before.size != picture.size:
            self._strips.clear()
            self.refresh()
            return
        import numpy as np  # not needed for the first screen, which has no picture yet

        changed = (
            (before.signs != picture.signs)
            | (before.front != picture.front)
            | (before.back != picture.back)
        )
        for row in changed.any(axis=1).nonzero()[0].tolist():
            self._strips.pop(row, None)
            columns = changed[row].nonzero()[0]
            splits = (np.diff(columns) > LONG_GAP).nonzero()[0] + 1
            for stretch in np.split(columns, splits):
                first, last = int(stretch[0]), int(stretch[-1])
                self.refresh(Region(first, row, last - first + 1, 1))

    def show_text(self, words: str) -> None:
        """Show a sentence instead of a picture: nothing chosen, loading, an error."""
        self._hide_pixels()
        self._picture, self._placeholder = None, words
        self._strips.clear()
        self.refresh()

    def _show_pixels(self, picture: Picture) -> None:
        from hingeleaf_tui import pixels

        if self._pixels is None:
            self.show_text("")
            self._pixels = pixels.widget()
            self.mount(self._pixels)
        self._pixels.display = True
        self._pixels.image = pixels.image(picture, self.app.theme)

    def _hide_pixels(self) -> None:
        if self._pixels is not None:
            self._pixels.display = False

    def on_resize(self, event: events.Resize) -> None:
        """Request a picture of the new size."""
        self._strips.clear()
        self.post_message(self.Resized(self))

    def notify_style_update(self) -> None:
        """Discard what was made with other colours."""
        self._strips.clear()
        super().notify_style_update()

    def render_line(self, y: int) -> Strip:
        """One row, from the cache if still valid."""
        style_of = host(self).style_of
        if style_of is not self._pens:
            self._pens = style_of
            self._strips.clear()
        if y not in self._strips:
            self._strips[y] = self._line(y, style_of)
        return self._strips[y]

    def _line(self, y: int, style_of: StyleCache) -> Strip:
        if self._picture is None:
            return self._sentence(y, style_of)
        if y >= self._picture.size[1]:
            return Strip.blank(self.columns, style_of())
        segments = [
            Segment(text, style_of(front, back)) for text, front, back in self._picture.runs(y)
        ]
        return Strip(segments, self._picture.size[0]).adjust_cell_length(self.columns, style_of())

    def _sentence(self, y: int, style_of: StyleCache) -> Strip:
        lines = wrap(self._placeholder, max(self.columns - 4, 8))
        place = y - max(self.rows - len(lines), 0) // 2
        line = lines[place] if 0 <= place < len(lines) else ""
        return Strip([Segment(fit(line.center(self.columns), self.columns), style_of("quiet"))])


class AimView(Placed, PictureView, can_focus=True):
    """Takes keys only while a point is being chosen."""

    PLACE = "aim"

    @dataclass
    class Aimed(Message):
        """The crosshair moved by steps to the right and down."""

        across: int
        down: int

    class Confirmed(Message):
        """The point was confirmed."""

    class Cancelled(Message):
        """Choosing a point was cancelled."""

    def action_aim(self, across: int, down: int) -> None:
        """Move the crosshair by a step."""
        self.post_message(self.Aimed(across, down))

    def action_set(self) -> None:
        """Confirm this point."""
        self.post_message(self.Confirmed())

    def action_give_up(self) -> None:
        """Cancel."""
        self.post_message(self.Cancelled())
