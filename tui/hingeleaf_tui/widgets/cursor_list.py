"""Virtual list or grid with a cursor: only visible items are drawn.

Used instead of Textual's OptionList, which stores the text of every option and takes 1.5 s for
20,000 of them; here rows are read from the library as they scroll into view.
"""

from __future__ import annotations

from rich.segment import Segment
from textual import events
from textual.geometry import Region, Size
from textual.reactive import reactive
from textual.scroll_view import ScrollView
from textual.strip import Strip

from hingeleaf_tui.widgets.host import Placed, WidgetMessage, host
from hingeleaf_tui.widgets.words import fit, wrap


class CursorList(Placed, ScrollView, can_focus=True):
    """Items of equal height, one or more per row; subclasses give their count and draw them."""

    PLACE = "list"
    ALLOW_SELECT = False

    cursor = reactive(0, repaint=False)

    class Moved(WidgetMessage):
        """The cursor moved to another row, or to none."""

    class Opened(WidgetMessage):
        """Enter was pressed on a row."""

    def __init__(self, *, id: str | None = None, empty: str = "", enter: str = "") -> None:
        super().__init__(id=id)
        self.empty = empty
        """The sentence shown when there are no rows."""
        self.enter = enter
        """What Enter does with a row, for the key footer; empty if nothing."""
        self.inner_width = 0
        """Columns inside the borders, cached since Textual computes them for every line."""

    @property
    def count(self) -> int:
        """Number of rows."""
        raise NotImplementedError

    @property
    def row_height(self) -> int:
        """Lines per row."""
        return 1

    @property
    def across(self) -> int:
        """Number of items side by side."""
        return 1

    def row_line(self, place: int, line: int, width: int) -> Strip:
        """One line of one item, exactly `width` wide."""
        raise NotImplementedError

    def rows_changed(self, cursor: int) -> None:
        """Measure and repaint after the rows changed, with the cursor on a given row."""
        self._measure()
        self.set_reactive(CursorList.cursor, self.validate_cursor(cursor))
        self._reveal()
        self.refresh()
        self.post_message(self.Moved(self))

    def refresh_row(self, place: int) -> None:
        """Repaint one item."""
        self.refresh_part(place, 0, self.row_height)

    def refresh_cursor(self, place: int) -> None:
        """Repaint the parts of an item that depend on the cursor."""
        self.refresh_row(place)

    def refresh_part(self, place: int, first: int, lines: int) -> None:
        """Repaint some lines of one item."""
        row, column = divmod(place, self.across)
        top, width = row * self.row_height + first, self._item_width
        self.refresh(Region(column * width, top - self.scroll_offset.y, width, lines))

    @property
    def _item_width(self) -> int:
        return self.inner_width // self.across

    def _measure(self) -> None:
        self.inner_width = self.scrollable_content_region.width
        self.virtual_size = Size(0, -(-self.count // self.across) * self.row_height)

    def validate_cursor(self, cursor: int) -> int:
        """Clamp the cursor to the rows."""
        return max(0, min(cursor, self.count - 1))

    def watch_cursor(self, before: int, after: int) -> None:
        """Repaint the two items that changed and post a message."""
        self.refresh_cursor(before)
        self.refresh_cursor(after)
        self._reveal()
        self.post_message(self.Moved(self))

    def action_move(self, rows: int) -> None:
        """Move by rows."""
        if self.cursor + rows * self.across >= 0:
            self.cursor += rows * self.across

    def action_page(self, way: int) -> None:
        """Move by a screenful."""
        self.cursor += way * self.page * self.across

    def action_edge(self, way: int) -> None:
        """Move to the first or last row."""
        self.cursor = 0 if way < 0 else self.count - 1

    def action_open(self) -> None:
        """Open the row under the cursor."""
        if self.count:
            self.post_message(self.Opened(self))

    def on_focus(self) -> None:
        """Repaint the row under the cursor, which looks different with focus."""
        self.refresh_cursor(self.cursor)

    def on_blur(self) -> None:
        """See `on_focus`."""
        self.refresh_cursor(self.cursor)

    def on_resize(self, event: events.Resize) -> None:
        """Measure again, since the row height may have changed."""
        self._measure()
        self._reveal()

    def on_click(self, event: events.Click) -> None:
        """Choose with the mouse."""
        row = int((event.y + self.scroll_offset.y) // self.row_height)
        column = min(int(event.x) // max(self._item_width, 1), self.across - 1)
        self.cursor = row * self.across + column

    @property
    def page(self) -> int:
        """Number of visible rows."""
        return max(1, self.size.height // self.row_height)

    def render_line(self, y: int) -> Strip:
        """One line of one row, or of the sentence shown if there are none."""
        width = self.inner_width = self.scrollable_content_region.width
        if not self.count:
            return self._no_rows(y, width)
        row, line = divmod(y + self.scroll_offset.y, self.row_height)
        places = range(row * self.across, min((row + 1) * self.across, self.count))
        items = [self.row_line(place, line, self._item_width) for place in places]
        return Strip.join(items).adjust_cell_length(width, host(self).style_of())

    def row_back(self, place: int) -> tuple[str, str]:
        """Foreground and background styles of a row: both empty except under the cursor."""
        if place != self.cursor:
            return "", ""
        return ("chosen-ink", "chosen-back") if self.has_focus else ("", "raised")

    def cursor_sign(self, place: int) -> str:
        """Sign of the row under the cursor, so that no colour is needed."""
        return "▸" if place == self.cursor else " "

    def _reveal(self) -> None:
        """Scroll by half a screen, so that most moves repaint only two rows."""
        top = round(self.scroll_offset.y / self.row_height)
        half = max(1, self.page // 2)
        row = self.cursor // self.across
        if row < top:
            top = row - half + 1
        elif row >= top + self.page:
            top = row - self.page + half
        else:
            return
        self.scroll_to(y=max(top, 0) * self.row_height, animate=False, immediate=True)

    def _no_rows(self, y: int, width: int) -> Strip:
        style_of = host(self).style_of
        lines = wrap(self.empty, max(width - 3, 8))
        line = lines[y] if y < len(lines) else ""
        return Strip([Segment(fit(f" {line}", width), style_of("quiet"))], width)
