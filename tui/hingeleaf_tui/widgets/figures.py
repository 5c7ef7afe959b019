"""Widget for a panel's figures: coverage, count, gap, verdict."""

from __future__ import annotations

from typing import TYPE_CHECKING

from hingeleaf_tui.widgets.bars import ASCII_SIGNS, SIGNS, bar
from hingeleaf_tui.widgets.host import LineWidget, host
from hingeleaf_tui.widgets.words import fit

if TYPE_CHECKING:
    from rich.style import Style

    from hingeleaf.fill.filling import Filling
    from hingeleaf_tui.widgets.style_cache import StyleCache

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

    def pieces(self, y: int, pens: StyleCache) -> list[tuple[str, Style]]:
        """One of the three lines."""
        pieces: list[tuple[str, Style]] = [(" ", pens())]
        if y == 0 and self._filling:
            share = self._filling.coverage
            pieces += bar(share, BAR, pens, host(self).ascii)
            pieces += [(f" {share:.0%}", pens(extra="bold")), (" covered", pens("quiet"))]
        elif y == 1 and self._filling:
            gap = self._filling.least_gap
            least = "" if gap is None else f", least gap {gap:.2f} mm"
            pieces.append((f"{self._filling.count} motifs{least}", pens("quiet")))
        elif y == 2:
            sign = (ASCII_SIGNS if host(self).ascii else SIGNS).get(self._kind, "")
            pieces.append((sign, pens(self._kind, extra="bold")))
            pieces.append((fit(self._verdict, self.size.width - 1 - len(sign)), pens(self._kind)))
        return pieces
