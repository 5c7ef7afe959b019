"""Write a sheet to cut and judge: ask for its file, and before replacing one."""

from __future__ import annotations

from collections.abc import Callable
from contextlib import nullcontext
from pathlib import Path

from hingeleaf.errors import HingeleafError, WouldReplaceError
from hingeleaf.export.files import allow_overwriting
from hingeleaf.panel.compose import Panel
from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.screens.dialogs import InputDialog, QuestionDialog
from hingeleaf_tui.shared.file_names import check_svg_name, file_name


class SheetFileScreen(WorkScreen):
    """A screen that writes such sheets."""

    def ask_sheet_file(
        self, title: str, name: str, make: Callable[[], Panel], done: Callable[[Path, Panel], None]
    ) -> None:
        """Ask for a file, by default `name` in the export folder, and write what `make` makes."""
        value = str(self.services.export_folder / f"{file_name(name)}.svg")

        def answered(text: str | None) -> None:
            if text:
                self._write(Path(text).expanduser(), make, done, replacing=False)

        ask = InputDialog(self.services, title, value, accept=check_svg_name)
        self.app.push_screen(ask, answered)

    def _write(
        self,
        target: Path,
        make: Callable[[], Panel],
        done: Callable[[Path, Panel], None],
        *,
        replacing: bool,
    ) -> None:
        def written(panel: Panel) -> None:
            self.services.export_folder = target.absolute().parent
            done(target, panel)

        def replace(answer: str | None) -> None:
            if answer == "y":
                self._write(target, make, done, replacing=True)

        def refused(error: HingeleafError) -> None:
            if isinstance(error, WouldReplaceError):
                answers = {"y": "Replace it", "n": "Leave it as it is"}
                self.app.push_screen(QuestionDialog(error.message, answers), replace)
            else:
                self.refuse(error)

        self.services.jobs.start(
            "sheet", lambda: _writing(target, make, replacing), done=written, failed=refused
        )


def _writing(target: Path, make: Callable[[], Panel], replacing: bool) -> Task[Panel]:
    from hingeleaf.export.writing import write_test_sheet

    yield Progress(0, 1, f"writing {target.name}")
    panel = make()
    with allow_overwriting() if replacing else nullcontext():
        write_test_sheet(panel, target)
    return panel
