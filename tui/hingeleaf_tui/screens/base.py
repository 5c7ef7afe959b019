"""Base classes of screens and dialogs: work in the background, messages, and the keys shown."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, ClassVar, Generic, TypeVar

from textual import events, on
from textual.app import ComposeResult
from textual.reactive import Reactive
from textual.screen import Screen
from textual.widget import Widget

from hingeleaf_tui import actions
from hingeleaf_tui.widgets.bars import HeaderBar, KeyFooter, StatusBar, TooSmall
from hingeleaf_tui.widgets.host import Placed

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.errors import HingeleafError
    from hingeleaf.tasks import Progress, Task
    from hingeleaf_tui.actions import Action
    from hingeleaf_tui.services import Services
    from hingeleaf_tui.widgets.form import Form

Answer = TypeVar("Answer")
Result = TypeVar("Result")
BROAD = 140
"""Columns from which motifs are initially shown as a contact sheet."""


class KeyedScreen(Placed, Screen[Answer], Generic[Answer]):
    """Shared by screens and dialogs: start work, show messages, and know the keys that work."""

    services: Services
    PLACE: ClassVar[str]
    COMMON: ClassVar[str]
    """The place whose actions all screens of this kind have."""
    focused: Reactive[Widget | None] = Reactive(None, repaint=False)
    """Replaces Textual's own, which repaints the whole screen whenever the focus moves."""

    def submit(
        self,
        work: Callable[[Library], Result],
        done: Callable[[Result], None] | None = None,
        topic: str | None = None,
    ) -> None:
        """Run `work` on the library (see `Jobs.submit` for topics), and show errors."""
        self.services.library.submit(topic, work, done, self.refuse)

    def start(
        self,
        group: str,
        make: Callable[[], Task[Result]],
        done: Callable[[Result], None] | None = None,
        step: Callable[[Progress[Result]], None] | None = None,
    ) -> None:
        """Run a task, replacing an older one of the group, and show errors."""
        self.services.jobs.start(group, make, step=step, done=done, failed=self.refuse)

    def report(self, words: str, kind: str = "") -> None:
        """Show a sentence with keys as {action ids}; `kind` is good, caution or fault."""
        raise NotImplementedError

    def refuse(self, error: HingeleafError) -> None:
        """Show what went wrong and what to do next."""
        self.report(str(error), "fault")

    def on_form_refused(self, event: Form.Refused) -> None:
        """Show why a typed value was refused."""
        self.refuse(event.error)

    def on_form_reached(self, event: Form.Reached) -> None:
        """Show the help of the newly focused line."""
        self.report(event.entry.help)

    # Keys

    @property
    def is_typing(self) -> bool:
        """Whether an input has the focus."""
        return bool(self.focused and self.focused.check_consume_key("a", "a"))

    @property
    def places(self) -> tuple[str, ...]:
        """The places whose actions are available: that of the focused widget, then the screen's.

        While the user types, keys are text: only the place of the input counts.
        """
        if self.is_typing and self.focused:
            return tuple(filter(None, [getattr(self.focused.parent, "PLACE", "")]))
        inner = getattr(self.focused, "PLACE", "")
        if inner == "aim":
            return ("aim",)
        return tuple(dict.fromkeys(filter(None, [inner, self.PLACE])))

    @property
    def actions(self) -> list[Action]:
        """The actions that are available by key, those of the focused widget first."""
        places = dict.fromkeys((*self.places, self.COMMON))
        found = [action for place in places for action in actions.at(place)]
        keys = {action.id: self.services.keys_of(action).split(",")[0] for action in found}
        return [each for each in found if not (self.is_typing and len(keys[each.id]) == 1)]

    @property
    def shown_keys(self) -> list[tuple[str, str]]:
        """The most important keys with their labels, for the footer."""
        found = dict(getattr(self.focused, "input_keys", {}))
        for action in self.actions:
            label = action.label if action.in_footer else ""
            if action.id == "list.open":
                label = getattr(self.focused, "enter", "")
            if label:
                found.setdefault(actions.key_label(self.services.keys_of(action)), label)
        return list(found.items())

    @on(events.DescendantFocus)
    @on(events.ScreenResume)
    def show_keys(self) -> None:
        """Update the key footer, since other keys may work now."""
        self.query_one(KeyFooter).show(self.shown_keys)


class WorkScreen(KeyedScreen[None]):
    """A screen of one place in the action table."""

    COMMON = "everywhere"
    HEAD: ClassVar[str] = ""
    """The place shown in the header, if it is another."""
    HORIZONTAL_BREAKPOINTS = [  # noqa: RUF012
        (0, "too-narrow"),
        (40, "narrow"),
        (110, "wide"),
        (BROAD, "broad"),
        (190, "huge"),
    ]
    VERTICAL_BREAKPOINTS = [(0, "too-low"), (12, "low"), (34, "high")]  # noqa: RUF012

    def __init__(self, services: Services) -> None:
        super().__init__()
        self.services = services

    def compose(self) -> ComposeResult:
        """Header, work area, status bar and key footer, from top to bottom."""
        library = self.services.library.path.name
        yield HeaderBar(self.HEAD or self.PLACE, library, self.services.key)
        yield from self.work()
        yield StatusBar()
        yield KeyFooter()
        yield TooSmall()

    def work(self) -> Iterator[Widget]:
        """The widgets between header and footer."""
        raise NotImplementedError

    def show_opened(self) -> None:
        """Show work that was opened, or resumed from an earlier run."""

    def show_wanted(self) -> None:
        """Show the requested motif, on a screen about one motif."""

    def report(self, words: str, kind: str = "") -> None:
        """Show a sentence in the status bar."""
        self.query_one(StatusBar).report(self.services.with_keys(words), kind)

    @on(events.ScreenSuspend)
    def _hide_keys(self) -> None:
        """Hide the keys, which do not work while a dialog is open; the tour speaks of them."""
        if getattr(self.app.screen, "PLACE", "") != "tour":
            self.query_one(KeyFooter).show(())
