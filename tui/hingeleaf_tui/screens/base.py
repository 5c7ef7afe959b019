"""Base class of the screens: header, status bar, key footer."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING, ClassVar, TypeVar

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
    from hingeleaf_tui.forms.lines import FormEntry
    from hingeleaf_tui.services import Services
    from hingeleaf_tui.widgets.form import Form

Result = TypeVar("Result")
BROAD = 140
"""Columns from which motifs are initially shown as a contact sheet."""


class Messages(Placed):
    """Shared by screens and dialogs: start work, and show messages, including those of forms."""

    services: Services

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
        """Show one sentence; `kind` is good, caution or fault."""
        raise NotImplementedError

    def refuse(self, error: HingeleafError) -> None:
        """Show what went wrong and what to do next."""
        self.report(str(error), "fault")

    def describe(self, entry: FormEntry) -> None:
        """Show the help of a form entry."""
        self.report(entry.help)

    def on_form_refused(self, event: Form.Refused) -> None:
        """Show why a typed value was refused."""
        self.refuse(event.error)

    def on_form_reached(self, event: Form.Reached) -> None:
        """Show the help of the newly focused line."""
        self.describe(event.entry)


class WorkScreen(Messages, Screen[None]):
    """A screen of one place in the action table."""

    PLACE: ClassVar[str]
    HEAD: ClassVar[str] = ""
    """The place shown in the header, if it is another."""
    focused: Reactive[Widget | None] = Reactive(None, repaint=False)
    """Replaces Textual's own, which repaints the whole screen whenever the focus moves."""
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
        yield HeaderBar(self.HEAD or self.PLACE, actions.SCREENS, library)
        yield from self.work()
        yield StatusBar()
        yield KeyFooter(id="keys")
        yield TooSmall()

    def work(self) -> Iterator[Widget]:
        """The widgets between header and footer."""
        raise NotImplementedError

    @property
    def places(self) -> tuple[str, ...]:
        """The places whose actions are available: that of the focused widget, then the screen's.

        While the user types, keys are text: only the place of the input counts.
        """
        if self.is_typing and self.focused:
            return (str(getattr(self.focused.parent, "PLACE", self.PLACE)),)
        inner = getattr(self.focused, "PLACE", None)
        if inner == "aim":
            return ("aim",)
        return tuple(dict.fromkeys(place for place in (inner, self.PLACE) if place))

    @property
    def is_typing(self) -> bool:
        """Whether an input has the focus."""
        return bool(self.focused and self.focused.check_consume_key("a", "a"))

    def show_opened(self) -> None:
        """Show work that was opened, or resumed from an earlier run."""

    def show_wanted(self) -> None:
        """Show the requested motif, on a screen about one motif."""

    def report(self, words: str, kind: str = "") -> None:
        """Show a sentence in the status bar."""
        self.query_one(StatusBar).report(words, kind)

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """Update the key footer, since other keys may apply."""
        self.query_one(KeyFooter).refresh()

    @on(events.ScreenResume)
    def _show_keys(self) -> None:
        """Update the key footer, since keys may have been changed elsewhere."""
        self.query_one(KeyFooter).refresh()
