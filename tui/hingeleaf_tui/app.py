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
from functools import partial
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, ClassVar

from textual import events, on
from textual.app import App
from textual.binding import BindingType

from hingeleaf.errors import HingeleafError, LibraryNotice
from hingeleaf_tui import actions, settings, terminal, themes
from hingeleaf_tui.fill_worker import MODULES as FILLING
from hingeleaf_tui.jobs import Jobs
from hingeleaf_tui.library_service import LibraryService
from hingeleaf_tui.messages import (
    CardChosen,
    FillWith,
    GoTo,
    KeyChosen,
    LookChanged,
    MotifAdded,
    MotifsChanged,
    RunAction,
    ShowTour,
)
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.screens.motifs import MotifsScreen
from hingeleaf_tui.services import Services
from hingeleaf_tui.unsaved_work import UnsavedWork
from hingeleaf_tui.widgets.bars import KeyFooter
from hingeleaf_tui.widgets.style_cache import StyleCache, WithoutColours
from hingeleaf_tui.widgets.words import ShownText
from hingeleaf_tui.worker_process import WorkerProcess

if TYPE_CHECKING:
    from textual.await_complete import AwaitComplete
    from textual.driver import Driver
    from textual.filter import LineFilter
    from textual.screen import Screen
    from textual.widget import AwaitMount

    from hingeleaf_tui.drafts import Draft
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.panel_session import PanelState

MOST_WAIT = 0.001
"""Seconds that a job may keep Python from a key that was pressed."""
SHOWN_TEXT = ShownText()
ENDING_SIGNALS = ("SIGTERM", "SIGHUP", "SIGINT")
log = logging.getLogger("hingeleaf")
log.propagate = False


LATER = {
    "bridges": "BridgesScreen",
    "panel": "PanelScreen",
    "trials": "TrialsScreen",
    "workshop": "WorkshopScreen",
}
"""Screens whose modules are loaded when they are first shown."""


