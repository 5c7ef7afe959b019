"""Screen for making a motif from numbers, with a live drawing."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from pathlib import Path

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import UsageError
from hingeleaf.making import add_made_motif, make_motif, remake_motif
from hingeleaf.model import Cuts
from hingeleaf.paper.resized import cuts_at_size
from hingeleaf.shapes.design import cut_design
from hingeleaf.tasks import Progress, Task
from hingeleaf.text import plural
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.motif import draw_motif
from hingeleaf_tui.forms import making_form
from hingeleaf_tui.forms.making_form import Making
from hingeleaf_tui.messages import MotifAdded, MotifsChanged
from hingeleaf_tui.screens.drawn_form import DrawnFormScreen
from hingeleaf_tui.services import Services
from hingeleaf_tui.shared.cards import find_card


class MakingScreen(DrawnFormScreen[Making]):
    """Makes a motif from numbers, or changes the numbers of an existing one."""

    PLACE = "making"

    def __init__(self, services: Services, making: Making | None = None) -> None:
        super().__init__(services, making or Making(), making_form.LINES, making_form.ENTRIES)

    def drawing(self, columns: int, rows: int) -> Task[Picture]:
        """Draw the motif as it would be cut."""
        services = self.services
        path, card, ink = services.library.path, services.settings.card, services.drawing_ink
        return _drawing(path, self.subject, card, columns, rows, ink)

    def action_bring_in(self) -> None:
        """Add the motif, or its next revision, to the library."""
        path, card = self.services.library.path, self.services.settings.card
        self.begin_adding(partial(_adding, path, self.subject, card), self._added)

    def _added(self, result: tuple[str, str]) -> None:
        name, message = result
        self.post_message(MotifsChanged((name,), chosen=name))
        self.post_message(MotifAdded(name))
        self.subject = replace(self.subject, changed=name)
        self.show_form()
        self.report(message, "good")


def _drawing(
    path: Path, making: Making, card: str, columns: int, rows: int, ink: Ink
) -> Task[Picture]:
    """Draw the cuts immediately, then with bridges."""
    making = _resolved(path, making, card)
    made = cut_design(making.design)
    cuts = draw_motif(Cuts(made.windows, made.slits), (), columns, rows, ink)
    yield Progress(0, 1, "planning bridges", cuts)
    motif, _ = make_motif(making.design, making.title, making.options)
    bridged = cuts_at_size(motif, motif.size, making.options.card)
    return draw_motif(bridged, motif.bridges, columns, rows, ink)


def _adding(path: Path, making: Making, card: str) -> Task[tuple[str, str]]:
    """Add the motif; returns its name and a message."""
    yield Progress(0, 1, "planning bridges")
    making = _resolved(path, making, card)
    options = making.options
    with Library.open(path) as library:
        if making.changed:
            number, _ = remake_motif(library, making.changed, making.design, options)
            return making.changed, f"{making.changed} is at revision {number}."
        report = add_made_motif(library, making.design, making.name or making.title, options)
        if report.outcome == "known":
            raise UsageError(report.message, "Change a figure, or use that motif.")
        return report.name, f"Added as {report.name}, with {plural(report.bridges, 'bridge')}."


def _resolved(path: Path, making: Making, card: str) -> Making:
    """The motif with its card, and with the typed pieces parsed."""
    with Library.open(path) as library:
        options = replace(making.options, card=find_card(library, card or None))
        return replace(making.placed(library.motif), options=options)
