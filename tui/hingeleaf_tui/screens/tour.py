"""Guided tour of the screens."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from textual.app import ComposeResult
from textual.binding import BindingType
from textual.containers import Vertical
from textual.widgets import Static

from hingeleaf_tui import actions
from hingeleaf_tui.messages import ShowTour
from hingeleaf_tui.screens.dialogs import Dialog
from hingeleaf_tui.services import Services


@dataclass(frozen=True, slots=True)
class TourStep:
    """A text and its screen; keys are written as {action ids}."""

    screen: str
    title: str
    text: str


STEPS = (
    TourStep(
        "motifs",
        "1 of 5: Motifs",
        "A motif is one design. They are listed at the left, the chosen one is drawn large.\n\n"
        "{motifs.find} searches, {motifs.add} imports drawings of your own, "
        "{motifs.starters} adds the starter patterns. An empty library gets these now.",
    ),
    TourStep(
        "bridges",
        "2 of 5: Bridges",
        "Bridges are strips left uncut, so that nothing falls out. The arrows move the chosen "
        "one, {bridges.hold} explains what can lift and plans it, {bridges.smaller} shows the "
        "motif made smaller. Loose parts, the thinnest place and the smallest safe size stand at "
        "the left.",
    ),
    TourStep(
        "panel",
        "3 of 5: Panel",
        "A letter, word, border or outline is filled with motifs. Set it up at the left, then "
        "{panel.fill} fills it and {panel.stop} stops. {panel.arrange} lets you move, rotate and "
        "pin motifs; {panel.export} writes the cut file at true size.",
    ),
    TourStep(
        "trials",
        "4 of 5: Trials",
        "Hingeleaf computes which sizes the geometry allows; test cuts prove what your card and "
        "blade can do. {trials.ladder} writes a motif at a row of sizes, {trials.record} records "
        "what held.",
    ),
    TourStep(
        "workshop",
        "5 of 5: Workshop",
        "Your cards, the settings, and the keys, all of which you can change. {everywhere.help} "
        "finds any action, wherever you are.",
    ),
)


class Tour(Dialog[None]):
    """One step of the tour; Enter goes to the next."""

    PLACE = "tour"
    BINDINGS: ClassVar[list[BindingType]] = [
        *actions.bindings("tour"),
        *actions.bindings("sheet"),
    ]

    def __init__(self, services: Services, number: int = 0) -> None:
        super().__init__()
        self.services = services
        self._number = number

    def compose(self) -> ComposeResult:
        """Title, text and keys."""
        step = STEPS[self._number]
        keys_of = self.services.keys_of
        keys = {each.id: actions.shown(keys_of(each)) for each in actions.ACTIONS}
        text = step.text
        for id, key in keys.items():
            text = text.replace(f"{{{id}}}", key)
        on = actions.shown(keys_of(actions.find("tour.next")))
        last = self._number == len(STEPS) - 1
        with Vertical(classes="sheet"):
            yield Static(step.title, classes="title", markup=False)
            yield Static(text, markup=False)
            ends = "ends the tour" if last else "goes on"
            yield Static(f"{on} {ends}, Esc leaves it.", id="dialog-message", classes="quiet")

    def action_next(self) -> None:
        """Go to the next step, on its own screen."""
        self.post_message(ShowTour(self._number + 1))
        self.dismiss()
