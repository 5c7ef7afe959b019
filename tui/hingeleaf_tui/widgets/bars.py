"""Header bar, status bar and key footer.

Used instead of Textual's Header and Footer, which make a widget of every key and truncate a row
that is too long; here the most important items are kept, and help always has its place.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.cells import cell_len

from hingeleaf_tui import actions
from hingeleaf_tui.widgets.host import LineWidget, host
from hingeleaf_tui.widgets.words import fit, shorten_path, wrap

if TYPE_CHECKING:
    from rich.style import Style

    from hingeleaf_tui.widgets.style_cache import StyleCache


class HeaderBar(LineWidget):
    """The current place, the other places with their keys, and the open library."""

    def __init__(self, place: str, places: tuple[str, ...], library: str) -> None:
        super().__init__(id="head")
        self.place, self.places, self.library = place, places, library

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
            if action.name in self.places:
                here = action.name == self.place
                keys = host(self).keys_of(action)
                found.append((f" {actions.shown(keys)} ", style_of("quiet")))
                if here:
                    ink = style_of("chosen-ink", "chosen-back", "bold")
                    found.append((f" {action.label} ", ink))
                elif labels:
                    found.append((f"{action.label} ", style_of()))
        return found


class KeyFooter(LineWidget):
    """The most important keys for the focus, as many as fit; help lists all."""

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """Keys and labels from the action table, with F1 on the right."""
        app = host(self)
        help_key = actions.shown(app.keys_of(actions.find("everywhere.help")))
        room = self.size.width - len(help_key) - len(" Help ")
        found: list[tuple[str, Style]] = [(" ", style_of())]
        used = 1
        for action in app.actions_on(self.screen):
            key = actions.shown(app.keys_of(action))
            width = len(key) + len(action.label) + 3
            if not action.in_footer or used + width > room:
                continue
            found += [
                (key, style_of("accent", extra="bold")),
                (f" {action.label}  ", style_of("quiet")),
            ]
            used += width
        found.append((" " * (room - used), style_of()))
        return [*found, (help_key, style_of("accent", extra="bold")), (" Help ", style_of("quiet"))]


class TooSmall(LineWidget):
    """Covers a screen that has too little space, and says so."""

    WORDS = "Too small: 40 × 12 is needed."

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """One line of the sentence."""
        return [(line, style_of()) for line in wrap(self.WORDS, self.size.width)[y : y + 1]]


BAR = 20
"""Columns of the progress bar."""
SIGNS = {"good": "✓ ", "caution": "! ", "fault": "✗ "}
ASCII_SIGNS = {"good": "ok ", "caution": "! ", "fault": "x "}


class StatusBar(LineWidget):
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

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """A progress bar while work is running, then the text."""
        lead = self._lead(style_of) if y == 0 else [(" " * self._indent, style_of())]
        lines = self._lines()
        words = lines[y] if y < len(lines) else ""
        return [*lead, (fit(words, self.size.width - self._indent - 1), style_of(self._kind))]

    @property
    def _sign(self) -> str:
        return (ASCII_SIGNS if host(self).ascii else SIGNS).get(self._kind, "")

    @property
    def _indent(self) -> int:
        return 1 + (BAR + 1 if self._share is not None else len(self._sign))

    def _lead(self, style_of: StyleCache) -> list[tuple[str, Style]]:
        if self._share is not None:
            return [
                (" ", style_of()),
                *bar(self._share, BAR, style_of, host(self).ascii),
                (" ", style_of()),
            ]
        return [(f" {self._sign}", style_of(self._kind, extra="bold"))]

    def _lines(self) -> list[str]:
        lines = wrap(self._words, self.size.width - self._indent - 1)
        return lines if len(lines) < 3 else [lines[0], " ".join(lines[1:])]


def bar(
    share: float, columns: int, style_of: StyleCache, ascii_only: bool
) -> list[tuple[str, Style]]:
    """A bar from 0 to 1, readable without colours."""
    full = round(max(0.0, min(share, 1.0)) * columns)
    on, off = ("#", "-") if ascii_only else ("━", "─")
    return [(on * full, style_of("accent")), (off * (columns - full), style_of("rule"))]
