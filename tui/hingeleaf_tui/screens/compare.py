"""Dialog that shows two panels side by side with their figures."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from hingeleaf_tui.screens.side_by_side import PictureChoice, SideBySide

if TYPE_CHECKING:
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.panel_session import PanelFilling
    from hingeleaf_tui.services import Services

LABEL = 13
"""Columns of the labels."""
ALWAYS = ("Covered", "Motifs")
"""Shown even if equal; other figures only if they differ."""


class CompareScreen(SideBySide[str]):
    """The current panel on the left, a saved one on the right, by name."""

    def __init__(self, services: Services, panels: dict[str, PanelFilling]) -> None:
        super().__init__(services, "Two panels")
        self._panels = panels
        self._figures = {name: figures(filled) for name, filled in panels.items()}

    def on_mount(self) -> None:
        """Show both panels."""
        self.show(tuple(self._panels))

    def choice(self, item: str) -> PictureChoice:
        """The figures in which the panels differ, and a few others."""
        mine = self._figures[item]
        lines = [
            f"{label:<{LABEL}}{figure}"
            for label, figure in mine.items()
            if label in ALWAYS or any(figure != other[label] for other in self._figures.values())
        ]
        paint = partial(draw_panel, self._panels[item], self.services.drawing_ink)
        return PictureChoice(item, lines, paint)

    def hint(self) -> str:
        """The keys, as a hint."""
        return "Everything else is the same in both. Esc goes back."


def draw_panel(filled: PanelFilling, ink: Ink, columns: int, rows: int) -> Picture:
    """Draw the whole panel."""
    return filled.painter.paint(filled.filling.placements, columns, rows, ink)


def figures(filled: PanelFilling) -> dict[str, str]:
    """Comparable figures of a panel as text, by label."""
    filling = filled.filling
    gap = "none" if filling.least_gap is None else f"{filling.least_gap:.2f} mm"
    return {
        "Covered": f"{filling.coverage:.1%}",
        "Motifs": f"{filling.count} of {len({each.motif for each in filling.placements})} kinds",
        "Lifting": f"{filling.lifting_share:.0%}",
        "Least gap": gap,
        "Largest gap": f"{filling.largest_gap:.1f} mm",
        "Field": f"{filled.field.kind}, {filled.field.label}",
        "Card": filled.recipe.card.name,
        "Seed": str(filled.recipe.rules.seed),
    }
