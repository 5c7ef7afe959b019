"""The terminal app: one library, one current panel, and the screens that show them.

Importing this module loads Textual but no geometry libraries: those are loaded on the library's
thread once the first screen is shown.
"""

from __future__ import annotations

import sys
import warnings
from collections.abc import Callable, Sequence
from dataclasses import replace
from importlib import import_module
from pathlib import Path
from typing import ClassVar

from textual import events, on
from textual.await_complete import AwaitComplete
from textual.binding import BindingType
from textual.driver import Driver
from textual.filter import LineFilter
from textual.widget import AwaitMount

from hingeleaf.errors import LibraryNotice
from hingeleaf_tui import actions, pixels, settings, terminal, themes
from hingeleaf_tui.fill_worker import MODULES as FILLING
from hingeleaf_tui.jobs import Jobs
from hingeleaf_tui.library_service import LibraryService
from hingeleaf_tui.lifecycle import LifecycleApp
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
from hingeleaf_tui.widgets.picture_view import PictureView
from hingeleaf_tui.widgets.style_cache import AsciiOnly, StyleCache, WithoutColours
from hingeleaf_tui.widgets.typed_line import TypedLine
from hingeleaf_tui.widgets.words import ShownText
from hingeleaf_tui.worker_process import WorkerProcess

MAX_SWITCH_INTERVAL = 0.001
"""Seconds after which a background thread yields Python's lock to the key handler."""
SHOWN_TEXT, ASCII_ONLY = ShownText(), AsciiOnly()


LAZY_SCREENS = {
    "bridges": "BridgesScreen",
    "panel": "PanelScreen",
    "trials": "TrialsScreen",
    "workshop": "WorkshopScreen",
}
"""Screens whose modules are imported when they are first shown."""


