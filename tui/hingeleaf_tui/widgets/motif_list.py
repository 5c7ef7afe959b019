"""Motifs as a list with thumbnails or as a contact sheet, read as they scroll into view."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
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


CELLS = ((18, 9), (28, 14), (40, 20))
"""Columns and lines of one motif on the contact sheet, from small to large."""
MOST_KNOWN = 1000
"""Motifs whose drawings are remembered."""


@dataclass(frozen=True, slots=True)
class Row:
    """What the list shows of one motif."""

    name: str
    under: str
    """The second line: tags."""
    right: str
    """At the end of the first line: the size."""
    picture: Picture
    drawn: dict[tuple[int, str, str], list[Segment]] = field(default_factory=dict, compare=False)
    """Lines of the picture as they were drawn before."""


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
        self.zoom = 0
        """0 is the list; from 1 on the contact sheet, with ever larger drawings."""

    @property
    def cell(self) -> tuple[int, int] | None:
        """Columns and lines of one motif on the contact sheet; None for the list."""
        return CELLS[self.zoom - 1] if self.zoom else None

    @property
    def across(self) -> int:
        """How many motifs stand side by side."""
        return max(1, self.inner_width // self.cell[0]) if self.cell else 1

    def set_zoom(self, zoom: int) -> bool:
        """List motifs, or show them as a contact sheet; whether that is any different."""
        zoom = max(0, min(zoom, len(CELLS)))
        if zoom == self.zoom:
            return False
        self.zoom = zoom
        self.rows_changed(self.cursor)
        return True

    @property
    def count(self) -> int:
        """How many motifs are listed."""
        return len(self.keys)

    @property
    def row_height(self) -> int:
        """Lines per motif, in a list by the height of the screen."""
        if self.cell:
            return self.cell[1]
        return 3 if self.app.size.height >= TALL_SCREEN else 2

    @property
    def picture_size(self) -> tuple[int, int]:
        """Columns and rows of the drawings."""
        if self.cell:
            return self._item_width - 2, self.cell[1] - 2
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
        for key in list(self._rows)[: len(self._rows) - MOST_KNOWN]:
            del self._rows[key]
        for place, key in enumerate(self._near(0), self._first):
            if key in rows:
                self.refresh_row(place)

    def refresh_cursor(self, place: int) -> None:
        """Repaint what the cursor changes: on the contact sheet the name below a drawing."""
        if self.cell:
            self.refresh_part(place, self.row_height - 2, 1)
        else:
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
            self.refresh_cursor(self.cursor)
            self.cursor += 1

    def row_line(self, place: int, line: int, width: int) -> Strip:
        """One line of one motif."""
        key = self.keys[place]
        row = self._row(key)
        if row is None:
            self._want()
        ink, back = self.row_back(place)
        pens = host(self).pens
        if self.cell:
            return self._cell_line(place, row, line, width)
        sign = self._signs(place) if line == 0 else "  "
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

    def _signs(self, place: int) -> str:
        """What marks the motif under the cursor, and the marked ones."""
        mark = "*" if host(self).ascii else "●"
        return self.cursor_sign(place) + (mark if self.keys[place] in self.marked else " ")

    def _cell_line(self, place: int, row: Row | None, line: int, width: int) -> Strip:
        """One line of a motif on the contact sheet: its drawing, then its name."""
        pens = host(self).pens
        if line < self.row_height - 2:
            drawing = self._drawing(row, line, "", "")
            return Strip([Segment(" ", pens()), *drawing, Segment(" ", pens())], width)
        if line == self.row_height - 1:
            return Strip.blank(width, pens())
        ink, back = self.row_back(place)
        name = self._signs(place) + fit(self.keys[place], width - 3)
        weight = "bold" if place == self.cursor else ""
        return Strip([Segment(name, pens(ink, back, weight)), Segment(" ", pens())], width)

    def _row(self, key: str) -> Row | None:
        """What is known of a motif. A drawing of the height before a resize is of no use."""
        row = self._rows.get(key)
        return row if row and row.picture.size == self.picture_size else None

    def _drawing(self, row: Row | None, line: int, ink: str, back: str) -> list[Segment]:
        pens = host(self).pens
        if row is None:
            return [Segment(" " * self.picture_size[0], pens("", back))]
        if (line, ink, back) not in row.drawn:
            # Windows in the ink of the words: a scrolled list then changes colours half as often.
            row.drawn[line, ink, back] = [
                Segment(text, pens(ink or ("" if front == "window" else front), back or behind))
                for text, front, behind in row.picture.runs(line)
            ]
        return row.drawn[line, ink, back]

    @property
    def _first(self) -> int:
        """The number of the topmost motif in sight."""
        return max(0, self.scroll_offset.y // self.row_height) * self.across

    def _near(self, around: int) -> Sequence[str]:
        """The motifs in sight, and so many before and after them."""
        seen = (self.page + 1) * self.across
        return self.keys[max(0, self._first - around) : self._first + seen + around]

    def watch_scroll_y(self, old: float, new: float) -> None:
        """Read what may come into sight next, so that it is painted once, with its drawing."""
        super().watch_scroll_y(old, new)
        self._want()

    def _want(self) -> None:
        near = self._near(self.across if self.cell else self.page)
        unknown = (key for key in near if not self._row(key) and key not in self._asked)
        if wanted := tuple(unknown):
            self._asked.update(wanted)
            self.post_message(self.Wanted(wanted, self.picture_size))
