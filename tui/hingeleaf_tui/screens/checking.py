"""Check, export and edit the current panel: findings, fixes, swaps, edits by number."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import partial

from textual import on

from hingeleaf.errors import HingeleafError
from hingeleaf.model import Finding
from hingeleaf.panel import refill
from hingeleaf.panel.refill import FILL_ALL, Refill
from hingeleaf_tui import panel_session
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.forms.values import EDITS_EXAMPLE, read_edits
from hingeleaf_tui.panel_lists import motif_lines, verdict_of
from hingeleaf_tui.panel_session import PanelFilling, Reviewed
from hingeleaf_tui.screens.dialogs import InputDialog, PickDialog, QuestionDialog
from hingeleaf_tui.screens.export import ExportScreen
from hingeleaf_tui.screens.recipe import RecipeScreen
from hingeleaf_tui.services import Services
from hingeleaf_tui.widgets.arrange_view import ArrangeView
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.facts import Figures
from hingeleaf_tui.widgets.form import FormLine
from hingeleaf_tui.widgets.text_list import TextList, TextRow


class CheckingScreen(RecipeScreen):
    """A screen that shows the current panel's figures and findings, and edits it."""

    def __init__(self, services: Services) -> None:
        super().__init__(services)
        self._wants_export = False
        """Whether to open the export once the check is done."""

    @property
    def picture_view(self) -> ArrangeView:
        """The view of the panel, in which it is arranged."""
        return self.query_one(ArrangeView)

    @property
    def findings(self) -> TextList:
        """The list of the check's findings."""
        return self.query_one("#findings", TextList)

    def _review(self) -> None:
        filled, title = self.session.filled, self.panel_title
        if filled is None:
            self.report("Stopped before anything was placed. {panel.fill} continues.")
            return
        library = self.services.library.path
        self.start(
            "check",
            lambda: panel_session.review(library, title, filled),
            lambda reviewed: self._reviewed(filled, reviewed),
        )
        self.show_figures()

    def _reviewed(self, filled: PanelFilling, reviewed: Reviewed) -> None:
        if filled is not self.session.filled:
            return  # the panel was changed during the check
        self.session.set_reviewed(reviewed)
        self._show_findings(reviewed.report.with_weak_places)
        self.show_figures()
        if self._wants_export:
            self.action_export()
        if self.picture_view.has_focus or self.session.is_stale:
            return
        verdict, kind = verdict_of(reviewed)
        go_on = " Stopped: {panel.fill} continues." if self.services.jobs.is_paused("fill") else ""
        self.report(
            " ".join([f"{verdict}{go_on}", *reviewed.notes, "{panel.export} exports it."]), kind
        )

    def show_figures(self, verdict: str = "", kind: str = "") -> None:
        """Show coverage and other figures; no verdict if the recipe has changed."""
        session, jobs = self.session, self.services.jobs
        if session.filled is not None:
            if session.is_stale:
                verdict, kind = (
                    self.services.with_keys("Recipe changed: {panel.fill} fills again"),
                    "caution",
                )
            elif session.reviewed is not None:
                verdict, kind = verdict_of(session.reviewed)
            else:
                checking = jobs.is_running("lay") or jobs.is_running("check")
                verdict = "Checking …" if checking else "Not checked yet."
        filling = session.filled.filling if session.filled else None
        self.query_one(Figures).show(filling, verdict, kind)

    def _show_findings(self, findings: Sequence[Finding]) -> None:
        self.query_one("#panel-side").set_class(bool(findings), "found")
        self.findings.show(
            [
                TextRow(
                    finding.message, key=str(number), sign=f"{number + 1}", kind=finding.severity
                )
                for number, finding in enumerate(findings)
            ]
        )

    def action_findings(self) -> None:
        """Move the focus to the findings, or back to the recipe."""
        if self.findings.has_focus:
            self.query(FormLine).first().focus()
        elif self.findings.count:
            self.findings.focus()
        else:
            self.report("The check found nothing to show.")

    def action_export(self) -> None:
        """Write the cut file, once the panel is checked."""
        session, jobs = self.session, self.services.jobs
        filled = self.filled_to("export")
        if filled is None:
            return
        self._wants_export = session.reviewed is None
        if jobs.is_running("fill"):
            self._wants_export = False
            self.report("It is still being filled. {panel.stop} stops it.", "caution")
        elif session.reviewed is None:
            self.report("Checking it first; then you can export it.")
            if not (jobs.is_running("lay") or jobs.is_running("check")):
                self._review()
        else:
            title = f"Export the cut file of {recipe_form.describe(filled.recipe)}"
            self.app.push_screen(
                ExportScreen(self.services, title, session.reviewed, self.panel_title),
                lambda written: self.report(written, "good") if written else None,
            )

    # Edits that fill part of it again

    def start_fill(self, todo: Refill = FILL_ALL, what: str = "filling") -> None:
        """Fill the panel again, as one step of its history."""
        raise NotImplementedError

    @on(ArrangeView.SwapWanted)
    def _pick_swap(self) -> None:
        filled, picture_view = self.session.filled, self.picture_view
        if filled is not None:
            pick = PickDialog(self.services, "Swap it for", motif_lines(filled.motifs))
            self.app.push_screen(pick, picture_view.swap)

    @on(ArrangeView.Refill)
    def _refill(self, event: ArrangeView.Refill) -> None:
        filled = self.session.filled
        if filled is None:
            return
        if event.circle is None:
            pinned = tuple(each for each in self.session.placements if each.pinned)
            self.query(FormLine).first().focus()
            self.start_fill(Refill(pinned))
        else:
            self._refill_after(
                partial(refill.refill_of_circle, filled.placed, *event.circle), "refill of a circle"
            )

    @on(ArrangeView.EditsWanted)
    def _ask_edits(self) -> None:
        title = "Edits by number"
        ask = InputDialog(self.services, title, hint=EDITS_EXAMPLE, accept=read_edits)
        self.app.push_screen(ask, self._make_edits)

    def _make_edits(self, text: str | None) -> None:
        filled = self.session.filled
        if not text or filled is None:
            return
        edits = read_edits(text)
        self.submit(
            lambda library: refill.refill_of_edits(
                filled.placed, edits, lambda name: library.motif(name).name
            ),
            lambda todo: self.start_fill(todo, f"edit: {text}"),
            topic="edit",
        )

    def _refill_after(self, make: Callable[[], Refill], what: str) -> None:
        """Refill what an edit leaves, or show why it is impossible."""
        try:
            todo = make()
        except HingeleafError as error:
            self.refuse(error)
            return
        self.start_fill(todo, what)

    def fix_findings(self, numbers: Sequence[int]) -> None:
        """Put other motifs in the places of these findings."""
        filled, reviewed = self.session.filled, self.session.reviewed
        if filled is not None and reviewed is not None:
            found = tuple(reviewed.report.findings[number] for number in numbers)
            report = replace(reviewed.report, findings=found)
            self._refill_after(
                partial(refill.refill_of_findings, filled.placed, reviewed.panel, report),
                "mending",
            )

    @on(CursorList.Opened, "#findings")
    def _offer_fixes(self) -> None:
        """Offer to fix the chosen finding, or say what to do if no other motif would fix it."""
        reviewed, number = self.session.reviewed, self.findings.cursor
        if reviewed is None:
            return
        finding = reviewed.report.with_weak_places[number]
        fixable = panel_session.fixable(reviewed)
        if number not in fixable:
            self.report(f"Another motif would not fix this. {finding.remedy}", "caution")
            return
        answers = {"m": "Fix it: fill this place with another motif"}
        if len(fixable) > 1:
            answers["a"] = f"Fix all {len(fixable)} that other motifs can fix"
        answers |= {"b": "Back to the recipe", "n": "Stay in the list"}

        def answered(answer: str | None) -> None:
            if answer == "m":
                self.fix_findings([number])
            elif answer == "a":
                self.fix_findings(fixable)
            elif answer == "b":
                self.query(FormLine).first().focus()

        self.app.push_screen(
            QuestionDialog(f"{finding.message} {finding.remedy}", answers), answered
        )
