"""Services for screens: library, jobs, worker process, settings, unsaved work."""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf_tui import actions, settings

if TYPE_CHECKING:
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.jobs import Jobs
    from hingeleaf_tui.library_service import LibraryService
    from hingeleaf_tui.panel_session import PanelSession
    from hingeleaf_tui.settings import Settings
    from hingeleaf_tui.terminal import Terminal
    from hingeleaf_tui.unsaved_work import UnsavedWork
    from hingeleaf_tui.worker_process import WorkerProcess

_ACTION = re.compile("{(" + "|".join(re.escape(each.id) for each in actions.ACTIONS) + ")}")


@dataclass
class Services:
    """Created once by the app and passed to every screen."""

    library: LibraryService
    jobs: Jobs
    worker: WorkerProcess
    """The process that runs fillings."""
    work: UnsavedWork
    settings: Settings
    terminal: Terminal
    pixels: bool = False
    """Whether large drawings use pixels."""
    wanted_motif: str = ""
    """The motif whose bridges and trials are shown."""

    @property
    def panel(self) -> PanelSession:
        """The current panel."""
        return self.work.panel

    @property
    def export_folder(self) -> Path:
        """The folder of the last file written."""
        return Path(self.settings.export_folder or Path.cwd())

    @export_folder.setter
    def export_folder(self, folder: Path) -> None:
        self.settings.export_folder = str(folder)
        settings.write(self.settings)

    @property
    def ink(self) -> str:
        """The ink of lines and small drawings: braille, blocks or ascii."""
        own = self.settings.ink
        return self.terminal.ink if own in ("", "quadrants") else own

    @property
    def line_ink(self) -> Ink:
        """That ink as a value for drawings."""
        from hingeleaf_tui.drawing.ink import Ink

        return Ink(self.ink)

    @property
    def sheet_ink(self) -> Ink:
        """The ink of contact sheets: characters, never pixels."""
        from hingeleaf_tui.drawing.ink import Ink

        return Ink.QUADRANTS if self.drawing_ink is Ink.PIXELS else self.drawing_ink

    @property
    def drawing_ink(self) -> Ink:
        """The ink of large drawings."""
        from hingeleaf_tui.drawing.ink import Ink

        if self.pixels:
            return Ink.PIXELS
        best = "quadrants" if self.terminal.shows_surfaces else self.terminal.ink
        return Ink(self.settings.ink or best)

    def keys_of(self, action: actions.Action) -> str:
        """The current keys of an action."""
        return self.settings.keys.get(action.id, action.keys)

    def key(self, id: str) -> str:
        """The current key of an action, as printed on it."""
        return actions.key_label(self.keys_of(actions.find(id)))

    def with_keys(self, text: str) -> str:
        """A text with the current keys in place of `{action ids}`."""
        return _ACTION.sub(lambda found: self.key(found[1]), text)
