"""The terminal app: one library, one panel at work, and the screens that show them.

Importing this module loads Textual and nothing of the geometry: that comes once the first screen
stands, in the library's own thread.
"""

from __future__ import annotations

import asyncio
import contextlib
import logging
import signal
import sys
import warnings
from collections.abc import Callable, Sequence
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual import events
from textual.app import App
from textual.binding import BindingType

from hingeleaf.errors import HingeleafError, LibraryNotice
from hingeleaf_tui import actions, settings, terminal, themes
from hingeleaf_tui.fill_worker import MODULES as FILLING
from hingeleaf_tui.jobs import Jobs
from hingeleaf_tui.library_service import LibraryService
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.screens.motifs import MotifsScreen
from hingeleaf_tui.unsaved_work import UnsavedWork
from hingeleaf_tui.widgets.style_cache import StyleCache
from hingeleaf_tui.widgets.words import ShownText
from hingeleaf_tui.worker_process import WorkerProcess

if TYPE_CHECKING:
    from textual.driver import Driver
    from textual.filter import LineFilter
    from textual.screen import Screen

    from hingeleaf.model import Card
    from hingeleaf_tui.drafts import Draft
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.panel_session import PanelSession, PanelState

MOST_WAIT = 0.001
"""Seconds that a job may keep Python from a key that was pressed."""
SHOWN_TEXT = ShownText()
ENDING_SIGNALS = ("SIGTERM", "SIGHUP", "SIGINT")
log = logging.getLogger("hingeleaf")
log.propagate = False


def _later(module: str, name: str) -> Callable[[], Screen[Any]]:
    """A screen whose module is loaded when it is first shown."""

    def make() -> Screen[Any]:
        screen: Screen[Any] = getattr(import_module(f"hingeleaf_tui.screens.{module}"), name)()
        return screen

    return make


