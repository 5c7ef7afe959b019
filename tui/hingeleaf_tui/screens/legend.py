"""Dialog that explains the colours and lines of drawings."""

from __future__ import annotations

from typing import TYPE_CHECKING

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Static

from hingeleaf_tui.screens.dialogs import Dialog
from hingeleaf_tui.widgets.picture_view import PictureView

if TYPE_CHECKING:
    from hingeleaf_tui.services import Services

SAMPLE = 6
"""Columns of a sample."""
SURFACE = (
    ("sheet", 0, "the sheet"),
    ("paper", 0, "the field, or a motif's paper"),
    ("behind", 0, "an opening, and what lies behind it"),
    ("flap-face", 0, "a flap, or a motif that lifts"),
    ("paper-shade", 0, "the shadow of a flap that is folded up"),
    ("pinned", 0, "openings of a pinned motif"),
    ("picked", 0, "the chosen motif, or the circle to fill again"),
    ("loose", 0, "paper that would fall out"),
    ("tie", 0, "a bridge"),
    ("crease", 2, "the fold line of a flap (dashed)"),
    ("cut-line", 0, "a slit"),
)
LINES = (
    ("field", 0, "the edge of the field"),
    ("window", 0, "an opening, or a whole motif where it is small"),
    ("flap", 6, "a flap (hatched widely)"),
    ("pinned", 0, "a pinned motif, marked i"),
    ("picked", 0, "the chosen motif, or the circle to fill again"),
    ("loose", 3, "paper that would fall out (hatched closely)"),
    ("bridge", 0, "a bridge"),
    ("hinge", 2, "the fold line of a flap (dashed)"),
    ("slit", 0, "a slit"),
)
"""Styles, their hatch spacing, and their meaning."""


class LegendScreen(Dialog[None]):
    """Samples in the style of the drawings, with their meaning."""

    AUTO_FOCUS = None

    def __init__(self, services: Services) -> None:
        super().__init__()
        self.services = services
        self._entries = SURFACE if services.drawing_ink.is_solid else LINES

    def compose(self) -> ComposeResult:
        """A picture with a sample and its meaning in each row."""
        with Vertical(classes="sheet"):
            yield Static("What colours and lines mean", classes="title")
            plate = PictureView(id="legend")
            plate.styles.height = len(self._entries)
            yield plate
            yield Static(
                "F8 shows a motif or panel folded up, then a panel by the pull that its paper "
                "withstands, then by its gaps. Esc goes back.",
                id="dialog-message",
                classes="quiet",
            )

    def on_picture_view_resized(self, event: PictureView.Resized) -> None:
        """Draw the samples."""
        from hingeleaf_tui.drawing.canvas import Canvas
        from hingeleaf_tui.drawing.view import View

        plate, ink = event.plate, self.services.drawing_ink
        across, down = ink.dots
        view = View((0, 0), 1, plate.columns * across, plate.rows * down)
        canvas = Canvas(plate.columns, plate.rows, view, ink)
        for row, (style, hatch, meaning) in enumerate(self._entries):
            canvas.swatch(0, row, SAMPLE, style, hatch)
            canvas.write(SAMPLE + 2, row, meaning, "label")
        plate.show(canvas.picture())
