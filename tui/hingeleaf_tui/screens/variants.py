"""Dialog that fills a panel with several seeds, one after another, to keep one of them."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from hingeleaf_tui import panel_session
from hingeleaf_tui.screens.compare import draw_panel
from hingeleaf_tui.screens.side_by_side import PictureChoice, SideBySide

if TYPE_CHECKING:
    from hingeleaf.panel.recipe import Recipe
    from hingeleaf.tasks import Progress
    from hingeleaf_tui.panel_session import PanelFilling
    from hingeleaf_tui.services import Services

COUNT = 4
"""How many seeds are tried."""


class VariantsScreen(SideBySide):
    """Fillings of one recipe by seed; the answer is the number of one of `variants`."""

    def __init__(self, services: Services, recipe: Recipe) -> None:
        super().__init__(services, "The same recipe with other seeds")
        self._recipe = recipe
        self.variants: tuple[PanelFilling, ...] = ()

    def on_mount(self) -> None:
        """Begin to fill."""
        self.show_choices()
        self.say(f"Filling {COUNT} variants …")
        services, recipe = self.services, self._recipe
        services.jobs.start(
            "fill",
            lambda: panel_session.variants(services.worker, services.library.path, recipe, COUNT),
            step=self._step,
            done=self._all_filled,
            failed=self.refuse,
        )

    def on_unmount(self) -> None:
        """Fill no more."""
        self.services.jobs.cancel("fill")

    def _step(self, progress: Progress[tuple[PanelFilling, ...]]) -> None:
        if progress.so_far is not None:
            self._show(progress.so_far)
        known = f" {self.hint()}" if self.variants else ""
        self.say(f"{len(self.variants)} of {COUNT} filled …{known}")

    def _all_filled(self, variants: tuple[PanelFilling, ...]) -> None:
        self._show(variants)
        self.say(self.hint())

    def _show(self, variants: tuple[PanelFilling, ...]) -> None:
        if variants == self.variants:
            return
        self.variants, ink = variants, self.services.drawing_ink
        self.choices = [
            PictureChoice(
                f"seed {each.recipe.rules.seed}", figures(each), partial(draw_panel, each, ink)
            )
            for each in variants
        ]
        self.show_choices()


def figures(filled: PanelFilling) -> list[str]:
    """The figures in which fillings differ."""
    filling = filled.filling
    kinds = len({each.motif for each in filling.placements})
    evenness = filling.evenness
    return [
        f"{filling.coverage:.1%} covered",
        f"{filling.count} motifs of {kinds} kinds",
        f"largest gap {filling.largest_gap:.1f} mm",
        "" if evenness is None else f"{evenness.share_within_half_gap:.0%} evenly spaced",
    ]
