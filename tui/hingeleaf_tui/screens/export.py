"""Writing the cut file: where to, and what is in it."""

from __future__ import annotations

from pathlib import Path

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.widgets import Input, Static

from hingeleaf.units import format_mm
from hingeleaf_tui import bench, recipe_form, settings
from hingeleaf_tui.screens.sheet import Sheet
from hingeleaf_tui.widgets.typed_line import TypedLine


class ExportScreen(Sheet[None]):
    """Asks for the file and writes it; the folder is remembered."""

    AUTO_FOCUS = "TypedLine"

    def __init__(self) -> None:
        super().__init__()
        self._replaces: Path | None = None

    def compose(self) -> ComposeResult:
        """What is written, where to, and what the keys do."""
        with Vertical(classes="sheet"):
            yield Static("Export the cut file", classes="title")
            yield Static(id="export-facts")
            yield Static("File", classes="quiet")
            yield TypedLine(id="export-file", select_on_focus=False)
            yield Static("Enter writes it, Esc goes back.", id="sheet-says", classes="quiet")

    def on_screen_resume(self) -> None:
        """Show the panel as it is now."""
        now = self.hingeleaf.bench
        if now.reviewed is None:
            self.dismiss()
            return
        panel = now.reviewed.panel
        width, height = panel.size
        holds = "nothing falls out" if now.reviewed.report.holds else "the check found faults"
        self.query_one("#export-facts", Static).update(
            f"Sheet {format_mm(width)[:-3]} x {format_mm(height)}, {panel.card.name}\n"
            f"{len(panel.pieces)} motifs; {holds}.\n"
        )
        folder = Path(self.hingeleaf.kept.export_folder or Path.cwd())
        name = now.name or recipe_form.title(now.recipe)
        typed = self.query_one(TypedLine)
        typed.value = str(folder / f"{name}.svg")
        typed.cursor_position = 0
        self.call_after_refresh(typed.action_end)  # scrolls to the name
        self._replaces = None
        self.say("Enter writes it, Esc goes back.")

    @on(Input.Submitted)
    def _write(self, event: Input.Submitted) -> None:
        target = Path(event.value.strip()).expanduser()
        if not event.value.strip() or target.is_dir():
            self.say("Type the name of a file, ending in .svg.", "fault")
        elif target.suffix.lower() != ".svg":
            self.say(f"{target.name} does not end in .svg.", "fault")
        elif target.exists() and target != self._replaces:
            self._replaces = target
            self.say("That file exists. Enter again replaces it, Esc goes back.", "caution")
        elif (reviewed := self.hingeleaf.bench.reviewed) is not None:
            self.say("Writing …")
            self.hingeleaf.jobs.start(
                "export",
                lambda: bench.write(reviewed.panel, target),
                done=self._written,
                failed=self.refuse,
            )

    def _written(self, target: Path) -> None:
        app = self.hingeleaf
        app.bench.unsaved = False
        app.kept.export_folder = str(target.absolute().parent)
        settings.write(app.kept)
        if app.screen is self:
            self.dismiss()
        app.say(f"Written: {target}", "good")
