"""Check and export of the current panel: figures, verdict, findings, cut file."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf_tui import panel_session
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.panel_lists import verdict_of
from hingeleaf_tui.screens.export import ExportScreen
from hingeleaf_tui.screens.recipe import RecipeScreen
from hingeleaf_tui.widgets.arrange_view import ArrangeView
from hingeleaf_tui.widgets.figures import Figures
from hingeleaf_tui.widgets.text_list import TextList, TextRow

if TYPE_CHECKING:
    from hingeleaf.model import Finding
    from hingeleaf_tui.panel_session import PanelFilling, Reviewed
    from hingeleaf_tui.services import Services


class CheckingScreen(RecipeScreen):
    """A screen that shows the current panel's figures and findings."""

    def __init__(self, services: Services) -> None:
        super().__init__(services)
        self._wants_export = False
        """Whether to open the export once the check is done."""

    @property
    def plate(self) -> ArrangeView:
        """The view of the panel, in which it is arranged."""
        return self.query_one(ArrangeView)

    @property
    def findings(self) -> TextList:
        """The list of the check's findings."""
        return self.query_one("#findings", TextList)

    def _review(self) -> None:
        filled, title = self.session.filled, self.panel_title
        if filled is None:
            self.report("Stopped before anything was placed. Press g to continue.")
            return
        library = self.services.library.path
        self.services.jobs.start(
            "check",
            lambda: panel_session.review(library, title, filled),
            done=lambda reviewed: self._reviewed(filled, reviewed),
            failed=self.refuse,
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
        if self.plate.has_focus or self.session.is_stale:
            return
        verdict, kind = verdict_of(reviewed)
        go_on = " Stopped: g continues." if self.services.jobs.is_paused("fill") else ""
        self.report(" ".join([f"{verdict}{go_on}", *reviewed.notes, "Press x to export."]), kind)

    def show_figures(self, verdict: str = "", kind: str = "") -> None:
        """Show coverage and other figures; no verdict if the recipe has changed."""
        session, jobs = self.session, self.services.jobs
        if session.filled is not None:
            if session.is_stale:
                verdict, kind = "Recipe changed: g fills again", "caution"
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
        """Move the focus to the findings."""
        if self.findings.count:
            self.findings.focus()
        else:
            self.report("The check found nothing to show.")

    def action_export(self) -> None:
        """Write the cut file, once the panel is checked."""
        session, jobs = self.session, self.services.jobs
        self._wants_export = session.filled is not None and session.reviewed is None
        if session.filled is None:
            self.report("There is no panel to export yet. Press g to fill one.", "caution")
        elif jobs.is_running("fill"):
            self._wants_export = False
            self.report("It is still being filled. c stops it.", "caution")
        elif session.reviewed is None:
            self.report("Checking it first; then you can export it.")
            if not (jobs.is_running("lay") or jobs.is_running("check")):
                self._review()
        else:
            folder = Path(self.services.settings.export_folder or Path.cwd())
            about = recipe_form.describe(session.filled.recipe)
            self.app.push_screen(
                ExportScreen(
                    self.services,
                    session.reviewed,
                    about,
                    self.panel_title,
                    folder,
                    stale=session.is_stale,
                ),
                lambda written: self.report(written, "good") if written else None,
            )
