"""Base class of the screens: header, status line, key footer."""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING, ClassVar

from textual import events, on
from textual.app import ComposeResult
from textual.reactive import Reactive
from textual.screen import Screen
from textual.widget import Widget

from hingeleaf_tui import actions
from hingeleaf_tui.widgets.bars import HeaderBar, KeyFooter, StatusBar, TooSmall

if TYPE_CHECKING:
    from hingeleaf.errors import HingeleafError
    from hingeleaf_tui.forms.lines import FormEntry
    from hingeleaf_tui.services import Services
    from hingeleaf_tui.widgets.form import Form


BROAD = 140
"""From so many columns on motifs begin as a contact sheet."""


class Messages:
    """What screens and dialogs have in common: they say sentences, also those of their forms."""

    def report(self, words: str, kind: str = "") -> None:
        """Show one sentence; `kind` is good, caution or fault."""
        raise NotImplementedError

    def refuse(self, error: HingeleafError) -> None:
        """Show what went wrong and what to do next."""
        self.report(str(error), "fault")

    def describe(self, entry: FormEntry) -> None:
        """Say what a line of a form is about."""
        self.report(entry.help)

    def on_form_refused(self, event: Form.Refused) -> None:
        """What was typed cannot be used."""
        self.refuse(event.error)

    def on_form_reached(self, event: Form.Reached) -> None:
        """The keys stand on another line."""
        self.describe(event.entry)


class WorkScreen(Messages, Screen[None]):
    """A screen of one place of the action table."""

    PLACE: ClassVar[str]
    HEAD: ClassVar[str] = ""
    """The place that the head shows, where it is another."""
    focused: Reactive[Widget | None] = Reactive(None, repaint=False)
    """Textual's own sends the whole screen again whenever the focus moves."""
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
        """Head, work, sentence, keys, from the top down."""
        yield HeaderBar(self.HEAD or self.PLACE, actions.SCREENS)
        yield from self.work()
        yield StatusBar()
        yield KeyFooter(id="keys")
        yield TooSmall()

    def work(self) -> Iterator[Widget]:
        """What stands between head and foot."""
        raise NotImplementedError

    @property
    def places(self) -> tuple[str, ...]:
        """Where the actions of this moment come from: the focused widget's place, then ours.

        While the user types, letters are letters: only the place of what is typed in counts.
        """
        if self.is_typing and self.focused:
            return (str(getattr(self.focused.parent, "PLACE", self.PLACE)),)
        inner = getattr(self.focused, "PLACE", None)
        if inner == "aim":
            return ("aim",)
        return tuple(dict.fromkeys(place for place in (inner, self.PLACE) if place))

    @property
    def is_typing(self) -> bool:
        """Whether letters go into a line that is typed in."""
        return bool(self.focused and self.focused.check_consume_key("a", "a"))

    def show_opened(self) -> None:
        """Show work that was opened, or taken up from an earlier run."""

    def show_wanted(self) -> None:
        """Show the motif that is wanted now, on a screen that is about one."""

    def report(self, words: str, kind: str = "") -> None:
        """Show one sentence at the foot."""
        self.query_one(StatusBar).report(words, kind)

    def show_library(self, name: str) -> None:
        """Show which library is open."""
        head = self.query_one(HeaderBar)
        head.library = name
        head.refresh()

    def on_descendant_focus(self, event: events.DescendantFocus) -> None:
        """Other keys may hold now."""
        self.query_one(KeyFooter).refresh()

    @on(events.ScreenResume)
    def _show_keys(self) -> None:
        """Keys may have been changed elsewhere."""
        self.query_one(KeyFooter).refresh()