class Hingeleaf(App[None]):
    """Browse motifs, fill panels, check and export them."""

    TITLE = "Hingeleaf"
    CSS_PATH = "app.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [*actions.bindings("everywhere")]
    ENABLE_COMMAND_PALETTE = False

    def __init__(
        self,
        library: Path,
        *,
        look: terminal.Terminal | None = None,
        kept: settings.Settings | None = None,
        driver: type[Driver] | None = None,
        worker: WorkerProcess | None = None,
        pixels: bool = False,
        state: Path | None = None,
    ) -> None:
        super().__init__(driver_class=driver)
        own, look = kept or settings.read(), look or terminal.look()
        jobs = Jobs(self.call_later, self._crashed)
        self.services = Services(
            library=LibraryService(library, jobs),
            jobs=jobs,
            worker=worker or WorkerProcess(FILLING),
            work=UnsavedWork(library, state or settings.state_folder(), jobs, self._after),
            settings=own,
            terminal=look,
            pixels=pixels,
        )
        for name in themes.PALETTES:
            self.register_theme(themes.make(name))
        self.theme = themes.theme_name(own.light, look.plain)
        self.pens = StyleCache(self.theme)
        self.set_keymap(own.keys)
        sys.setswitchinterval(MOST_WAIT)
        warnings.simplefilter("always", LibraryNotice)
        warnings.showwarning = self._warned  # type: ignore[assignment]
        self._is_thrown_away = False
        self._installed_screens["motifs"] = MotifsScreen(self.services)
        for place, screen in LATER.items():
            self._installed_screens[place] = partial(self._make, place, screen)

    def _make(self, place: str, name: str) -> Screen[Any]:
        module = import_module(f"hingeleaf_tui.screens.{place}")
        screen: Screen[Any] = getattr(module, name)(self.services)
        return screen

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Textual's own, one that lets no text command the terminal, and one for NO_COLOR."""
        own = [SHOWN_TEXT] if self.services.terminal.colours else [SHOWN_TEXT, WithoutColours()]
        return [*super().get_line_filters(), *own]

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
            self.services.jobs.yield_to_input()
        await super().on_event(event)

    def on_key(self, event: events.Key) -> None:
        """Send keys on to a line that was opened while they were on their way elsewhere."""
        receives = getattr(self.focused, "has_received", None)
        if self.focused and receives and not receives(event):
            event.prevent_default()
            self.focused.post_message(events.Key(event.key, event.character))

    def on_resize(self) -> None:
        """The letters may have another size now, and with them the pixels of a character."""
        if self.services.pixels:
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

    def on_ready(self) -> None:
        """Once the first screen stands: is there work of an earlier run?"""
        self.call_after_refresh(self.offer_to_go_on)

    def on_unmount(self) -> None:
        """Save what is unsaved, and let running work end."""
        if self._is_thrown_away:
            self.services.work.throw_away()
        else:
            self.services.work.save()
        self.services.work.close()
        self.services.jobs.close()
        self.services.worker.close()

    def watch_theme(self, theme: str) -> None:
        """Draw with the new colours."""
        self.pens = StyleCache(theme)

    @property
    def ascii(self) -> bool:
        """Whether only ASCII characters may be used."""
        return self.services.ink == "ascii"

    @property
    def drawing_ink(self) -> Ink:
        """What large drawings are made of."""
        return self.services.drawing_ink

    def keys_of(self, action: actions.Action) -> str:
        """The keys that hold for an action now."""
        return self.services.keys_of(action)

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
        if motifs is self.screen or not self.services.wanted_motif:
            self.services.wanted_motif = motifs.chosen or self.services.wanted_motif

    def action_panel(self) -> None:
        """Go to the panel."""
        self._go("panel")

    def action_help(self) -> None:
        """Find what can be done, and do it."""
        from hingeleaf_tui.screens.help import HelpScreen

        here = reversed(self.screen.places) if isinstance(self.screen, WorkScreen) else ()
        self.push_screen(HelpScreen(self.services, (*here, "everywhere")))

    def action_tour(self) -> None:
        """Be shown round."""
        if isinstance(self.screen, WorkScreen) and self.screen.PLACE in actions.SCREENS:
            self.post_message(ShowTour(0))

    def action_light(self) -> None:
        """Change between light and dark."""
        own = self.services.settings
        own.light = not own.light
        settings.write(own)
        self._use_look()

    def say(self, words: str, kind: str = "") -> None:
        """Show one sentence on the working screen, also from a dialog that lies above it."""
        for screen in reversed(self.screen_stack):
            if isinstance(screen, WorkScreen):
                screen.say(words, kind)
                return

    # What screens ask for

    @on(GoTo)
    def _go_to(self, event: GoTo) -> None:
        self._want_chosen()
        self._go(event.place)

    @on(ShowTour)
    def _show_tour(self, event: ShowTour) -> None:
        from hingeleaf_tui.screens.tour import STEPS, Tour

        motifs = self.get_screen("motifs", MotifsScreen)
        if event.step == 1 and motifs.has_none:
            motifs.action_starters()
        self._want_chosen()
        self._go(STEPS[event.step % len(STEPS)].screen)
        if event.step < len(STEPS):
            self.push_screen(Tour(self.services, event.step))

    @on(MotifsChanged)
    def _read_motifs(self, event: MotifsChanged) -> None:
        motifs = self.get_screen("motifs", MotifsScreen)
        motifs.next_chosen = event.chosen
        motifs.read_again(*event.names)

    @on(MotifAdded)
    def _go_on_with_motif(self, event: MotifAdded) -> None:
        self.services.wanted_motif = event.name
        for screen in self.screen_stack:
            if isinstance(screen, WorkScreen):
                screen.show_wanted()

    @on(FillWith)
    def _fill_with(self, event: FillWith) -> None:
        panel = self.services.panel
        choice = replace(panel.recipe.choice, query=event.query)
        panel.change_recipe(replace(panel.recipe, choice=choice), "motifs")
        self._go("panel")

    @on(CardChosen)
    def _use_card(self, event: CardChosen) -> None:
        panel = self.services.panel
        self.services.settings.card = event.card.name
        settings.write(self.services.settings)
        panel.change_recipe(replace(panel.recipe, card=event.card), "card")
        self.post_message(MotifsChanged())

    @on(KeyChosen)
    def _use_key(self, event: KeyChosen) -> None:
        keys = self.services.settings.keys
        keys.pop(event.action, None)
        if event.key:
            keys[event.action] = event.key
        self.set_keymap(keys)
        settings.write(self.services.settings)
        self.screen.refresh_bindings()
        for footer in self.screen.query(KeyFooter):
            footer.refresh()

    @on(LookChanged)
    def _use_look(self) -> None:
        look, own = self.services.terminal, self.services.settings
        self.theme = themes.theme_name(own.light, look.plain)
        self.post_message(MotifsChanged())

    @on(RunAction)
    async def _run(self, event: RunAction) -> None:
        """Go to where an action belongs, open what it is done in, and do it there."""
        action = actions.find(event.action)
        screen, opening = actions.HOMES.get(action.place, (action.place, ""))
        if screen in actions.SCREENS:
            self._want_chosen()
            if moving := self._go(screen):
                await moving
        if opening:
            await self.run_action(opening, self if screen == "everywhere" else self.screen)
        if action.place == "everywhere":
            await self.run_action(action.name, self)
        elif action.place in actions.SCREENS:
            await self.run_action(action.name, self.screen)
        elif getattr(self.focused, "PLACE", "") == action.place:
            await self.run_action(action.name, self.focused)
        elif not opening:
            self.say(f"That key is for another place: {actions.PLACES[action.place].lower()}.")

    async def action_quit(self) -> None:
        """Leave, after asking where there is unsaved work."""
        lost = self.services.work.lost()
        if not lost:
            self.exit()
            return
        from hingeleaf_tui.screens.dialogs import Question

        answers = {
            "y": "Quit, and continue next time",
            "d": "Quit, and discard it",
            "n": "Stay",
        }
        self.push_screen(Question(f"{' '.join(lost)} Quit anyway?", answers), self._leave)

    def _leave(self, answer: str | None) -> None:
        if answer == "d":
            self._is_thrown_away = True
        if answer in ("y", "d"):
            self.exit()

    # Going on where an earlier run ended

    def offer_to_go_on(self) -> None:
        """Ask whether to go on with what an earlier run left unsaved."""
        draft = self.services.work.begin()
        if draft is None:
            return
        if not draft.is_worth_asking:
            self._go_on(draft)
            return
        from hingeleaf_tui.screens.dialogs import Question

        try:
            question = f"Unsaved from last time: {draft.describe()}."
        except HingeleafError as error:
            self.say(str(error), "fault")
            return
        answers = {
            "y": "Continue with it",
            "d": "Discard it",
            "n": "Not now; ask again next time",
        }
        self.push_screen(Question(question, answers), lambda answer: self._answered(draft, answer))

    def _answered(self, draft: Draft, answer: str | None) -> None:
        if answer == "y":
            self._go_on(draft)
        elif answer == "d":
            self.services.work.throw_away()
        else:
            self.services.work.begin()

    def _go_on(self, draft: Draft) -> None:
        self.services.library.submit(
            "go on",
            lambda library: self.services.work.resume(draft, library),
            lambda panel: self._gone_on(draft, panel),
            lambda error: self.say(f"The unsaved panel cannot be shown: {error}", "fault"),
        )

    def _gone_on(self, draft: Draft, panel: PanelState | None) -> None:
        self.services.work.go_on(draft, panel)
        if draft.bridges:
            self.services.wanted_motif = draft.bridges[0].motif
        if panel is not None and draft.is_worth_asking:
            self._go("panel")
        elif draft.bridges:
            self._go("bridges")

    def _after(self, seconds: float, call: Callable[[], None]) -> None:
        self.set_timer(seconds, call)

    def _go(self, place: str) -> AwaitComplete | AwaitMount | None:
        """The motifs lie at the bottom for good; every other screen lies on them, one at a time."""
        here = self.screen.PLACE if isinstance(self.screen, WorkScreen) else place
        if here == place:
            return None
        if place == "motifs":
            return self.pop_screen()
        if here == "motifs":
            return self.push_screen(place)
        return self.switch_screen(place)

    def _fatal_error(self) -> None:
        """A fault of the program on the app's own thread: what is at work is kept first."""
        if self._exit_renderables:
            return
        from rich.text import Text

        error = self._exception or RuntimeError("unknown fault")
        lines = [f"Something went wrong in Hingeleaf. The log is {settings.log_to_file(log)}"]
        log.error("the app failed", exc_info=error)
        if self.services.work.lost():
            saved = self.services.work.save()
            lines.append(
                "Start Hingeleaf again to continue with your unsaved work."
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
        self.say(f"Something went wrong in Hingeleaf; see {where}.", "fault")
