"""Two panels beside each other, with the figures that tell them apart."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from hingeleaf_tui.screens.sheet import Sheet
from hingeleaf_tui.widgets.plate import Plate

if TYPE_CHECKING:
    from hingeleaf_tui.bench import Filled

LABEL, COLUMN = 14, 26


class CompareScreen(Sheet[None]):
    """The panel on the bench at the left, a kept one at the right."""

    AUTO_FOCUS = None

    def __init__(self, panels: dict[str, Filled]) -> None:
        super().__init__()
        self._panels = list(panels.items())

    def compose(self) -> ComposeResult:
        """Two pictures, then one line for each figure."""
        with Vertical(classes="sheet tall"):
            yield Static("Two panels", classes="title")
            with Horizontal(id="two-panels"):
                for number in range(len(self._panels)):
                    yield Plate(id=f"panel-{number}")
            yield Static(self._figures(), markup=False)
            yield Static("Esc goes back.", id="sheet-says", classes="quiet")

    @on(Plate.Resized)
    def _paint(self, event: Plate.Resized) -> None:
        plate, ink = event.plate, self.hingeleaf.drawing_ink
        _, filled = self._panels[int((plate.id or "-0").rsplit("-", 1)[1])]
        if plate.columns >= 2 and plate.rows >= 2:
            placements = filled.filling.placements
            plate.show(filled.painter.paint(placements, plate.columns, plate.rows, ink))

    def _figures(self) -> str:
        columns = [figures(name, filled) for name, filled in self._panels]
        return "\n".join(
            f"{label:<{LABEL}}" + "".join(f"{column[label]:<{COLUMN}}" for column in columns)
            for label in columns[0]
        )


def figures(name: str, filled: Filled) -> dict[str, str]:
    """What can be compared of a panel, in words, by label."""
    filling = filled.filling
    gap = "none" if filling.least_gap is None else f"{filling.least_gap:.2f} mm"
    return {
        "Panel": name if len(name) < COLUMN else name[: COLUMN - 2] + "…",
        "Field": f"{filled.field.label}, {filled.field.kind}",
        "Covered": f"{filling.coverage:.1%}",
        "Motifs": f"{filling.count} of {len({each.motif for each in filling.placements})} kinds",
        "Lifting": f"{filling.lifting_share:.0%}",
        "Least gap": gap,
        "Largest gap": f"{filling.largest_gap:.1f} mm",
        "Seed": str(filled.recipe.rules.seed),
        "Card": filled.recipe.card.name,
    }
