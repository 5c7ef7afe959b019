"""Dialogs that compare versions of a motif: ways to cut it, hold styles, plans, revisions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from textwrap import wrap

from hingeleaf.adding import read_artwork
from hingeleaf.artwork.reading import load_artwork_bytes
from hingeleaf.artwork.ways import Way, find_ways
from hingeleaf.catalogue.geometry import compare_motifs
from hingeleaf.catalogue.motifs import Revision
from hingeleaf.catalogue.store import Library
from hingeleaf.import_options import ImportOptions
from hingeleaf.making import make_motif
from hingeleaf.model import Card, Cuts, HoldStyle, Motif
from hingeleaf.paper.bridges import lay_bridges
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.hinges import Hinges
from hingeleaf.paper.plan_comparison import ComparedPlan, compare_plans
from hingeleaf.paper.resized import Resized
from hingeleaf.shapes.bilateral import Heart, Leaf, Wings
from hingeleaf.shapes.design import DEFAULT_LAYOUTS, Design, Figure
from hingeleaf.shapes.radial import Star
from hingeleaf.tasks import Progress, Task
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.motif import draw_motif, draw_paper
from hingeleaf_tui.screens.side_by_side import MIN_COLUMNS, PictureChoice, SideBySide
from hingeleaf_tui.services import Services
from hingeleaf_tui.shared.phrases import HOLD_STYLES, day

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
        super().__init__(
            services, "What lifts, and where it hinges: choose how to plan the bridges"
        )
        self.chosen = list(EXAMPLES).index(now)

    def load_items(self) -> Task[Sequence[HoldExample]]:
        """Make the example motifs."""
        found: list[HoldExample] = []
        for hold, shape in EXAMPLES.items():
            yield Progress(len(found), len(EXAMPLES), "drawing examples")
            options = ImportOptions(hold=hold, card=DEFAULT)
            motif, _ = make_motif(Design(shape, DEFAULT_LAYOUTS[type(shape)]), hold, options)
            found.append(HoldExample(hold, Resized(motif, DEFAULT, motif.size)))
        return found

    def picture_choice(self, item: HoldExample) -> PictureChoice:
        """The style's picture, and what it is for."""
        lines = wrap(HOLD_STYLES[item.hold], MIN_COLUMNS - 2)
        paint = partial(draw_paper, item.paper, ink=self.services.drawing_ink)
        return PictureChoice(str(item.hold), lines, paint)


class PlansScreen(SideBySide[ComparedPlan]):
    """The plans of a motif; the answer is the chosen one."""

    def __init__(self, services: Services, motif: Motif, card: Card) -> None:
        super().__init__(services, f"{motif.name}: plans, best first")
        self._motif, self._card = motif, card

    def load_items(self) -> Task[Sequence[ComparedPlan]]:
        """Plan in every style."""
        yield Progress(0, 1, "planning")
        plans = compare_plans(self._motif, self._card)
        for number, plan in enumerate(plans):
            yield Progress(number, len(plans), "computing sizes")
            _ = plan.safe, plan.lifts  # computed here, in the job's thread
        return plans

    def picture_choice(self, item: ComparedPlan) -> PictureChoice:
        """What lifts, and the size from which it is safe."""
        return PictureChoice(
            str(item.hold),
            [line for text in (item.lifts, item.safe) for line in wrap(text, MIN_COLUMNS - 2)],
            partial(_paint, item, self.services.drawing_ink),
        )


def _paint(plan: ComparedPlan, ink: Ink, columns: int, rows: int) -> Picture:
    paper = Resized(plan.motif, plan.card, plan.motif.size)
    return draw_paper(paper, columns, rows, ink, hinges=Hinges(plan.hinges))


class WaysScreen(SideBySide[Way]):
    """The ways to cut one drawing; the answer is the chosen one."""

    def __init__(self, services: Services, file: Path, options: ImportOptions) -> None:
        super().__init__(services, f"{file.name}: ways to cut it, best first")
        self._file, self._options = file, options

    def load_items(self) -> Task[Sequence[Way]]:
        """Read the drawing, and try every way."""
        yield Progress(0, 1, f"reading {self._file.name}")
        artwork = read_artwork(load_artwork_bytes(self._file), self._file, self._options)
        yield Progress(0, 1, "looking for ways")
        return find_ways(artwork, self._options.preparation, self._options.card)

    def picture_choice(self, item: Way) -> PictureChoice:
        """The cuts, and how much of the drawing they preserve."""
        cuts = Cuts(item.prepared.windows, item.prepared.slits)
        return PictureChoice(
            str(item.kind),
            wrap(item.kind.words, MIN_COLUMNS - 2),
            partial(draw_motif, cuts, (), ink=self.services.drawing_ink),
        )


@dataclass(frozen=True, slots=True)
class PastMotif:
    """A motif in one of its revisions."""

    revision: Revision
    motif: Motif
    differs: str
    """How it differs from the newest revision; empty for that one."""


class RevisionsDialog(SideBySide[PastMotif]):
    """The revisions of a motif; the answer is the one to restore."""

    def __init__(self, services: Services, name: str) -> None:
        super().__init__(services, f"{name}: which revision should be the newest again?")
        self._of = name

    def load_items(self) -> Task[Sequence[PastMotif]]:
        """Read every revision."""
        yield Progress(0, 1, "reading")
        with Library.open(self.services.library.path, create=False) as library:
            newest = library.motif(self._of)
            return [
                PastMotif(each, motif, _differences(motif, newest))
                for each in reversed(library.revisions(self._of))
                for motif in [library.motif(self._of, each.number)]
            ]

    def picture_choice(self, item: PastMotif) -> PictureChoice:
        """The picture and facts of a revision."""
        motif = item.motif
        cuts = lay_bridges(Cuts(motif.windows, motif.slits), motif.bridges)
        return PictureChoice(
            f"revision {item.revision.number}",
            (
                f"made {day(item.revision.made)}",
                f"{format_mm(motif.size)}, {motif.hold}",
                plural(len(motif.bridges), "bridge"),
                item.differs,
            ),
            partial(draw_motif, cuts, (), ink=self.services.drawing_ink),
        )


def _differences(motif: Motif, newest: Motif) -> str:
    if motif.revision == newest.revision:
        return "the newest"
    differs = compare_motifs(motif, newest).differs
    return f"differs in {', '.join(differs) or 'nothing'}"