class Hingeleaf(App[None]):
    """Browse motifs, fill panels, check and export them."""

    TITLE = "Hingeleaf"
    CSS_PATH = "app.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [*actions.bindings("everywhere")]
    ENABLE_COMMAND_PALETTE = False
    SCREENS: ClassVar[dict[str, Callable[[], Screen[Any]]]] = {
        "motifs": MotifsScreen,
        "bridges": _later("bridges", "BridgesScreen"),
        "panel": _later("panel", "PanelScreen"),
        "trials": _later("trials", "TrialsScreen"),
        "workshop": _later("workshop", "WorkshopScreen"),
    }

    def __init__(
        self,
        library: Path,
        *,
        look: terminal.Terminal | None = None,
        kept: settings.Settings | None = None,
        driver: type[Driver] | None = None,
        apart: WorkerProcess | None = None,
        pixels: bool = False,
        state: Path | None = None,
    ) -> None:
        self.kept = kept or settings.read()
        self.look = look or terminal.look()
        self.ink = self.kept.ink or self.look.ink
        self.ascii = self.ink == "ascii"
        self.pixels = pixels
        """Whether large drawings are real pixels."""
        super().__init__(driver_class=driver)
        for name in themes.PALETTES:
            self.register_theme(themes.make(name))
        self.theme = themes.theme_name(self.kept.light, self.look.plain)
        self.pens = StyleCache(self.theme)
        self.set_keymap(self.kept.keys)
        self.jobs = Jobs(self.call_later, self._crashed)
        sys.setswitchinterval(MOST_WAIT)
        self.worker = apart or WorkerProcess(FILLING)
        """The process that fills."""
        self.library_service = LibraryService(library, self.jobs)
        warnings.simplefilter("always", LibraryNotice)
        warnings.showwarning = self._warned  # type: ignore[assignment]
        self.work = UnsavedWork(library, state or settings.state_folder(), self.jobs, self._after)
        self.wanted_motif = ""
        """The motif whose bridges are to be shown."""
        self._is_thrown_away = False

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Textual's own, and one that lets no text command the terminal."""
        return [*super().get_line_filters(), SHOWN_TEXT]

    def _warned(self, message: Warning | str, category: type[Warning], *where: Any) -> None:
        """Tell what the library warns of, from whatever thread."""
        if issubclass(category, LibraryNotice):
            self.call_later(self.say, str(message))

    def get_default_screen(self) -> Screen[Any]:
        """Begin with the motifs."""
        return self.get_screen("motifs")

    async def on_event(self, event: events.Event) -> None:
        """Keys go before all that works in the background."""
        if isinstance(event, events.Key):
            self.jobs.yield_to_input()
        await super().on_event(event)

    def on_key(self, event: events.Key) -> None:
        """Send keys on to a line that was opened while they were on their way elsewhere."""
        receives = getattr(self.focused, "has_received", None)
        if self.focused and receives and not receives(event):
            event.prevent_default()
            self.focused.post_message(events.Key(event.key, event.character))

    def on_resize(self) -> None:
        """The letters may have another size now, and with them the pixels of a character."""
        if self.pixels:
            from hingeleaf_tui import pixels
            from hingeleaf_tui.widgets.picture_view import PictureView

            if pixels.measure():
                for plate in self.screen.query(PictureView):
                    plate.post_message(PictureView.Resized(plate))

    def on_load(self) -> None:
        """Let a signal that ends the app leave the terminal clean, and the work saved."""
        if not self.is_headless:
            loop = asyncio.get_running_loop()
            for name in ENDING_SIGNALS:
                with contextlib.suppress(AttributeError, NotImplementedError):  # as on Windows
                    number = int(getattr(signal, name))
                    loop.add_signal_handler(number, self.exit, None, 128 + number)

    def on_unmount(self) -> None:
        """Save what is unsaved, and let running work end."""
        if self._is_thrown_away:
            self.work.throw_away()
        else:
            self.work.save()
        self.work.close()
        self.jobs.close()
        self.worker.close()

    def watch_theme(self, theme: str) -> None:
        """Draw with the new colours."""
        self.pens = StyleCache(theme)

    @property
    def panel_session(self) -> PanelSession:
        """The panel at work."""
        return self.work.panel

    @property
    def drawing_ink(self) -> Ink:
        """What large drawings are made of."""
        from hingeleaf_tui.drawing.ink import Ink

        return Ink.PIXELS if self.pixels else Ink(self.ink)

    def keys_of(self, action: actions.Action) -> str:
        """The keys that hold for an action now."""
        return self.kept.keys.get(action.id, action.keys)

    def actions_on(self, screen: Screen[Any]) -> Sequence[actions.Action]:
        """The actions of a screen's focused widget, of it, and those that hold everywhere."""
        if not isinstance(screen, WorkScreen):
            return list(actions.at("everywhere"))
        places, typing = screen.places, screen.is_typing
        return [
            action
            for place in (*places, "everywhere")
            for action in actions.at(place)
            if not (typing and len(self.keys_of(action).split(",")[0]) == 1)
        ]

    def action_motifs(self) -> None:
        """Go to the motifs."""
        self._go("motifs")

    def action_bridges(self) -> None:
        """Go to the bridges of the chosen motif."""
        self._want_chosen()
        self._go("bridges")

    def action_trials(self) -> None:
        """Go to the test cuts of the chosen motif."""
        self._want_chosen()
        self._go("trials")

    def action_workshop(self) -> None:
        """Go to the cards and settings."""
        self._go("workshop")

    def _want_chosen(self) -> None:
        motifs = self.get_screen("motifs", MotifsScreen)
        if motifs is self.screen or not self.wanted_motif:
            self.wanted_motif = motifs.chosen or self.wanted_motif

    def action_panel(self) -> None:
        """Go to the panel."""
        self._go("panel")

    def action_help(self) -> None:
        """Show what can be done here."""
        from hingeleaf_tui.screens.help import HelpScreen

        self.push_screen(HelpScreen())

    def action_tour(self) -> None:
        """Be shown round."""
        from hingeleaf_tui.screens.tour import Tour

        if isinstance(self.screen, WorkScreen) and self.screen.PLACE in self.SCREENS:
            self._go("motifs")
            self.push_screen(Tour())

    def first_motif(self, name: str) -> None:
        """A motif is there where there was none: show it on the screens that wait for one."""
        if not self.wanted_motif:
            self.wanted_motif = name
            for screen in self.screen_stack:
                if isinstance(screen, WorkScreen):
                    screen.show_wanted()

    def go_on_with(self, name: str) -> None:
        """A motif was brought in: every screen that is gone to next shows it."""
        self.wanted_motif = name
        self.get_screen("motifs", MotifsScreen).choose(name)

    def run_action_now(self, place: str) -> None:
        """Go to a screen by its place, with the motif that is chosen."""
        self._want_chosen()
        self._go(place)

    def action_light(self) -> None:
        """Change between light and dark."""
        self.kept.light = not self.kept.light
        self.theme = themes.theme_name(self.kept.light, self.look.plain)
        settings.write(self.kept)

    def say(self, words: str, kind: str = "") -> None:
        """Show one sentence on the working screen, also from a sheet that lies above it."""
        for screen in reversed(self.screen_stack):
            if isinstance(screen, WorkScreen):
                screen.say(words, kind)
                return

    def use_card(self, card: Card) -> None:
        """Look at motifs, and begin panels, on this card from now on."""
        self.kept.card = card.name
        settings.write(self.kept)
        self.panel_session.recipe = replace(self.panel_session.recipe, card=card)
        self.motif_changed()

    def use_key(self, id: str, key: str) -> None:
        """Let an action have another key from now on; an empty one brings its own back."""
        self.kept.keys.pop(id, None)
        if key:
            self.kept.keys[id] = key
        self.set_keymap(self.kept.keys)
        settings.write(self.kept)

    def use_ink(self) -> None:
        """Draw with what the settings say."""
        self.ink = self.kept.ink or self.look.ink
        self.ascii = self.ink == "ascii"
        self.motif_changed()

    @property
    def card_name(self) -> str:
        """The card that motifs are looked at on; empty for the usual one."""
        return self.kept.card

    def motif_changed(self, *names: str) -> None:
        """Read motifs anew where they are shown."""
        self.get_screen("motifs", MotifsScreen).read_again(*names)

    def fill_with(self, query: str) -> None:
        """Go to the panel, to be filled with what a query finds."""
        recipe = self.panel_session.recipe
        self.panel_session.recipe = replace(recipe, choice=replace(recipe.choice, query=query))
        self._go("panel")

    async def action_quit(self) -> None:
        """Leave, after asking where there is unsaved work."""
        lost = self.work.lost()
        if not lost:
            self.exit()
            return
        from hingeleaf_tui.screens.dialogs import Question

        answers = {
            "y": "Leave, and go on with it next time",
            "d": "Leave, and throw it away",
            "n": "Stay",
        }
        self.push_screen(Question(f"{' '.join(lost)} Leave all the same?", answers), self._leave)

    def _leave(self, answer: str | None) -> None:
        if answer == "d":
            self._is_thrown_away = True
        if answer in ("y", "d"):
            self.exit()

    # Going on where an earlier run ended

    def offer_to_go_on(self) -> None:
        """Ask whether to go on with what an earlier run left unsaved."""
        draft = self.work.begin()
        if draft is None:
            return
        if not draft.is_worth_asking:
            self._go_on(draft)
            return
        from hingeleaf_tui.screens.dialogs import Question

        try:
            question = f"Not saved when Hingeleaf last ended: {draft.describe()}."
        except HingeleafError as error:
            self.say(str(error), "fault")
            return
        answers = {
            "y": "Go on with it",
            "d": "Throw it away",
            "n": "Not now; ask again next time",
        }
        self.push_screen(Question(question, answers), lambda answer: self._answered(draft, answer))

    def _answered(self, draft: Draft, answer: str | None) -> None:
        if answer == "y":
            self._go_on(draft)
        elif answer == "d":
            self.work.throw_away()
        else:
            self.work.begin()

    def _go_on(self, draft: Draft) -> None:
        self.library_service.submit(
            "go on",
            lambda library: self.work.resume(draft, library),
            lambda panel: self._gone_on(draft, panel),
            lambda error: self.say(f"The unsaved panel cannot be shown: {error}", "fault"),
        )

    def _gone_on(self, draft: Draft, panel: PanelState | None) -> None:
        self.work.go_on(draft, panel)
        if draft.bridges:
            self.wanted_motif = draft.bridges[0].motif
        if panel is not None and draft.is_worth_asking:
            self._go("panel")
        elif draft.bridges:
            self._go("bridges")

    def _after(self, seconds: float, call: Callable[[], None]) -> None:
        self.set_timer(seconds, call)

    def _go(self, place: str) -> None:
        """The motifs lie at the bottom for good; every other screen lies on them, one at a time."""
        here = self.screen.PLACE if isinstance(self.screen, WorkScreen) else place
        if here == place:
            return
        if place == "motifs":
            self.pop_screen()
        elif here == "motifs":
            self.push_screen(place)
        else:
            self.switch_screen(place)

    def _fatal_error(self) -> None:
        """A fault of the program on the app's own thread: what is at work is kept first."""
        if self._exit_renderables:
            return
        from rich.text import Text

        error = self._exception or RuntimeError("unknown fault")
        lines = [
            f"Something went wrong in Hingeleaf itself. The log is {settings.log_to_file(log)}"
        ]
        log.error("the app failed", exc_info=error)
        if self.work.lost():
            saved = self.work.save()
            lines.append(
                "Start Hingeleaf again to go on with your unsaved work."
                if saved
                else "The unsaved work could not be written."
            )
        lines.append("The library itself is as it was.")
        self._exit_renderables.append(Text("\n".join(lines)))
        self._close_messages_no_wait()

    def _crashed(self, error: BaseException) -> None:
        """A fault of the program in a job: the work stays, the log has the rest."""
        where = settings.log_to_file(log)
        log.error("a job failed", exc_info=error)
        self.say(f"Something went wrong in Hingeleaf itself; see {where}.", "fault")
