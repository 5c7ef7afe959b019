"""Header bar, status bar and key footer.

Used instead of Textual's Header and Footer, which make a widget of every key and truncate what does
not fit in one row; here keys take a second row, and the way to help or back is always shown.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING

from rich.cells import cell_len
from rich.style import Style
from textual.geometry import Size

from hingeleaf_tui import actions
from hingeleaf_tui.widgets.host import LineWidget
from hingeleaf_tui.widgets.words import fit, shorten_path, wrap

if TYPE_CHECKING:
    from hingeleaf_tui.widgets.style_cache import StyleCache


class HeaderBar(LineWidget):
    """The current place, the other places with their keys, and the open library."""

    def __init__(self, place: str, library: str, key: Callable[[str], str]) -> None:
        super().__init__(id="head")
        self.place, self.library, self._key = place, library, key

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """The places with their keys, then the library's name on the right."""
        title = [(" Hingeleaf  ", style_of("accent", extra="bold"))]
        for found in (
            title + self._places(style_of),
            self._places(style_of),
            self._places(style_of, labels=False),
        ):
            used = sum(cell_len(text) for text, _ in found)
            if used <= self.size.width:
                break
        room = self.size.width - used - 2
        if room > 3:
            name = shorten_path(self.library, room)
            found.append((f"{name:>{room + 1}} ", style_of("quiet")))
        return found

    def _places(self, style_of: StyleCache, *, labels: bool = True) -> list[tuple[str, Style]]:
        """The places with keys and names, or with only the current one named."""
        found = []
        for action in actions.at("everywhere"):
            if action.name in actions.SCREENS:
                here = action.name == self.place
                found.append((f" {self._key(action.id)} ", style_of("quiet")))
                if here:
                    ink = style_of("chosen-ink", "chosen-back", "bold")
                    found.append((f" {action.label} ", ink))
                elif labels:
                    found.append((f"{action.label} ", style_of()))
        return found


class KeyFooter(LineWidget):
    """The most important keys for the focus, as many as fit in two rows; the last always fits."""

    MAX_ROWS = 2

    def __init__(self) -> None:
        super().__init__(classes="keys")
        self._keys: Sequence[tuple[str, str]] = ()

    def show(self, keys: Sequence[tuple[str, str]]) -> None:
        """Show these keys with their labels, the last at the right end."""
        if keys != self._keys:
            self._keys = keys
            self.refresh(layout=self.styles.is_auto_height)

    def get_content_height(self, container: Size, viewport: Size, width: int) -> int:
        """The number of rows needed."""
        return len(self._rows(width))

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """One row; a single row is the lower one."""
        rows = self._rows(self.size.width)
        place = y - self.size.height + len(rows)
        if place < 0 or not self._keys:
            return []
        found = [(" ", style_of())]
        for key, label in rows[place]:
            found += [(key, style_of("accent", extra="bold")), (f" {label}  ", style_of("quiet"))]
        if place == len(rows) - 1:
            key, label = self._keys[-1]
            used = sum(cell_len(text) for text, _ in found)
            found.append((" " * (self.size.width - used - _width(key, label) + 1), style_of()))
            found += [(key, style_of("accent", extra="bold")), (f" {label} ", style_of("quiet"))]
        return found

    def _rows(self, width: int) -> list[list[tuple[str, str]]]:
        rows: list[list[tuple[str, str]]] = [[]]
        used, last = 1, sum(_width(*each) for each in self._keys[-1:])
        single = 1 + sum(_width(*each) for each in self._keys) <= width
        for each in self._keys[:-1]:
            is_last = single or len(rows) == self.MAX_ROWS
            if used + _width(*each) > width - (last if is_last else 0):
                if is_last:
                    continue
                rows.append([])
                used = 1
            rows[-1].append(each)
            used += _width(*each)
        return rows if single or len(rows) > 1 else [*rows, []]


def _width(key: str, label: str) -> int:
    return cell_len(key) + cell_len(label) + 3


class TooSmall(LineWidget):
    """Covers a screen that has too little space, and says so."""

    WORDS = "Too small: 40 × 12 is needed."

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """One line of the sentence."""
        return [(line, style_of()) for line in wrap(self.WORDS, self.size.width)[y : y + 1]]


BAR = 20
"""Columns of the progress bar."""
SIGNS = {"good": "✓ ", "caution": "! ", "fault": "✗ "}


class StatusBar(LineWidget):
    """Shows what was done or went wrong, in plain words, and progress.

    Always two lines high, so that longer text moves nothing else on the screen.
    """

    def __init__(self) -> None:
        super().__init__(id="message")
        self._words, self._kind = "", ""
        self._progress: tuple[float, str] | None = None

    def report(self, words: str, kind: str = "") -> None:
        """Show a sentence; `kind` is good, caution or fault."""
        self._words, self._kind, self._progress = words, kind, None
        self.refresh()

    def progress(self, share: float, words: str) -> None:
        """Show progress (0 to 1) with text, above a sentence reported since the work began."""
        self._progress = share, words
        if share == 0:
            self._words = self._kind = ""
        self.refresh()

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """A progress bar while work is running, then the sentence."""
        found = [(" ", style_of())]
        if self._progress and y == 0:
            share, words = self._progress
            found += [*bar(share, BAR, style_of), (" ", style_of())]
            return [*found, (fit(words, self.size.width - BAR - 3), style_of())]
        sign = SIGNS.get(self._kind, "")
        room = self.size.width - len(sign) - 2
        lines = wrap(self._words, room)
        shown = [" ".join(lines)] if self._progress else [lines[0], " ".join(lines[1:])]
        place = y - bool(self._progress)
        lead = sign if place == 0 else " " * len(sign)
        found.append((lead, style_of(self._kind, extra="bold")))
        return [*found, (fit(shown[place], room), style_of(self._kind))]


def bar(share: float, columns: int, style_of: StyleCache) -> list[tuple[str, Style]]:
    """A bar from 0 to 1, readable without colours."""
    full = round(max(0.0, min(share, 1.0)) * columns)
    return [("━" * full, style_of("accent")), ("─" * (columns - full), style_of("rule"))]
