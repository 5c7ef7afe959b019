"""Dialogs that compare panels side by side: with a saved one, or fillings of several seeds."""

from __future__ import annotations

from functools import partial

from hingeleaf.panel.recipe import Recipe
from hingeleaf.tasks import Task
from hingeleaf_tui import panel_session
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.panel_session import PanelFilling
from hingeleaf_tui.screens.side_by_side import PictureChoice, SideBySide
from hingeleaf_tui.services import Services

COUNT = 4
"""Number of seeds tried."""
LABEL = 13
"""Columns of the labels."""
ALWAYS_SHOWN = ("Covered", "Motifs")
"""Shown even if equal; other figures only if they differ."""


class PanelsDialog(SideBySide[PanelFilling]):
    """Panels, each with the figures in which they differ; the answer is the chosen one."""

    def title_of(self, filled: PanelFilling) -> str:
        """The title above a panel."""
        raise NotImplementedError

    def picture_choice(self, item: PanelFilling) -> PictureChoice:
        """The picture and figures of a panel."""
        every = [figures(filled) for filled in self.items]
        lines = [
            f"{label:<{LABEL}}{figure}"
            for label, figure in figures(item).items()
            if label in ALWAYS_SHOWN or any(figure != other[label] for other in every)
        ]
        paint = partial(_draw, item, self.services.drawing_ink)
        return PictureChoice(self.title_of(item), lines, paint)


class CompareScreen(PanelsDialog):
    """The current panel on the left, a saved one on the right, by name."""

    def __init__(self, services: Services, panels: dict[str, PanelFilling]) -> None:
        super().__init__(services, "Two panels, and the figures in which they differ")
        self._panels = panels

    def on_mount(self) -> None:
        """Show both panels."""
        self.show(tuple(self._panels.values()))

    def title_of(self, filled: PanelFilling) -> str:
        """Its name."""
        return next(name for name, panel in self._panels.items() if panel is filled)


class VariantsScreen(PanelsDialog):
    """Fillings of one recipe by seed."""

    JOB = "fill"

    def __init__(self, services: Services, recipe: Recipe) -> None:
        super().__init__(services, "The same recipe with other seeds")
        self._recipe = recipe

    def load_items(self) -> Task[tuple[PanelFilling, ...]]:
        """Fill with one seed after another."""
        worker, library = self.services.worker, self.services.library.path
        return panel_session.variants(worker, library, self._recipe, COUNT)

    def title_of(self, filled: PanelFilling) -> str:
        """Its seed."""
        return f"seed {filled.recipe.rules.seed}"


def _draw(filled: PanelFilling, ink: Ink, columns: int, rows: int) -> Picture:
    return filled.painter.paint(filled.filling.placements, columns, rows, ink)


def figures(filled: PanelFilling) -> dict[str, str]:
    """Comparable figures of a panel as text, by label."""
    filling, evenness = filled.filling, filled.filling.evenness
    gap = "none" if filling.least_gap is None else f"{filling.least_gap:.2f} mm"
    return {
        "Covered": f"{filling.coverage:.1%}",
        "Motifs": f"{filling.count} of {len({each.motif for each in filling.placements})} kinds",
        "Lifting": f"{filling.lifting_share:.0%}",
        "Least gap": gap,
        "Largest gap": f"{filling.largest_gap:.1f} mm",
        "Even gaps": "" if evenness is None else f"{evenness.share_within_half_gap:.0%}",
        "Field": f"{filled.field.kind}, {filled.field.label}",
        "Card": filled.recipe.card.name,
        "Seed": str(filled.recipe.rules.seed),
    }
