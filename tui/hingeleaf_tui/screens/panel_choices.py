"""Dialogs that compare panels side by side: with a saved one, or fillings of several seeds."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from hingeleaf_tui import panel_session
from hingeleaf_tui.panel_session import PanelFilling
from hingeleaf_tui.screens.side_by_side import PictureChoice, SideBySide

if TYPE_CHECKING:
    from hingeleaf.panel.recipe import Recipe
    from hingeleaf.tasks import Task
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.services import Services

COUNT = 4
"""Number of seeds tried."""
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


class VariantsScreen(SideBySide[PanelFilling]):
    """Fillings of one recipe by seed; the answer is the chosen one."""

    JOB = "fill"

    def __init__(self, services: Services, recipe: Recipe) -> None:
        super().__init__(services, "The same recipe with other seeds")
        self._recipe = recipe

    def find(self) -> Task[tuple[PanelFilling, ...]]:
        """Fill with one seed after another."""
        worker, library = self.services.worker, self.services.library.path
        return panel_session.variants(worker, library, self._recipe, COUNT)

    def choice(self, item: PanelFilling) -> PictureChoice:
        """The figures in which the fillings differ."""
        filling = item.filling
        kinds = len({each.motif for each in filling.placements})
        evenness = filling.evenness
        figures = [
            f"{filling.coverage:.1%} covered",
            f"{filling.count} motifs of {kinds} kinds",
            f"largest gap {filling.largest_gap:.1f} mm",
            "" if evenness is None else f"{evenness.share_within_half_gap:.0%} evenly spaced",
        ]
        paint = partial(draw_panel, item, self.services.drawing_ink)
        return PictureChoice(f"seed {item.recipe.rules.seed}", figures, paint)


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
