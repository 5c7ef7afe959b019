"""Export dialog: files, folder, and an estimate of the cut."""

from dataclasses import replace
from pathlib import Path

from textual import on
from textual.app import ComposeResult
from textual.widgets import Static

from hingeleaf_tui.forms import export_form
from hingeleaf_tui.forms.export_form import ExportOrder
from hingeleaf_tui.panel_session import Reviewed
from hingeleaf_tui.screens.dialogs import FormDialog
from hingeleaf_tui.services import Services
from hingeleaf_tui.widgets.form import Form

STALE = "The recipe was changed since; this writes the panel as it was filled."
FAULTS = "The check found faults; it can be written all the same."


class ExportScreen(FormDialog[ExportOrder]):
    """Asks how to write a checked panel."""

    PLACE = "export"

    def __init__(self, services: Services, title: str, reviewed: Reviewed, name: str) -> None:
        order = export_form.new_order(name, services.export_folder)
        super().__init__(services, title, export_form.LINES, order)
        self._reviewed = reviewed

    def content(self) -> ComposeResult:
        """The form, time and cost of the cut, and any warning."""
        yield from super().content()
        yield Static("", id="export-job", markup=False)
        if self.services.panel.is_stale:
            yield Static(STALE, classes="caution", markup=False)
        if not self._reviewed.report.holds:
            yield Static(FAULTS, classes="caution", markup=False)

    def on_mount(self) -> None:
        """Fill in the known values, and query the library for more."""
        self.query_one(Form).line("format").focus()
        self._look()
        session = self.services.panel
        saved = "" if session.unsaved else session.name
        self.submit(lambda library: export_form.read_known(library, saved), self._known)

    def _known(self, known: export_form.Known) -> None:
        self.subject = replace(self.subject, known=known)
        self.show_values()
        self._look()

    @on(Form.Changed)
    def _look(self) -> None:
        panel, order = self._reviewed.panel, self.subject
        self.start("export", lambda: export_form.cut_summary(panel, order), self._show_job)

    def _show_job(self, lines: list[str]) -> None:
        *sheets, cost = lines
        more = [f"and {len(sheets) - 4} sheets more"] * (len(sheets) > 4)
        shown = [*sheets[:4], *more, cost]
        self.query_one("#export-job", Static).update("\n".join(shown))

    def action_write(self) -> None:
        """Write the files, after asking if one would be replaced."""
        reviewed, order = self._reviewed, self.subject
        if not self.may_write(order.targets, "{export.write}"):
            return
        replacing = bool(self.to_replace)
        self.report("Writing …")
        self.start(
            "export",
            lambda: export_form.write(reviewed.panel, reviewed.report, order, replacing=replacing),
            self._written,
        )

    def _written(self, written: tuple[list[Path], list[Path]]) -> None:
        cut, beside = written
        order, files = self.subject, [*cut, *beside]
        if order.done:
            self.submit(lambda library: export_form.note_done(library, order, cut))
        self.services.panel.mark_saved()
        self.services.export_folder = order.folder.absolute()
        more = f" and {len(files) - 1} more" if len(files) > 1 else ""
        self.dismiss(f"Written: {files[0]}{more}")
