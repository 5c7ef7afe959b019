"""List of text lines with a sign, a right-hand column and a cursor that keeps its row.

Used instead of Textual's OptionList, which has no columns and loses its cursor when rows change.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from rich.segment import Segment
from textual.strip import Strip

from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.host import host
from hingeleaf_tui.widgets.words import fit, wrap


@dataclass(frozen=True, slots=True)
class TextRow:
    """One row: its text, and its key in code."""

    text: str
    key: str = ""
    right: str = ""
    sign: str = ""
    """One or two characters before the text."""
    kind: str = ""
    """good, caution, fault or quiet."""


class TextList(CursorList):
    """Rows of `height` lines; long text wraps to the next."""

    def __init__(
        self, *, id: str | None = None, empty: str = "", enter: str = "", height: int = 1
    ) -> None:
        super().__init__(id=id, empty=empty, enter=enter)
        self.lines: Sequence[TextRow] = ()
        self._height = height

    @property
    def count(self) -> int:
        """Number of rows."""
        return len(self.lines)

    @property
    def row_height(self) -> int:
        """Lines per row."""
        return self._height

    @property
    def chosen(self) -> TextRow | None:
        """The row under the cursor."""
        return self.lines[self.cursor] if self.lines else None

    def show(self, lines: Sequence[TextRow], empty: str | None = None) -> None:
        """Show other rows; the cursor stays on the row with the same key."""
        before, chosen = self.lines, self.chosen.key if self.chosen else None
        self.lines = lines
        self.empty = self.empty if empty is None else empty
        places = [place for place, line in enumerate(lines) if line.key == chosen]
        cursor = places[0] if places else 0
        if lines and len(lines) == len(before) and cursor == self.cursor:
            for place, (old, new) in enumerate(zip(before, lines, strict=True)):
                if old != new:
                    self.refresh_row(place)
        else:
            self.rows_changed(cursor)

    def row_line(self, place: int, line: int, width: int) -> Strip:
        """One line of one row."""
        row, style_of = self.lines[place], host(self).style_of
        ink, back = self.row_back(place)
        sign = f"{self.cursor_sign(place)}{row.sign} " if line == 0 else " " * (len(row.sign) + 2)
        right = f" {row.right} " if row.right and line == 0 else " "
        room = width - len(sign) - len(right)
        if self.row_height == 1:
            text = row.text
        else:
            pieces = wrap(row.text, room)
            last = self.row_height - 1
            whole = [*pieces[:last], " ".join(pieces[last:])]
            text = whole[line] if line < len(whole) else ""
        return Strip(
            [
                Segment(sign, style_of(ink or row.kind or "accent", back, "bold")),
                Segment(fit(text, room), style_of(ink, back)),
                Segment(right, style_of(ink or "quiet", back)),
            ],
            width,
        )
