"""List of motifs with thumbnails, read as they scroll into view."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from rich.segment import Segment
from textual.message import Message
from textual.strip import Strip

from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.host import host
from hingeleaf_tui.widgets.words import fit

if TYPE_CHECKING:
    from hingeleaf_tui.drawing.canvas import Picture

TALL_SCREEN = 34
"""From this many lines on, rows are three lines high instead of two."""


@dataclass(frozen=True, slots=True)
class Row:
    """What the list shows of one motif."""

    name: str
    under: str
    """The second line: tags."""
    right: str
    """At the end of the first line: the size."""
    picture: Picture


class MotifList(CursorList):
    """Motifs by name; asks for those that come into sight with `Wanted`."""

    @dataclass
    class Wanted(Message):
        """These motifs are in sight and not known yet; answer with `know`."""

        keys: tuple[str, ...]
        picture_size: tuple[int, int]

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.keys: Sequence[str] = ()
        self.marked: set[str] = set()
        self._rows: dict[str, Row] = {}
        self._asked: set[str] = set()

    @property
    def count(self) -> int:
        """How many motifs are listed."""
        return len(self.keys)

    @property
    def row_height(self) -> int:
        """Lines per motif, by the height of the screen."""
        return 3 if self.app.size.height >= TALL_SCREEN else 2

    @property
    def picture_size(self) -> tuple[int, int]:
        """Columns and rows of the small drawings."""
        return self.row_height * 2 + 1, self.row_height

    @property
    def chosen(self) -> str | None:
        """The motif under the cursor."""
        return self.keys[self.cursor] if self.keys else None

    def show(self, keys: Sequence[str], empty: str) -> None:
        """List other motifs. The cursor stays with its motif where that is still there.

        `empty` is the sentence shown when there are none.
        """
        before = self.chosen
        self.keys, self.empty = keys, empty
        self.rows_changed(keys.index(before) if before in keys else self.cursor)

    def know(self, rows: dict[str, Row]) -> None:
        """Take in rows that were wanted."""
        self._rows.update(rows)
        self._asked -= rows.keys()
        for place, key in enumerate(self._near(0), self._first):
            if key in rows:
                self.refresh_row(place)

    def forget(self, keys: Iterable[str] | None = None) -> None:
        """Read these motifs again when they are next in sight; all of them by default."""
        for key in list(self._rows) if keys is None else keys:
            self._rows.pop(key, None)
        self._asked.clear()
        self.refresh()

    def choose(self, key: str) -> None:
        """Put the cursor on a motif, if it is listed."""
        if key in self.keys:
            self.cursor = self.keys.index(key)

    def toggle_mark(self) -> None:
        """Mark the chosen motif, or take its mark away, and go on to the next."""
        if self.chosen:
            self.marked ^= {self.chosen}
            self.refresh_row(self.cursor)
            self.cursor += 1

    def row_line(self, place: int, line: int, width: int) -> Strip:
        """One line of one motif."""
        key = self.keys[place]
        row = self._row(key)
        if row is None:
            self._want()
        sign = "  "
        if line == 0:
            mark = "*" if host(self).ascii else "●"
            sign = self.cursor_sign(place) + (mark if key in self.marked else " ")
        ink, back = self.row_back(place)
        pens = host(self).pens
        segments = [Segment(sign, pens(ink or "accent", back))]
        segments += self._drawing(row, line, ink, back)
        room = width - len(sign) - self.picture_size[0] - 2
        if line == 0:
            right = row.right if row else ""
            name = fit(key, room - len(right) - 1)
            weight = "bold" if place == self.cursor else ""
            segments.append(Segment(f" {name} ", pens(ink, back, weight)))
            segments.append(Segment(f"{right} ", pens(ink, back)))
        else:
            under = row.under if row and line == 1 else ""
            segments.append(Segment(f" {fit(under, room)} ", pens(ink or "quiet", back)))
        return Strip(segments, width)

    def _row(self, key: str) -> Row | None:
        """What is known of a motif. A drawing of the height before a resize is of no use."""
        row = self._rows.get(key)
        return row if row and row.picture.size == self.picture_size else None

    def _drawing(self, row: Row | None, line: int, ink: str, back: str) -> list[Segment]:
        pens = host(self).pens
        if row is None:
            return [Segment(" " * self.picture_size[0], pens("", back))]
        # Windows in the ink of the words: a scrolled list then changes colours half as often.
        return [
            Segment(text, pens(ink or ("" if front == "window" else front), back or behind))
            for text, front, behind in row.picture.runs(line)
        ]

    @property
    def _first(self) -> int:
        """The number of the topmost motif in sight."""
        return max(0, self.scroll_offset.y // self.row_height)

    def _near(self, around: int) -> Sequence[str]:
        """The motifs in sight, and so many before and after them."""
        return self.keys[max(0, self._first - around) : self._first + self.page + 1 + around]

    def watch_scroll_y(self, old: float, new: float) -> None:
        """Read what may come into sight next, so that it is painted once, with its drawing."""
        super().watch_scroll_y(old, new)
        self._want()

    def _want(self) -> None:
        near = self._near(self.page)
        unknown = (key for key in near if not self._row(key) and key not in self._asked)
        if wanted := tuple(unknown):
            self._asked.update(wanted)
            self.post_message(self.Wanted(wanted, self.picture_size))
