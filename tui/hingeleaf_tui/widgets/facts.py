"""Widgets for facts about a motif and figures of a panel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import TYPE_CHECKING

from rich.cells import cell_len
from rich.style import Style
from textual.geometry import Region

from hingeleaf_tui.widgets.bars import SIGNS, bar
from hingeleaf_tui.widgets.host import LineWidget
from hingeleaf_tui.widgets.words import fit, wrap

if TYPE_CHECKING:
    from hingeleaf.fill.filling import Filling
    from hingeleaf_tui.widgets.style_cache import StyleCache

LABEL = 9
Entry = tuple[str, str, str]
"""Label, value, kind."""


@dataclass(frozen=True, slots=True)
class Fact:
    """A label and its value, with a kind: good, caution, fault or empty."""

    label: str
    value: str
    kind: str = ""


class Facts(LineWidget):
    """A title in bold, then facts with aligned values; long values continue on the next line."""

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._title = ""
        self._facts: tuple[Fact, ...] = ()

    def show(self, title: str, facts: Sequence[Fact]) -> None:
        """Show other facts."""
        before = self._lines(self.size.width)
        self._title, self._facts = title, tuple(facts)
        after = self._lines(self.size.width)
        for y, (old, new) in enumerate(zip_longest(before, after, fillvalue=("", "", ""))):
            if old != new:
                self.refresh(self._region(y, old, new))

    def _region(self, y: int, old: Entry, new: Entry) -> Region:
        """The part of a line that must be repainted."""
        start = 0 if old[0] != new[0] or y == 0 else LABEL
        longest = max(cell_len(old[1]), cell_len(new[1])) + (LABEL if y else 0)
        return Region(start, y, max(longest - start, 1), 1)

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """One line of the list."""
        width = self.size.width
        lines = self._lines(width)
        if y >= len(lines):
            return []
        label, value, kind = lines[y]
        if y == 0:
            return [(fit(value, width), style_of(extra="bold"))]
        return [(fit(label, LABEL), style_of("quiet")), (fit(value, width - LABEL), style_of(kind))]

    def _lines(self, width: int) -> list[Entry]:
        lines = [("", self._title, "")]
        for fact in self._facts:
            for number, piece in enumerate(wrap(fact.value, width - LABEL)):
                lines.append(("" if number else fact.label, piece, fact.kind))
        return lines


BAR = 12


class Figures(LineWidget):
    """Coverage, count and gap, and the verdict of the check."""

    def __init__(self, *, id: str) -> None:
        super().__init__(id=id)
        self._filling: Filling | None = None
        self._verdict, self._kind = "", ""
        self.display = False

    def show(self, filling: Filling | None, verdict: str, kind: str = "") -> None:
        """Show a filling and a verdict (good, caution or fault); without both it takes no space."""
        self._filling, self._verdict, self._kind = filling, verdict, kind
        self.display = bool(filling or verdict)
        self.refresh()

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """One of the three lines."""
        pieces: list[tuple[str, Style]] = [(" ", style_of())]
        if y == 0 and self._filling:
            share = self._filling.coverage
            pieces += bar(share, BAR, style_of)
            pieces += [(f" {share:.0%}", style_of(extra="bold")), (" covered", style_of("quiet"))]
        elif y == 1 and self._filling:
            gap = self._filling.least_gap
            least = "" if gap is None else f", least gap {gap:.2f} mm"
            pieces.append((f"{self._filling.count} motifs{least}", style_of("quiet")))
        elif y == 2:
            sign = SIGNS.get(self._kind, "")
            pieces.append((sign, style_of(self._kind, extra="bold")))
            pieces.append(
                (fit(self._verdict, self.size.width - 1 - len(sign)), style_of(self._kind))
            )
        return pieces