class Hingeleaf(LifecycleApp):
    """The app: browse motifs, fill panels, check and export them."""

    TITLE = "Hingeleaf"
    CSS_PATH = "app.tcss"
    BINDINGS: ClassVar[list[BindingType]] = [*actions.bindings("everywhere")]
    ENABLE_COMMAND_PALETTE = False

    def __init__(
        self,
        library: Path,
        *,
        look: terminal.Terminal | None = None,
        user_settings: settings.Settings | None = None,
        driver: type[Driver] | None = None,
        worker: WorkerProcess | None = None,
        pixels: bool = False,
        state: Path | None = None,
    ) -> None:
        super().__init__(driver)
        own, look = user_settings or settings.read(), look or terminal.look()
        jobs = Jobs(self.call_later, self._crashed, lambda: self.is_running)
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
        self.style_of = StyleCache(self.theme)
        self.set_keymap(own.keys)
        sys.setswitchinterval(MAX_SWITCH_INTERVAL)
        warnings.simplefilter("always", LibraryNotice)
        warnings.showwarning = self._warned  # type: ignore[assignment]
        self.motifs = MotifsScreen(self.services)
        self.install_screen(self.motifs, "motifs")

    def get_line_filters(self) -> Sequence[LineFilter]:
        """Textual's filters, plus ours against control characters, for ASCII and for NO_COLOR."""
        own: list[LineFilter] = [SHOWN_TEXT]
        if not self.services.terminal.colours:
            own.append(WithoutColours())
        if self.services.ink == "ascii":
            own.append(ASCII_ONLY)
        return [*super().get_line_filters(), *own]

    def _warned(self, message: Warning | str, category: type[Warning], *where: object) -> None:
        """Show a warning of the library, from any thread."""
        if issubclass(category, LibraryNotice):
            self.call_later(self.report, str(message))

    def on_mount(self) -> None:
        """Parse the styles of all other screens after the first one is shown."""
        self.call_after_refresh(self._read_styles)

    def _read_styles(self) -> None:
        self.stylesheet.read(Path(__file__).with_name("later.tcss"))
        self.stylesheet.parse()

    def get_default_screen(self) -> MotifsScreen:
        """Start with the motifs."""
        return self.motifs

    async def on_event(self, event: events.Event) -> None:
        """Pause background jobs when a key is pressed."""
        if isinstance(event, events.Key):
            self.services.jobs.yield_to_input()
        await super().on_event(event)

    def on_key(self, event: events.Key) -> None:
        """Forward keys to an input that was opened after they were typed."""
        if isinstance(self.focused, TypedLine) and not self.focused.has_received(event):
            event.prevent_default()
            self.focused.post_message(events.Key(event.key, event.character))
        else:
            self._explain(event.key)

    def _explain(self, key: str) -> None:
        """Show where a key has a meaning, if it has none here."""
        screen = self.screen
        if not isinstance(screen, WorkScreen) or screen.is_typing or key == "escape":
            return
        if key in screen.active_bindings:
            return
        keys = self.services.key("everywhere.help")
        for action in actions.ACTIONS:
            if key in self.services.keys_of(action).split(","):
                place = actions.PLACES[action.place]
                self.report(f"{actions.key_label(key)} does nothing here. {place}: {action.help}")
                return
        self.report(f"{actions.key_label(key)} does nothing. {keys} shows what can be done.")

    def on_resize(self) -> None:
        """Measure the pixels of a character again, since the font size may have changed."""
        if self.services.pixels and pixels.measure():
            for picture_view in self.screen.query(PictureView):
                picture_view.post_message(PictureView.Resized(picture_view))

    def watch_theme(self, theme: str) -> None:
        """Redraw with the new colours."""
        self.style_of = StyleCache(theme)

    def action_go(self, place: str) -> None:
        """Show a screen, with the chosen motif if it is about one."""
        self._remember_chosen()
        self.go_to(place)

    def _remember_chosen(self) -> None:
        if self.motifs is self.screen or not self.services.wanted_motif:
            self.services.wanted_motif = self.motifs.chosen or self.services.wanted_motif

    def action_help(self) -> None:
        """Open the search for actions."""
        from hingeleaf_tui.screens.guide import ActionDialog

        def run(action: str | None) -> None:
            if action:
                self.post_message(RunAction(action))

        here = reversed(self.screen.places) if isinstance(self.screen, WorkScreen) else ()
        places = (*here, "everywhere")
        self.push_screen(ActionDialog(self.services, "What can be done", places), run)

    def action_legend(self) -> None:
        """Explain colours and lines."""
        from hingeleaf_tui.screens.guide import LegendScreen

        self.push_screen(LegendScreen(self.services))

    def action_tour(self) -> None:
        """Start the tour."""
        if isinstance(self.screen, WorkScreen) and self.screen.PLACE in actions.SCREENS:
            self.post_message(ShowTour(0))

    def action_light(self) -> None:
        """Switch between light and dark."""
        own = self.services.settings
        own.light = not own.light
        settings.write(own)
        self._use_look()

    def report(self, words: str, kind: str = "") -> None:
        """Show a sentence on the working screen, even from a dialog above it."""
        for screen in reversed(self.screen_stack):
            if isinstance(screen, WorkScreen):
                screen.report(words, kind)
                return

    # Messages from screens

    @on(GoTo)
    def _go_to(self, event: GoTo) -> None:
        self.action_go(event.place)

    @on(ShowTour)
    def _show_tour(self, event: ShowTour) -> None:
        from hingeleaf_tui.screens.guide import STEPS, Tour

        if event.step == 1 and self.motifs.has_none:
            # On real content, never over empty screens
            self.motifs.add_starters(lambda: self._show_tour(event))
            return
        self._remember_chosen()
        self.go_to(STEPS[event.step % len(STEPS)].screen)
        if event.step < len(STEPS):
            self.push_screen(Tour(self.services, event.step))

    @on(MotifsChanged)
    def _read_motifs(self, event: MotifsChanged) -> None:
        motifs = self.motifs
        motifs.next_chosen = event.chosen
        if event.marked:
            motifs.motifs.marked = set(event.names)
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
        self.go_to("panel")

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
        if isinstance(self.screen, WorkScreen):
            self.screen.show_keys()

    @on(LookChanged)
    def _use_look(self) -> None:
        look, own = self.services.terminal, self.services.settings
        self.theme = themes.theme_name(own.light, look.plain)
        self.post_message(MotifsChanged())

    @on(RunAction)
    async def _run(self, event: RunAction) -> None:
        """Show the place of an action, open what it needs, and run it."""
        action = actions.find(event.action)
        screen, opening = actions.OPENERS.get(action.place, (action.place, ""))
        if screen in actions.SCREENS:
            self._remember_chosen()
            if moving := self.go_to(screen):
                await moving
        if opening:
            await self.run_action(opening, self if screen == "everywhere" else self.screen)
        if action.place == "everywhere":
            await self.run_action(action.call, self)
        elif action.place in actions.SCREENS:
            await self.run_action(action.call, self.screen)
        elif getattr(self.focused, "PLACE", "") == action.place:
            await self.run_action(action.call, self.focused)
        elif not opening:
            self.report(f"That key is for another place: {actions.PLACES[action.place].lower()}.")

    def _after(self, seconds: float, call: Callable[[], None]) -> None:
        self.set_timer(seconds, call)

    def go_to(self, place: str) -> AwaitComplete | AwaitMount | None:
        """Show the screen of a place.

        The motifs are always at the bottom of the screen stack, with at most one other screen on
        top.
        """
        here = self.screen.PLACE if isinstance(self.screen, WorkScreen) else place
        if here == place:
            return None
        if place == "motifs":
            return self.pop_screen()
        if not self.is_screen_installed(place):
            module = import_module(f"hingeleaf_tui.screens.{place}")
            self.install_screen(getattr(module, LAZY_SCREENS[place])(self.services), place)
        if here == "motifs":
            return self.push_screen(place)
        return self.switch_screen(place)
