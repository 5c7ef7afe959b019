"""Writing the cut file: where to, and what is in it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, ClassVar, cast

from textual import on
from textual.app import ComposeResult
from textual.binding import Binding, BindingType
from textual.containers import Vertical
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from hingeleaf.errors import HingeleafError
from hingeleaf.units import format_mm
from hingeleaf_tui import bench, recipe_form, settings

if TYPE_CHECKING:
    from hingeleaf_tui.app import Hingeleaf


class ExportScreen(ModalScreen[None]):
    """Asks for the file and writes it; the folder is remembered."""

    BINDINGS: ClassVar[list[BindingType]] = [Binding("escape,f10", "back", "Back")]
    AUTO_FOCUS = "Input"

    def __init__(self) -> None:
        super().__init__()
        self._replaces: Path | None = None

    @property
    def hingeleaf(self) -> Hingeleaf:
        """The app, with its own type."""
        return cast("Hingeleaf", self.app)

    def compose(self) -> ComposeResult:
        """What is written, where to, and what the keys do."""
        with Vertical(classes="sheet"):
            yield Static("Export the cut file", classes="title")
            yield Static(id="export-facts")
            yield Static("File", classes="quiet")
            yield Input(id="export-file", select_on_focus=False)
            yield Static("Enter writes it, Esc goes back.", id="export-says", classes="quiet")

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
        typed = self.query_one(Input)
        typed.value = str(folder / f"{name}.svg")
        typed.cursor_position = len(typed.value)
        self._replaces = None
        self._say("Enter writes it, Esc goes back.")

    def action_back(self) -> None:
        """Back to the panel."""
        self.dismiss()

    @on(Input.Submitted)
    def _write(self, event: Input.Submitted) -> None:
        target = Path(event.value.strip()).expanduser()
        if not event.value.strip() or target.is_dir():
            self._say("Type the name of a file, ending in .svg.", "fault")
        elif target.suffix.lower() != ".svg":
            self._say(f"{target.name} does not end in .svg.", "fault")
        elif target.exists() and target != self._replaces:
            self._replaces = target
            self._say("That file exists. Enter again replaces it, Esc goes back.", "caution")
        elif (reviewed := self.hingeleaf.bench.reviewed) is not None:
            self._say("Writing …")
            self.hingeleaf.jobs.start(
                "export",
                lambda: bench.write(reviewed.panel, target),
                done=self._written,
                failed=self._refused,
            )

    def _written(self, target: Path) -> None:
        app = self.hingeleaf
        app.bench.unsaved = False
        app.kept.export_folder = str(target.absolute().parent)
        settings.write(app.kept)
        if app.screen is self:
            self.dismiss()
        app.say(f"Written: {target}", "good")

    def _refused(self, error: HingeleafError) -> None:
        self._say(str(error), "fault")

    def _say(self, words: str, kind: str = "quiet") -> None:
        says = self.query_one("#export-says", Static)
        says.set_classes(kind)
        says.update(words)
