"""Dialog that shows two panels side by side with their figures."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual import on
from textual.app import ComposeResult
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from hingeleaf_tui.screens.dialogs import Dialog
from hingeleaf_tui.widgets.picture_view import PictureView

if TYPE_CHECKING:
    from hingeleaf_tui.panel_session import Filled
    from hingeleaf_tui.services import Services

LABEL = 13
"""Columns of the labels."""
ALWAYS = ("Covered", "Motifs")
"""Told even where both are the same; all else is told where it differs."""


class CompareScreen(Dialog[None]):
    """The panel on the bench at the left, a kept one at the right."""

    AUTO_FOCUS = None

    def __init__(self, services: Services, panels: dict[str, Filled]) -> None:
        super().__init__()
        self.services = services
        self._panels = list(panels.items())

    def compose(self) -> ComposeResult:
        """Two columns of a name, a picture and figures."""
        columns = [figures(filled) for _, filled in self._panels]
        labels = [
            label for label in columns[0] if label in ALWAYS or len({t[label] for t in columns}) > 1
        ]
        with Vertical(classes="sheet tall wide"):
            with Horizontal(id="two-panels"):
                for number, (name, _) in enumerate(self._panels):
                    lines = [f"{label:<{LABEL}}{columns[number][label]}" for label in labels]
                    with Vertical():
                        yield Static(name, classes="title", markup=False)
                        yield PictureView(id=f"panel-{number}")
                        yield Static("\n".join(lines), markup=False, classes="lines")
            yield Static(
                "Everything else is the same in both. Esc goes back.",
                id="dialog-message",
                classes="quiet",
            )

    @on(PictureView.Resized)
    def _paint(self, event: PictureView.Resized) -> None:
        plate, ink = event.plate, self.services.drawing_ink
        _, filled = self._panels[int((plate.id or "-0").rsplit("-", 1)[1])]
        if plate.columns >= 2 and plate.rows >= 2:
            placements = filled.filling.placements
            plate.show(filled.painter.paint(placements, plate.columns, plate.rows, ink))


def figures(filled: Filled) -> dict[str, str]:
    """What can be compared of a panel, in words, by label."""
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
