"""Dialog that explains the hold styles: what lifts and where it hinges, each with an example."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from textwrap import wrap
from typing import TYPE_CHECKING

from hingeleaf.adding import ImportOptions
from hingeleaf.making import make_motif
from hingeleaf.model import HoldStyle
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.resized import Resized
from hingeleaf.shapes.bilateral import Heart, Leaf, Wings
from hingeleaf.shapes.design import USUAL, Design, Figure
from hingeleaf.shapes.radial import Star
from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.drawing.motif import draw_paper
from hingeleaf_tui.screens.side_by_side import NARROWEST, PictureChoice, SideBySide
from hingeleaf_tui.shared.phrases import HOLD_STYLES

if TYPE_CHECKING:
    from hingeleaf_tui.services import Services

EXAMPLES: dict[HoldStyle, Figure] = {
    HoldStyle.RIGID: Heart(),
    HoldStyle.DOOR: Heart(),
    HoldStyle.SPINE: Wings(),
    HoldStyle.POINTS: Star(),
    HoldStyle.TONGUE: Heart(),
    HoldStyle.FLAT: Leaf(),
}


@dataclass(frozen=True, slots=True)
class HoldExample:
    """A hold style, and an example motif held in it."""

    hold: HoldStyle
    paper: Resized


class HoldStylesDialog(SideBySide[HoldExample]):
    """The hold styles; the answer is the one to plan in."""

    def __init__(self, services: Services, now: HoldStyle) -> None:
        super().__init__(services, "What lifts, and where it hinges")
        self.chosen = list(EXAMPLES).index(now)

    def hint(self) -> str:
        """The keys, as a hint."""
        return "← → choose, Enter plans the bridges in that style, Esc goes back."

    def find(self) -> Task[Sequence[HoldExample]]:
        """Make the example motifs."""
        found: list[HoldExample] = []
        for hold, shape in EXAMPLES.items():
            yield Progress(len(found), len(EXAMPLES), "drawing examples")
            options = ImportOptions(hold=hold, card=DEFAULT)
            motif, _ = make_motif(Design(shape, USUAL[type(shape)]), hold, options)
            found.append(HoldExample(hold, Resized(motif, DEFAULT, motif.size)))
        return found

    def choice(self, item: HoldExample) -> PictureChoice:
        """The style's picture, and what it is for."""
        lines = wrap(HOLD_STYLES[item.hold], NARROWEST - 2)
        paint = partial(draw_paper, item.paper, ink=self.services.drawing_ink)
        return PictureChoice(str(item.hold), lines, paint)
