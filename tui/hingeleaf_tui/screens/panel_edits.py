"""Edits that refill part of the current panel: swaps, edits by number, circles, fixes."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from textual import on

from hingeleaf.errors import HingeleafError
from hingeleaf_tui import panel_session
from hingeleaf_tui.panel_lists import motif_lines
from hingeleaf_tui.screens.checking import CheckingScreen
from hingeleaf_tui.screens.dialogs import InputDialog, PickDialog, QuestionDialog
from hingeleaf_tui.shared import refill
from hingeleaf_tui.shared.edit_words import EXAMPLE, typed_edits
from hingeleaf_tui.shared.refill import FILL_ALL, Refill
from hingeleaf_tui.widgets.arrange_view import ArrangeView
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.form import FormLine


class PanelEdits(CheckingScreen):
    """A screen for editing a panel."""

    def begin(self, todo: Refill = FILL_ALL, what: str = "filling") -> None:
        """Fill the panel again, as one step of its history."""
        raise NotImplementedError

    @on(ArrangeView.SwapWanted)
    def _pick_swap(self) -> None:
        filled, plate = self.session.filled, self.plate
        if filled is not None:
            pick = PickDialog("Swap it for", lambda done, failed: done(motif_lines(filled.motifs)))
            self.app.push_screen(pick, plate.swap)

    @on(ArrangeView.Refill)
    def _refill(self, event: ArrangeView.Refill) -> None:
        filled = self.session.filled
        if filled is None:
            return
        if event.circle is None:
            pinned = tuple(each for each in self.session.placements if each.pinned)
            self.query(FormLine).first().focus()
            self.begin(Refill(pinned))
        else:
            self._edit(partial(refill.circle, filled.placed, *event.circle), "refill of a circle")

    @on(ArrangeView.EditsWanted)
    def _ask_edits(self) -> None:
        ask = InputDialog("Edits by number", hint=EXAMPLE, accept=lambda text: typed_edits(text))
        self.app.push_screen(ask, self._make_edits)

    def _make_edits(self, text: str | None) -> None:
        filled = self.session.filled
        if not text or filled is None:
            return
        edits = typed_edits(text)
        self.services.library.submit(
            "edit",
            lambda library: refill.edited(
                filled.placed, edits, lambda name: library.motif(name).name
            ),
            lambda todo: self.begin(todo, f"edit: {text}"),
            self.refuse,
        )

    def _edit(self, make: Callable[[], Refill], what: str) -> None:
        """Refill what an edit leaves, or show why it is impossible."""
        try:
            todo = make()
        except HingeleafError as error:
            self.refuse(error)
            return
        self.begin(todo, what)

    def mend(self, numbers: Sequence[int]) -> None:
        """Put other motifs in the places of these findings."""
        filled, reviewed = self.session.filled, self.session.reviewed
        if filled is not None and reviewed is not None:
            found = tuple(reviewed.report.findings[number] for number in numbers)
            report = replace(reviewed.report, findings=found)
            self._edit(
                partial(refill.fixed, filled.placed, reviewed.panel, report),
                "mending",
            )

    @on(CursorList.Opened, "#findings")
    def _ask_to_mend(self) -> None:
        """Offer remedies for the chosen finding."""
        reviewed, number = self.session.reviewed, self.findings.cursor
        if reviewed is None:
            return
        finding = reviewed.report.with_weak_places[number]
        mendable = panel_session.mendable(reviewed)
        answers = {"b": "Back to the recipe", "n": "Stay in the list"}
        if len(mendable) > 1:
            answers = {"a": f"Fix all {len(mendable)} that other motifs can fix"} | answers
        if number in mendable:
            answers = {"m": "Fix it: fill this place with another motif"} | answers

        def answered(answer: str | None) -> None:
            if answer == "m":
                self.mend([number])
            elif answer == "a":
                self.mend(mendable)
            elif answer == "b":
                self.query(FormLine).first().focus()

        self.app.push_screen(
            QuestionDialog(f"{finding.message} {finding.remedy}", answers), answered
        )
