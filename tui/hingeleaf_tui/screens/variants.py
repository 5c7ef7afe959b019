"""Dialog that fills a panel with several seeds, one after another, to keep one of them."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from hingeleaf_tui import panel_session
from hingeleaf_tui.panel_session import PanelFilling
from hingeleaf_tui.screens.compare import draw_panel
from hingeleaf_tui.screens.side_by_side import PictureChoice, SideBySide

if TYPE_CHECKING:
    from hingeleaf.panel.recipe import Recipe
    from hingeleaf.tasks import Task
    from hingeleaf_tui.services import Services

COUNT = 4
"""Number of seeds tried."""


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
