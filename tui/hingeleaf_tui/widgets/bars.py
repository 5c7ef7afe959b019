"""Header bar, status bar and key footer.

Used instead of Textual's Header and Footer, which make a widget of every key and truncate a row
that is too long; here the most important items are kept, and help always has its place.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.cells import cell_len
from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from hingeleaf_tui import actions
from hingeleaf_tui.widgets.host import host
from hingeleaf_tui.widgets.words import fit, shorten_path, wrap

if TYPE_CHECKING:
    from rich.style import Style

    from hingeleaf_tui.widgets.style_cache import StyleCache


class OneLine(Widget):
    """A one-line widget made of styled pieces of text."""

    ALLOW_SELECT = False

    def pieces(self, pens: StyleCache) -> list[tuple[str, Style]]:
        """The pieces from left to right."""
        raise NotImplementedError

    def render_line(self, y: int) -> Strip:
        """The pieces, padded to the width."""
        pens = host(self).pens
        segments = [Segment(text, style) for text, style in self.pieces(pens)]
        return Strip(segments).adjust_cell_length(self.size.width, pens())


class HeaderBar(OneLine):
    """The current place, the other places with their keys, and the open library."""

    def __init__(self, place: str, places: tuple[str, ...]) -> None:
        super().__init__(id="head")
        self.place, self.places = place, places
        self.library = ""

    def pieces(self, pens: StyleCache) -> list[tuple[str, Style]]:
        """The places with their keys, then the library's name on the right."""
        title = [(" Hingeleaf  ", pens("accent", extra="bold"))]
        for found in (
            title + self._places(pens),
            self._places(pens),
            self._places(pens, labels=False),
        ):
            used = sum(cell_len(text) for text, _ in found)
            if used <= self.size.width:
                break
        room = self.size.width - used - 2
        if room > 3:
            name = shorten_path(self.library, room)
            found.append((f"{name:>{room + 1}} ", pens("quiet")))
        return found

    def _places(self, pens: StyleCache, *, labels: bool = True) -> list[tuple[str, Style]]:
        """The places with keys and names, or with only the current one named."""
        found = []
        for action in actions.at("everywhere"):
            if action.name in self.places:
                here = action.name == self.place
                keys = host(self).keys_of(action)
                found.append((f" {actions.shown(keys)} ", pens("quiet")))
                if here:
                    ink = pens("chosen-ink", "chosen-back", "bold")
                    found.append((f" {action.label} ", ink))
                elif labels:
                    found.append((f"{action.label} ", pens()))
        return found


class KeyFooter(OneLine):
    """The most important keys for the focus, as many as fit; help lists all."""

    def pieces(self, pens: StyleCache) -> list[tuple[str, Style]]:
        """Keys and labels from the action table, with F1 on the right."""
        app = host(self)
        help_key = actions.shown(app.keys_of(actions.find("everywhere.help")))
        room = self.size.width - len(help_key) - len(" Help ")
        found: list[tuple[str, Style]] = [(" ", pens())]
        used = 1
        for action in app.actions_on(self.screen):
            key = actions.shown(app.keys_of(action))
            width = len(key) + len(action.label) + 3
            if not action.foot or used + width > room:
                continue
            found += [(key, pens("accent", extra="bold")), (f" {action.label}  ", pens("quiet"))]
            used += width
        found.append((" " * (room - used), pens()))
        return [*found, (help_key, pens("accent", extra="bold")), (" Help ", pens("quiet"))]


class TooSmall(Widget):
    """Covers a screen that has too little space, and says so."""

    ALLOW_SELECT = False
    WORDS = "Too small: 40 × 12 is needed."

    def render_line(self, y: int) -> Strip:
        """One line of the sentence."""
        width = self.size.width
        lines = wrap(self.WORDS, width)
        line = lines[y] if y < len(lines) else ""
        return Strip([Segment(fit(line, width), host(self).pens())], width)


BAR = 20
"""Columns of the progress bar."""
SIGNS = {"good": "✓ ", "caution": "! ", "fault": "✗ "}
ASCII_SIGNS = {"good": "ok ", "caution": "! ", "fault": "x "}


class StatusBar(OneLine):
    """Shows what was done or went wrong, in plain words, and progress.

    Always two lines high, so that longer text moves nothing else on the screen.
    """

    def __init__(self) -> None:
        super().__init__(id="message")
        self._words, self._kind = "", ""
        self._share: float | None = None

    def report(self, words: str, kind: str = "") -> None:
        """Show a sentence; `kind` is good, caution or fault."""
        self._words, self._kind, self._share = words, kind, None
        self.refresh()

    def progress(self, share: float, words: str) -> None:
        """Show progress (0 to 1), with text."""
        self._words, self._kind, self._share = words, "", share
        self.refresh()

    def pieces(self, pens: StyleCache, y: int = 0) -> list[tuple[str, Style]]:
        """A progress bar while work is running, then the text."""
        lead = self._lead(pens) if y == 0 else [(" " * self._indent, pens())]
        lines = self._lines()
        words = lines[y] if y < len(lines) else ""
        return [*lead, (fit(words, self.size.width - self._indent - 1), pens(self._kind))]

    def render_line(self, y: int) -> Strip:
        """One line of the text."""
        pens = host(self).pens
        segments = [Segment(text, style) for text, style in self.pieces(pens, y)]
        return Strip(segments).adjust_cell_length(self.size.width, pens())

    @property
    def _sign(self) -> str:
        return (ASCII_SIGNS if host(self).ascii else SIGNS).get(self._kind, "")

    @property
    def _indent(self) -> int:
        return 1 + (BAR + 1 if self._share is not None else len(self._sign))

    def _lead(self, pens: StyleCache) -> list[tuple[str, Style]]:
        if self._share is not None:
            return [
                (" ", pens()),
                *bar(self._share, BAR, pens, host(self).ascii),
                (" ", pens()),
            ]
        return [(f" {self._sign}", pens(self._kind, extra="bold"))]

    def _lines(self) -> list[str]:
        lines = wrap(self._words, self.size.width - self._indent - 1)
        return lines if len(lines) < 3 else [lines[0], " ".join(lines[1:])]


def bar(share: float, columns: int, pens: StyleCache, ascii_only: bool) -> list[tuple[str, Style]]:
    """A bar from 0 to 1, readable without colours."""
    full = round(max(0.0, min(share, 1.0)) * columns)
    on, off = ("#", "-") if ascii_only else ("━", "─")
    return [(on * full, pens("accent")), (off * (columns - full), pens("rule"))]
