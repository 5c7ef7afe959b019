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
"""Screen lines from which rows are three lines high instead of two."""


CELLS = ((18, 9), (28, 14), (40, 20))
"""Columns and lines per motif on the contact sheet, from small to large."""
MAX_CACHED = 1000
"""Number of motifs whose drawings are cached."""


@dataclass(frozen=True, slots=True)
class Row:
    """The list's data of one motif."""

    name: str
    under: str
    """The second line: tags."""
    right: str
    """At the end of the first line: the size."""
    picture: Picture
    drawn: dict[tuple[int, str, str], list[Segment]] = field(default_factory=dict, compare=False)
    """Cached lines of the picture."""


class MotifList(CursorList):
    """Motifs by name; requests data of those that become visible with `Wanted`."""

    @dataclass
    class Wanted(Message):
        """These motifs are visible and not loaded yet; answer with `know`."""

        keys: tuple[str, ...]
        picture_size: tuple[int, int]

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self.keys: Sequence[str] = ()
        self.marked: set[str] = set()
        self._rows: dict[str, Row] = {}
        self._asked: set[str] = set()
        self.zoom = 0
        """0 is the list; from 1 on the contact sheet, with increasingly large drawings."""

    @property
    def cell(self) -> tuple[int, int] | None:
        """Columns and lines per motif on the contact sheet; None for the list."""
        return CELLS[self.zoom - 1] if self.zoom else None

    @property
    def across(self) -> int:
        """Number of motifs side by side."""
        return max(1, self.inner_width // self.cell[0]) if self.cell else 1

    def set_zoom(self, zoom: int) -> bool:
        """Switch between list and contact sheet sizes; returns whether anything changed."""
        zoom = max(0, min(zoom, len(CELLS)))
        if zoom == self.zoom:
            return False
        self.zoom = zoom
        self.rows_changed(self.cursor)
        return True

    @property
    def count(self) -> int:
        """Number of motifs listed."""
        return len(self.keys)

    @property
    def row_height(self) -> int:
        """Lines per motif; in a list they depend on the screen's height."""
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
        """List other motifs. The cursor stays on its motif if that is still listed.

        `empty` is the sentence shown if there are none.
        """
        before = self.chosen
        self.keys, self.empty = keys, empty
        self.rows_changed(keys.index(before) if before in keys else self.cursor)

    def know(self, rows: dict[str, Row]) -> None:
        """Store rows that were requested."""
        self._rows.update(rows)
        self._asked -= rows.keys()
        for key in list(self._rows)[: len(self._rows) - MAX_CACHED]:
            del self._rows[key]
        for place, key in enumerate(self._near(0), self._first):
            if key in rows:
                self.refresh_row(place)

    def refresh_cursor(self, place: int) -> None:
        """Repaint what the cursor changes: on the contact sheet, the name below a drawing."""
        if self.cell:
            self.refresh_part(place, self.row_height - 2, 1)
        else:
            self.refresh_row(place)

    def forget(self, keys: Iterable[str] | None = None) -> None:
        """Reload these motifs when they are next visible; by default all."""
        for key in list(self._rows) if keys is None else keys:
            self._rows.pop(key, None)
        self._asked.clear()
        self.refresh()

    def choose(self, key: str) -> None:
        """Move the cursor to a motif, if it is listed."""
        if key in self.keys:
            self.cursor = self.keys.index(key)

    def toggle_mark(self) -> None:
        """Mark or unmark the chosen motif, and move to the next."""
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
        style_of = host(self).style_of
        if self.cell:
            return self._cell_line(place, row, line, width)
        sign = self._signs(place) if line == 0 else "  "
        segments = [Segment(sign, style_of(ink or "accent", back))]
        segments += self._drawing(row, line, ink, back)
        room = width - len(sign) - self.picture_size[0] - 2
        if line == 0:
            right = row.right if row else ""
            name = fit(key, room - len(right) - 1)
            weight = "bold" if place == self.cursor else ""
            segments.append(Segment(f" {name} ", style_of(ink, back, weight)))
            segments.append(Segment(f"{right} ", style_of(ink, back)))
        else:
            under = row.under if row and line == 1 else ""
            segments.append(Segment(f" {fit(under, room)} ", style_of(ink or "quiet", back)))
        return Strip(segments, width)

    def _signs(self, place: int) -> str:
        """Signs of the motif under the cursor and of marked ones."""
        return self.cursor_sign(place) + ("●" if self.keys[place] in self.marked else " ")

    def _cell_line(self, place: int, row: Row | None, line: int, width: int) -> Strip:
        """One line of a motif on the contact sheet: its drawing, then its name."""
        style_of = host(self).style_of
        if line < self.row_height - 2:
            drawing = self._drawing(row, line, "", "")
            return Strip([Segment(" ", style_of()), *drawing, Segment(" ", style_of())], width)
        if line == self.row_height - 1:
            return Strip.blank(width, style_of())
        ink, back = self.row_back(place)
        name = self._signs(place) + fit(self.keys[place], width - 3)
        weight = "bold" if place == self.cursor else ""
        return Strip([Segment(name, style_of(ink, back, weight)), Segment(" ", style_of())], width)

    def _row(self, key: str) -> Row | None:
        """The loaded row of a motif; None if its drawing has an outdated height."""
        row = self._rows.get(key)
        return row if row and row.picture.size == self.picture_size else None

    def _drawing(self, row: Row | None, line: int, ink: str, back: str) -> list[Segment]:
        style_of = host(self).style_of
        if row is None:
            return [Segment(" " * self.picture_size[0], style_of("", back))]
        if (line, ink, back) not in row.drawn:
            # Windows in the text colour, so that a scrolled list has half as many colour changes.
            row.drawn[line, ink, back] = [
                Segment(text, style_of(ink or ("" if front == "window" else front), back or behind))
                for text, front, behind in row.picture.runs(line)
            ]
        return row.drawn[line, ink, back]

    @property
    def _first(self) -> int:
        """Index of the topmost visible motif."""
        return max(0, self.scroll_offset.y // self.row_height) * self.across

    def _near(self, around: int) -> Sequence[str]:
        """The visible motifs, and `around` of them before and after."""
        seen = (self.page + 1) * self.across
        return self.keys[max(0, self._first - around) : self._first + seen + around]

    def watch_scroll_y(self, old: float, new: float) -> None:
        """Load motifs that may become visible next, so that they are painted once, with drawing."""
        super().watch_scroll_y(old, new)
        self._want()

    def _want(self) -> None:
        near = self._near(self.across if self.cell else self.page)
        unknown = (key for key in near if not self._row(key) and key not in self._asked)
        if wanted := tuple(unknown):
            self._asked.update(wanted)
            self.post_message(self.Wanted(wanted, self.picture_size))
