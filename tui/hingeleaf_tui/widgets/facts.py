"""Labels and values, one under the other."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from rich.segment import Segment
from textual.strip import Strip
from textual.widget import Widget

from hingeleaf_tui.widgets.host import host
from hingeleaf_tui.widgets.words import fit, wrap

if TYPE_CHECKING:
    from hingeleaf_tui.desk import Fact

LABEL = 9


class Facts(Widget):
    """A name in bold, then facts with aligned values; long values go on below themselves."""

    ALLOW_SELECT = False

    def __init__(self, *, id: str | None = None) -> None:
        super().__init__(id=id)
        self._title = ""
        self._facts: tuple[Fact, ...] = ()

    def show(self, title: str, facts: Sequence[Fact]) -> None:
        """Show other facts."""
        if (title, tuple(facts)) != (self._title, self._facts):
            self._title, self._facts = title, tuple(facts)
            self.refresh()

    def render_line(self, y: int) -> Strip:
        """One line of the list."""
        pens, width = host(self).pens, self.size.width
        lines = self._lines(width)
        if y >= len(lines):
            return Strip.blank(width, pens())
        label, value, kind = lines[y]
        if y == 0:
            return Strip([Segment(fit(value, width), pens(extra="bold"))], width)
        return Strip(
            [
                Segment(fit(label, LABEL), pens("quiet")),
                Segment(fit(value, width - LABEL), pens(kind)),
            ],
            width,
        )

    def _lines(self, width: int) -> list[tuple[str, str, str]]:
        lines = [("", self._title, "")]
        for fact in self._facts:
            for number, piece in enumerate(wrap(fact.value, width - LABEL)):
                lines.append(("" if number else fact.label, piece, fact.kind))
        return lines
