"""Unsaved work: the panel and edited bridges, written to a file as they change."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.autosave import Autosave

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf_tui.bridge_editor import BridgeSession
    from hingeleaf_tui.drafts import BridgeDraft, Draft
    from hingeleaf_tui.jobs import Jobs
    from hingeleaf_tui.panel_session import PanelSession, PanelState

WRITE_INTERVAL = 0.3
"""Least seconds between two writes, and greatest delay of the last change."""


class UnsavedWork:
    """The panel and edited bridges of a run. Used on the app's thread."""

    def __init__(
        self,
        library: Path,
        folder: Path,
        jobs: Jobs,
        later: Callable[[float, Callable[[], None]], object],
    ) -> None:
        self._jobs, self._later = jobs, later
        self._autosave = Autosave(library, folder)
        self._panel: PanelSession | None = None
        self._written, self._is_due = 0.0, False
        self.bridges: dict[str, BridgeSession] = {}
        """Edit sessions of motifs with edited bridges, by motif name."""
        self.drafts: dict[str, BridgeDraft] = {}
        """Edited bridges of an earlier run that were not opened yet, by motif name."""

    @property
    def panel(self) -> PanelSession:
        """The current panel; created on first use, since that loads the geometry libraries."""
        if self._panel is None:
            from hingeleaf_tui import panel_session
            from hingeleaf_tui.forms import recipe_form

            self._panel = panel_session.PanelSession(recipe_form.default_recipe(), self.changed)
        return self._panel

    def begin(self) -> Draft | None:
        """The draft of an earlier run. To leave it for later, call this again before any work."""
        return self._autosave.begin()

    def read_panel(self, draft: Draft, library: Library) -> PanelState | None:
        """The panel of a draft, read on the library's thread, for `resume`."""
        from hingeleaf_tui.drafts import panel_of

        return panel_of(library, draft.panel) if draft.panel else None

    def resume(self, draft: Draft, panel: PanelState | None) -> None:
        """Continue with the work of an earlier run."""
        self.drafts = {each.motif: each for each in draft.bridges}
        if panel is not None:
            self.panel.resume(panel)

    def unsaved_sentences(self) -> list[str]:
        """Sentences about the work that is neither in the library nor in a file."""
        lost = []
        if self._panel is not None and self._panel.unsaved:
            lost.append("The panel is neither saved nor exported.")
        if names := [draft.motif for draft in self._bridge_drafts()]:
            lost.append(f"Edited bridges of {', '.join(names)} are not saved.")
        return lost

    def changed(self) -> None:
        """Handle a change: write it now, or soon after the last write."""
        self._note()
        if self._is_due:
            return
        wait = self._written + WRITE_INTERVAL - time.monotonic()
        if wait <= 0:
            self._write()
        else:
            self._is_due = True
            self._later(wait, self._write)

    def save(self) -> bool:
        """Write immediately; returns whether that succeeded."""
        self._note()
        return self._autosave.write()

    def discard(self) -> None:
        """Discard the unsaved work."""
        self._autosave.note(None, ())
        self._autosave.write()

    def close(self) -> None:
        """Release the file for other instances."""
        self._autosave.close()

    def _note(self) -> None:
        panel = self._panel.state if self._panel and self._panel.holds_work else None
        self._autosave.note(panel, self._bridge_drafts())

    def _bridge_drafts(self) -> list[BridgeDraft]:
        edited = [each for each in self.bridges.values() if each.unsaved]
        if not edited:
            return list(self.drafts.values())
        from hingeleaf_tui.drafts import BridgeDraft

        made = [BridgeDraft.of(each.now.motif, each.base) for each in edited]
        return [*made, *self.drafts.values()]

    def _write(self) -> None:
        self._is_due, self._written = False, time.monotonic()
        self._jobs.start("autosave", self._writing)

    def _writing(self) -> Task[bool]:
        yield Progress(0, 1, "saving")
        return self._autosave.write()
