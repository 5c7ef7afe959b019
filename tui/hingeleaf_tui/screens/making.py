"""Making screen: the figures of a motif beside a drawing that follows them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from hingeleaf.tasks import Progress, Task
from hingeleaf_tui import actions
from hingeleaf_tui.forms import making_form
from hingeleaf_tui.forms.making_form import Making
from hingeleaf_tui.messages import MotifAdded, MotifsChanged
from hingeleaf_tui.screens.drawn_form import DrawnFormScreen
from hingeleaf_tui.shared.phrases import plural
from hingeleaf_tui.widgets.bars import StatusBar
from hingeleaf_tui.widgets.picture_view import PictureView

if TYPE_CHECKING:
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.services import Services


class MakingScreen(DrawnFormScreen):
    """A new motif from a few figures, or the figures of one made before."""

    PLACE = "making"
    BINDINGS: ClassVar[list[BindingType]] = [*actions.bindings("making")]
    ENTRIES = making_form.ENTRIES

    def __init__(self, services: Services, making: Making | None = None) -> None:
        super().__init__(services)
        self.making = making or Making()

    def work(self) -> Iterator[Widget]:
        """Form and drawing."""
        yield Horizontal(
            Vertical(self.form("making-form"), id="making-side"), PictureView(id="making-plate")
        )

    def values(self) -> dict[str, str]:
        """The text of each line of the form."""
        return making_form.shown(self.making)

    def change(self, key: str, text: str) -> None:
        """Take what was typed. Raises HingeleafError for what makes no sense."""
        self.making = making_form.changed(self.making, key, text)

    def draw(self, columns: int, rows: int) -> None:
        """Begin to draw the cuts, then the bridges."""
        path, card = self.services.library.path, self.services.settings.card
        draw = partial(_drawing, path, self.making, card, columns, rows)
        ink = self.services.drawing_ink
        self.services.jobs.start(
            "draw",
            lambda: draw(ink),
            step=self._drawn_so_far,
            done=self.show_picture,
            failed=self.not_drawn,
        )

    def _drawn_so_far(self, progress: Progress[Picture]) -> None:
        if progress.so_far is not None:
            self.show_picture(progress.so_far)

    def action_bring_in(self) -> None:
        """Add the motif to the library, or its next revision."""
        making, path, card = self.making, self.services.library.path, self.services.settings.card
        self.query_one(StatusBar).progress(0, "Planning bridges")
        self.services.jobs.start(
            "add", lambda: _adding(path, making, card), done=self._added, failed=self.refuse
        )

    def _added(self, told: tuple[str, str]) -> None:
        name, message = told
        self.post_message(MotifsChanged((name,), chosen=name))
        self.post_message(MotifAdded(name))
        self.making = replace(self.making, changed=name)
        self.show_form()
        self.say(message, "good")


def _drawing(
    path: Path, making: Making, card: str, columns: int, rows: int, ink: Ink
) -> Task[Picture]:
    """The cuts at once, then with the bridges in place."""
    from hingeleaf.making import make_motif
    from hingeleaf.model import Cuts
    from hingeleaf.paper.resized import recut
    from hingeleaf.shapes.design import cut_design
    from hingeleaf_tui.drawing.motif import draw_motif

    making = _resolved(path, making, card)
    made = cut_design(making.design)
    cuts = draw_motif(Cuts(made.windows, made.slits), (), columns, rows, ink)
    yield Progress(0, 1, "planning bridges", cuts)
    motif, _ = make_motif(making.design, making.title, making.choices)
    bridged = recut(motif, motif.size, making.choices.card)
    return draw_motif(bridged, motif.bridges, columns, rows, ink)


def _adding(path: Path, making: Making, card: str) -> Task[tuple[str, str]]:
    """The motif's name, and a sentence about what was added."""
    from hingeleaf.catalogue.store import Library
    from hingeleaf.errors import UsageError
    from hingeleaf.making import add_made, make_again

    yield Progress(0, 1, "planning bridges")
    making = _resolved(path, making, card)
    choices = making.choices
    with Library.open(path) as library:
        if making.changed:
            number, _ = make_again(library, making.changed, making.design, choices)
            return making.changed, f"{making.changed} is at revision {number}."
        report = add_made(library, making.design, making.name or making.title, choices)
        if report.outcome == "known":
            raise UsageError(report.message, "Change a figure, or use that motif.")
        return report.name, f"Added as {report.name}, with {plural(report.bridges, 'bridge')}."


def _resolved(path: Path, making: Making, card: str) -> Making:
    """The same with its card and the pieces that were typed."""
    from hingeleaf.catalogue.store import Library
    from hingeleaf_tui.shared.cards import find_card

    with Library.open(path) as library:
        choices = replace(making.choices, card=find_card(library, card or None))
        return replace(making.placed(library.motif), choices=choices)
