"""Base class of the app: resume unsaved work, quit, and end when the terminal is gone."""

from __future__ import annotations

import asyncio
import contextlib
import logging
import select
import signal
import sys
import threading
from collections.abc import Callable
from typing import TYPE_CHECKING

from textual.app import App
from textual.await_complete import AwaitComplete
from textual.driver import Driver
from textual.widget import AwaitMount

from hingeleaf.errors import HingeleafError
from hingeleaf_tui import settings
from hingeleaf_tui.screens.base import WorkScreen

if TYPE_CHECKING:
    from hingeleaf_tui.drafts import Draft
    from hingeleaf_tui.panel_session import PanelState
    from hingeleaf_tui.services import Services

ENDING_SIGNALS = ("SIGTERM", "SIGHUP", "SIGINT")
HUNG_UP = 128 + 1
"""Exit code if the terminal is gone: 128 plus SIGHUP, which is 1 in POSIX."""
log = logging.getLogger("hingeleaf")
log.propagate = False


class LifecycleApp(App[None]):
    """An app that saves unsaved work however it ends."""

    services: Services

    def __init__(self, driver: type[Driver] | None = None) -> None:
        super().__init__(driver_class=driver)
        self._is_thrown_away = False

    def go_to(self, place: str) -> AwaitComplete | AwaitMount | None:
        """Show the screen of a place."""
        raise NotImplementedError

    def report(self, words: str, kind: str = "") -> None:
        """Show one sentence on the working screen."""
        raise NotImplementedError

    def on_load(self) -> None:
        """On signals that end the app, restore the terminal and save unsaved work."""
        if self.is_headless:
            return
        loop = asyncio.get_running_loop()
        for name in ENDING_SIGNALS:
            with contextlib.suppress(AttributeError, NotImplementedError):  # as on Windows
                number = int(getattr(signal, name))
                loop.add_signal_handler(number, self.exit, None, 128 + number)
        if hasattr(select, "poll") and sys.__stdin__ and sys.__stdin__.isatty():

            def end() -> None:
                with contextlib.suppress(RuntimeError):  # the loop has closed meanwhile
                    loop.call_soon_threadsafe(self.exit, None, HUNG_UP)

            terminal = sys.__stdin__.fileno()
            threading.Thread(target=_wait_for_hangup, args=(terminal, end), daemon=True).start()

    def on_ready(self) -> None:
        """Once the first screen is shown, offer to resume the work of an earlier run."""
        self.call_after_refresh(self.offer_to_resume)

    def on_unmount(self) -> None:
        """Save unsaved work and stop running jobs."""
        if self._is_thrown_away:
            self.services.work.discard()
        else:
            self.services.work.save()
        self.services.work.close()
        self.services.jobs.close()
        self.services.worker.close()

    async def action_quit(self) -> None:
        """Quit, after asking if there is unsaved work."""
        lost = self.services.work.unsaved_sentences()
        if not lost:
            self.exit()
            return
        from hingeleaf_tui.screens.dialogs import QuestionDialog

        answers = {
            "y": "Quit, and continue next time",
            "d": "Quit, and discard it",
            "n": "Stay",
        }
        self.push_screen(QuestionDialog(f"{' '.join(lost)} Quit anyway?", answers), self._leave)

    def _leave(self, answer: str | None) -> None:
        if answer == "d":
            self._is_thrown_away = True
        if answer in ("y", "d"):
            self.exit()

    # Resuming unsaved work

    def offer_to_resume(self) -> None:
        """Ask whether to resume what an earlier run left unsaved."""
        draft = self.services.work.begin()
        if draft is None:
            return
        if not draft.is_worth_asking:
            self._resume(draft)
            return
        from hingeleaf_tui.screens.dialogs import QuestionDialog

        try:
            question = f"Unsaved from last time: {draft.describe()}."
        except HingeleafError as error:
            self.report(str(error), "fault")
            return
        answers = {
            "y": "Continue with it",
            "d": "Discard it",
            "n": "Not now; ask again next time",
        }
        self.push_screen(
            QuestionDialog(question, answers), lambda answer: self._answered(draft, answer)
        )

    def _answered(self, draft: Draft, answer: str | None) -> None:
        if answer == "y":
            self._resume(draft)
        elif answer == "d":
            self.services.work.discard()
        else:
            self.services.work.begin()

    def _resume(self, draft: Draft) -> None:
        self.services.library.submit(
            "resume",
            lambda library: self.services.work.read_panel(draft, library),
            lambda panel: self._resumed(draft, panel),
            lambda error: self.report(f"The unsaved panel cannot be shown: {error}", "fault"),
        )

    def _resumed(self, draft: Draft, panel: PanelState | None) -> None:
        self.services.work.resume(draft, panel)
        for screen in self.screen_stack:
            if isinstance(screen, WorkScreen):
                screen.show_opened()
        if draft.bridges:
            self.services.wanted_motif = draft.bridges[0].motif
        if panel is not None and draft.is_worth_asking:
            self.go_to("panel")
        elif draft.bridges:
            self.go_to("bridges")

    def _fatal_error(self) -> None:
        """Handle a bug on the app's own thread: save unsaved work first.

        Textual has no public hook for this, so its private parts stand here and nowhere else.
        """
        if self._exit_renderables:
            return
        from rich.text import Text

        error = self._exception or RuntimeError("unknown fault")
        lines = [f"Something went wrong in Hingeleaf. The log is {settings.log_to_file(log)}"]
        log.error("the app failed", exc_info=error)
        if self.services.work.unsaved_sentences():
            saved = self.services.work.save()
            lines.append(
                "Start Hingeleaf again to continue with your unsaved work."
                if saved
                else "The unsaved work could not be written."
            )
        lines.append("The library itself is unchanged.")
        self._exit_renderables.append(Text("\n".join(lines)))
        self._close_messages_no_wait()

    def _crashed(self, error: BaseException) -> None:
        """Handle a bug in a job: the work stays open, the log has the details."""
        where = settings.log_to_file(log)
        log.error("a job failed", exc_info=error)
        self.report(f"Something went wrong in Hingeleaf; see {where}.", "fault")


def _wait_for_hangup(terminal: int, then: Callable[[], None]) -> None:
    """Wait until a terminal is hung up, which may happen without a signal to us."""
    waiting = select.poll()
    waiting.register(terminal, 0)  # hang-up is always reported
    waiting.poll()
    then()
