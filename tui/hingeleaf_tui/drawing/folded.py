"""Draw flaps folded up: foreshortened, with the opening that they leave and their shadow."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from hingeleaf_tui.drawing.canvas import Canvas

if TYPE_CHECKING:
    from hingeleaf.panel.lifting import Raised

LIGHT = (0.55, 0.75)
"""Displacement of a shadow per mm of height, to the right and down."""
SHADES = {"paper": "paper-shade", "sheet": "paper-shade", "behind": "behind-shade"}
"""Styles of surfaces in the shade."""


def fold_up(canvas: Canvas, flaps: Sequence[Raised]) -> None:
    """Fold flaps up on a canvas that shows them flat, the highest drawn last."""
    if canvas.ink.is_solid:
        for flap in flaps:
            canvas.area(flap.hinge.flap, "behind")
        for flap in flaps:
            canvas.shade(flap.seen(LIGHT), SHADES)
    else:
        for flap in flaps:
            canvas.area(flap.hinge.flap, "window")
    for flap in sorted(flaps, key=lambda flap: flap.lift):
        canvas.clear(flap.seen())
        if canvas.ink.is_solid:
            canvas.area(flap.seen(), "flap-face")
        else:
            canvas.line(flap.seen(), "flap")


@dataclass(frozen=True)
class FoldedTint:
    """A panel with its flaps folded up, as an overlay."""

    flaps: Sequence[Raised]

    def paint(self, canvas: Canvas) -> None:
        """Draw the raised flaps on top."""
        fold_up(canvas, self.flaps)
