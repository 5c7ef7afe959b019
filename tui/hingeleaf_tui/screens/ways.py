"""Dialog that shows the ways to cut a drawing side by side, best first."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from textwrap import wrap
from typing import TYPE_CHECKING

from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.drawing.motif import draw_motif
from hingeleaf_tui.screens.side_by_side import NARROWEST, PictureChoice, SideBySide

if TYPE_CHECKING:
    from hingeleaf.adding import ImportOptions
    from hingeleaf.artwork.ways import Way
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.services import Services


class WaysScreen(SideBySide):
    """The ways to cut one drawing; the answer is the number of one of `ways`."""

    def __init__(self, services: Services, file: Path, choices: ImportOptions) -> None:
        super().__init__(services, f"{file.name}: ways to cut it, best first")
        self._file, self._options = file, choices
        self.ways: Sequence[Way] = ()

    def on_mount(self) -> None:
        """Find the ways in the background."""
        self.show_choices()
        self.say("Looking for ways …")
        self.services.jobs.start(
            "ways",
            lambda: _ways(self._file, self._options),
            done=self._found,
            failed=self.refuse,
        )

    def _found(self, ways: Sequence[Way]) -> None:
        from hingeleaf.artwork.ways import SAYS

        self.ways, ink = ways, self.services.drawing_ink
        self.choices = [
            PictureChoice(
                str(way.kind), wrap(SAYS[way.kind], NARROWEST - 2), partial(_paint, way, ink)
            )
            for way in ways
        ]
        self.say(self.hint())
        self.show_choices()


def _ways(file: Path, choices: ImportOptions) -> Task[Sequence[Way]]:
    from hingeleaf.adding import read_drawing
    from hingeleaf.artwork.reading import load
    from hingeleaf.artwork.ways import find_ways

    yield Progress(0, 1, f"reading {file.name}")
    artwork = read_drawing(load(file), file, choices)
    yield Progress(0, 1, "looking for ways")
    return find_ways(artwork, choices.preparation, choices.card)


def _paint(way: Way, ink: Ink, columns: int, rows: int) -> Picture:
    from hingeleaf.model import Cuts

    cuts = Cuts(way.prepared.windows, way.prepared.slits)
    return draw_motif(cuts, (), columns, rows, ink)
