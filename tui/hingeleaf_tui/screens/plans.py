"""Dialog that compares a motif's bridge plans, one for each hold style, best first."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from textwrap import wrap
from typing import TYPE_CHECKING

from hingeleaf.paper.hinges import Hinges
from hingeleaf.paper.plan_comparison import ComparedPlan, compare_plans
from hingeleaf.paper.resized import Resized
from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.drawing.motif import draw_paper
from hingeleaf_tui.screens.side_by_side import NARROWEST, PictureChoice, SideBySide

if TYPE_CHECKING:
    from hingeleaf.model import Card, Motif
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.services import Services


class PlansScreen(SideBySide[ComparedPlan]):
    """The plans of a motif; the answer is the chosen one."""

    def __init__(self, services: Services, motif: Motif, card: Card) -> None:
        super().__init__(services, f"{motif.name}: plans, best first")
        self._motif, self._card = motif, card

    def find(self) -> Task[Sequence[ComparedPlan]]:
        """Plan in every style."""
        yield Progress(0, 1, "planning")
        plans = compare_plans(self._motif, self._card)
        for number, plan in enumerate(plans):
            yield Progress(number, len(plans), "computing sizes")
            _ = plan.safe, plan.lifts  # computed here, in the job's thread
        return plans

    def choice(self, item: ComparedPlan) -> PictureChoice:
        """What lifts, and the size from which it is safe."""
        return PictureChoice(
            str(item.hold),
            [line for text in (item.lifts, item.safe) for line in wrap(text, NARROWEST - 2)],
            partial(_paint, item, self.services.drawing_ink),
        )


def _paint(plan: ComparedPlan, ink: Ink, columns: int, rows: int) -> Picture:
    paper = Resized(plan.motif, plan.card, plan.motif.size)
    return draw_paper(paper, columns, rows, ink, hinges=Hinges(plan.hinges))
