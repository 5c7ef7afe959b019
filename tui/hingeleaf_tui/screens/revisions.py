"""Dialog that shows the revisions of a motif side by side, newest first."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING

from hingeleaf.catalogue.geometry import compare_motifs
from hingeleaf.model import Cuts, Motif
from hingeleaf.paper.bridges import lay_bridges
from hingeleaf.tasks import Progress, Task
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.drawing.motif import draw_motif
from hingeleaf_tui.screens.side_by_side import PictureChoice, SideBySide
from hingeleaf_tui.shared.phrases import day

if TYPE_CHECKING:
    from hingeleaf.catalogue.motifs import Revision
    from hingeleaf_tui.services import Services


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
        super().__init__(services, f"{name}: revisions, newest first")
        self._of = name

    def hint(self) -> str:
        """The keys, as a hint."""
        return "← → choose, Enter makes the chosen one the newest again, Esc goes back."

    def find(self) -> Task[Sequence[PastMotif]]:
        """Read every revision."""
        from hingeleaf.catalogue.store import Library

        yield Progress(0, 1, "reading")
        with Library.open(self.services.library.path, create=False) as library:
            newest = library.motif(self._of)
            return [
                PastMotif(each, motif, _differences(motif, newest))
                for each in reversed(library.revisions(self._of))
                for motif in [library.motif(self._of, each.number)]
            ]

    def choice(self, item: PastMotif) -> PictureChoice:
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
