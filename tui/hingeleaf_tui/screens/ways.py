"""Dialog that shows the ways to cut a drawing side by side, best first."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING

from hingeleaf.artwork.ways import SAYS, Way, find_ways
from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.drawing.motif import draw_motif
from hingeleaf_tui.screens.side_by_side import NARROWEST, PictureChoice, SideBySide

if TYPE_CHECKING:
    from hingeleaf.adding import ImportOptions
    from hingeleaf_tui.services import Services


class WaysScreen(SideBySide[Way]):
    """The ways to cut one drawing; the answer is the chosen one."""

    def __init__(self, services: Services, file: Path, choices: ImportOptions) -> None:
        super().__init__(services, f"{file.name}: ways to cut it, best first")
        self._file, self._options = file, choices

    def find(self) -> Task[Sequence[Way]]:
        """Read the drawing, and try every way."""
        from hingeleaf.adding import read_drawing
        from hingeleaf.artwork.reading import load

        yield Progress(0, 1, f"reading {self._file.name}")
        artwork = read_drawing(load(self._file), self._file, self._options)
        yield Progress(0, 1, "looking for ways")
        return find_ways(artwork, self._options.preparation, self._options.card)

    def choice(self, item: Way) -> PictureChoice:
        """The cuts, and how much of the drawing they preserve."""
        from hingeleaf.model import Cuts

        cuts = Cuts(item.prepared.windows, item.prepared.slits)
        return PictureChoice(
            str(item.kind),
            wrap(SAYS[item.kind], NARROWEST - 2),
            partial(draw_motif, cuts, (), ink=self.services.drawing_ink),
        )
