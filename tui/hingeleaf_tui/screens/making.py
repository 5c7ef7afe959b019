"""Making screen: the figures of a motif beside a drawing that follows them."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, ClassVar

from textual import on
from textual.binding import BindingType
from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from hingeleaf.tasks import Progress, Task
from hingeleaf_tui import actions
from hingeleaf_tui.forms import making_form
from hingeleaf_tui.forms.making_form import Making
from hingeleaf_tui.messages import MotifAdded, MotifsChanged
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.shared.phrases import plural
from hingeleaf_tui.widgets.bars import StatusBar
from hingeleaf_tui.widgets.form import Form
from hingeleaf_tui.widgets.picture_view import PictureView

if TYPE_CHECKING:
    from hingeleaf.errors import HingeleafError
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.services import Services


class MakingScreen(WorkScreen):
    """A new motif from a few figures, or the figures of one made before."""

    PLACE = "making"
    HEAD = "motifs"
    BINDINGS: ClassVar[list[BindingType]] = [*actions.bindings("making")]
    AUTO_FOCUS = "FormLine"

    def __init__(self, services: Services, making: Making | None = None) -> None:
        super().__init__(services)
        self.making = making or Making()

    def work(self) -> Iterator[Widget]:
        """Form and drawing."""
        yield Horizontal(
            Vertical(Form(making_form.ENTRIES, self._accept, id="making-form"), id="making-side"),
            PictureView(id="making-plate"),
        )

    @property
    def plate(self) -> PictureView:
        """Where the motif is drawn."""
        return self.query_one(PictureView)

    def on_mount(self) -> None:
        """Show the figures."""
        self.show_library(self.services.library.path.name)
        self._show_form()

    def _accept(self, key: str, text: str) -> str:
        self.making = making_form.changed(self.making, key, text)
        return making_form.shown(self.making).get(key, "")

    def _show_form(self) -> None:
        self.query_one(Form).show(making_form.shown(self.making))

    @on(Form.Changed)
    def _changed(self) -> None:
        self._show_form()
        self._draw()

    @on(Form.Refused)
    def _refused(self, event: Form.Refused) -> None:
        self.refuse(event.error)

    @on(Form.Reached)
    def _say_what_it_is(self, event: Form.Reached) -> None:
        self.say(event.entry.help)

    @on(PictureView.Resized)
    def _draw(self) -> None:
        plate = self.plate
        if plate.columns < 4 or plate.rows < 2:
            return
        path, card = self.services.library.path, self.services.settings.card
        draw = partial(_drawing, path, self.making, card, plate.columns, plate.rows)
        ink = self.services.drawing_ink
        self.services.jobs.start(
            "draw",
            lambda: draw(ink),
            step=self._drawn_so_far,
            done=self._drawn,
            failed=self._not_drawn,
        )

    def _drawn_so_far(self, progress: Progress[Picture]) -> None:
        if progress.so_far is not None:
            self._drawn(progress.so_far)

    def _drawn(self, picture: Picture) -> None:
        if picture.size == (self.plate.columns, self.plate.rows):
            self.plate.show(picture)

    def _not_drawn(self, error: HingeleafError) -> None:
        self.plate.say(f"{error.message}\n\n{error.remedy}")
        self.refuse(error)

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
        self._show_form()
        self.say(message, "good")

    def action_leave(self) -> None:
        """Back to the motifs."""
        self.services.jobs.cancel("add")
        self.dismiss()


def _drawing(
    path: Path, making: Making, card: str, columns: int, rows: int, ink: Ink
) -> Task[Picture]:
    """The cuts at once, then with the bridges in place."""
    from hingeleaf.making import make_motif
    from hingeleaf.model import Cuts
    from hingeleaf.paper.resized import recut
    from hingeleaf.shapes.design import cut_design
    from hingeleaf_tui.drawing.motif import draw_motif

    made = cut_design(making.design)
    cuts = draw_motif(Cuts(made.windows, made.slits), (), columns, rows, ink)
    yield Progress(0, 1, "planning bridges", cuts)
    choices = _on_card(path, making, card).choices
    motif, _ = make_motif(making.design, making.kind, choices)
    bridged = recut(motif, motif.size, choices.card)
    return draw_motif(bridged, motif.bridges, columns, rows, ink)


def _adding(path: Path, making: Making, card: str) -> Task[tuple[str, str]]:
    """The motif's name, and a sentence about what was added."""
    from hingeleaf.catalogue.store import Library
    from hingeleaf.errors import UsageError
    from hingeleaf.making import add_made, make_again

    yield Progress(0, 1, "planning bridges")
    choices = _on_card(path, making, card).choices
    with Library.open(path) as library:
        if making.changed:
            number, _ = make_again(library, making.changed, making.design, choices)
            return making.changed, f"{making.changed} is at revision {number}."
        report = add_made(library, making.design, making.name or making.kind, choices)
        if report.outcome == "known":
            raise UsageError(report.message, "Change a figure, or use that motif.")
        return report.name, f"Added as {report.name}, with {plural(report.bridges, 'bridge')}."


def _on_card(path: Path, making: Making, card: str) -> Making:
    from hingeleaf.catalogue.store import Library
    from hingeleaf_tui.shared.cards import find_card

    with Library.open(path) as library:
        found = find_card(library, card or None)
    return replace(making, choices=replace(making.choices, card=found))
