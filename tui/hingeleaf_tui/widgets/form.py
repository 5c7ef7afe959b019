"""Form widget: labelled values, changed by arrow keys or typing.

Used instead of a column of Textual's Inputs and Selects: a focused Input takes the letters that are
keys here, and a Select opens a menu for each choice. Here a Textual Input opens to type a value.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass

from rich.style import Style
from textual import events
from textual.containers import VerticalScroll
from textual.message import Message
from textual.widget import Widget

from hingeleaf.errors import HingeleafError
from hingeleaf_tui.forms.lines import FormEntry
from hingeleaf_tui.widgets.host import LineWidget, Placed, WidgetMessage
from hingeleaf_tui.widgets.style_cache import StyleCache
from hingeleaf_tui.widgets.typed_line import ACCEPTS, PathSuggester, TypedLine
from hingeleaf_tui.widgets.words import fit

LABEL = 12
"""Columns of the labels."""


Accept = Callable[[str, str], str]
"""(key, typed text) → the text to show; raises HingeleafError for an invalid value."""


class FormLine(Placed, LineWidget, can_focus=True):
    """One label with its value."""

    PLACE = "form"

    def __init__(self, entry: FormEntry) -> None:
        super().__init__()
        self.entry, self.value = entry, ""

    @property
    def form(self) -> Form:
        """The form that the line belongs to."""
        assert isinstance(self.parent, Form)
        return self.parent

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """Label and value; arrows at the ends show that the value can be cycled."""
        width = self.size.width
        chosen = self.has_focus or self.has_focus_within
        ink, back = ("chosen-ink", "chosen-back") if chosen else ("", "")
        turns = chosen and (self.entry.choices or self.entry.step)
        before, after = ("‹ ", " ›") if turns else ("  ", "  ")
        sign = "▸" if chosen else " "
        room = width - LABEL - 6
        value = self.value or "-"
        shown = fit(value, room) if len(value) > room else value
        rest = width - LABEL - 2 - len(before) - len(after) - len(shown)
        return [
            (f"{sign}{fit(self.entry.label, LABEL)} ", style_of(ink or "quiet", back)),
            (before, style_of(ink or "accent", back)),
            (shown, style_of(ink, back, "bold" if chosen else "")),
            (after + " " * max(rest, 0), style_of(ink or "accent", back)),
        ]

    def action_move(self, way: int) -> None:
        """Move to a line above or below; typed text is accepted first."""
        typing = TypedLine.within(self)
        if typing is None or self.form.offer(self, typing.value):
            if typing:
                typing.close()
            self.form.move(self, way)

    def action_page(self, way: int) -> None:
        """Move by a screenful."""
        self.action_move(way * self.form.page)

    def action_edge(self, way: int) -> None:
        """Move to the first or last line."""
        self.action_move(way * len(self.form.children))

    def action_turn(self, way: int) -> None:
        """Select the previous or next choice, or change the number by a step."""
        choices = self.entry.choices
        if choices:
            place = choices.index(self.value) if self.value in choices else -way
            self.form.offer(self, choices[(place + way) % len(choices)])
        elif self.entry.step:
            self.form.offer(self, _stepped(self.value, self.entry.step * way))

    def action_edit(self) -> None:
        """Type a value, or choose from a list."""
        if self.entry.pick:
            self.post_message(Form.PickWanted(self.form, self.entry.key))
        elif self.entry.choices:
            self.action_turn(1)
        elif not TypedLine.within(self):
            typed = TypedLine(
                self.value,
                take=self._take,
                leave=self._take_along,
                keys={**ACCEPTS, "Esc": "Cancel"},
                select_on_focus=True,
                suggester=PathSuggester() if self.entry.is_path else None,
            )
            self.mount(typed)
            self.screen.set_focus(typed)  # immediately, for keys typed ahead

    def set_value(self, value: str) -> None:
        """Show another value."""
        self.value = value
        self.refresh()

    def on_focus(self) -> None:
        """Report the line as reached, unless text in another one is still being typed."""
        if TypedLine.within(self.form) is None:
            self.post_message(Form.Reached(self.form, self.entry))

    def _take(self, text: str) -> bool:
        if not self.form.offer(self, text):
            return False
        self._leave()
        return True

    def _take_along(self, text: str) -> bool:
        """Accept typed text when something else gets the focus."""
        if not self.form.offer(self, text):
            return False
        if typing := TypedLine.within(self):
            if typing.has_focus:
                self.screen.set_focus(self)
            typing.close()
        return True

    def on_key(self, event: events.Key) -> None:
        """While typing, Esc cancels."""
        if event.key == "escape" and TypedLine.within(self):
            event.stop()
            self._leave()

    def _leave(self) -> None:
        if typing := TypedLine.within(self):
            typing.close()
        self.screen.set_focus(self)


class FormHeading(LineWidget):
    """Heading above a group of lines."""

    def __init__(self, words: str) -> None:
        super().__init__()
        self._words = words

    def pieces(self, y: int, style_of: StyleCache) -> list[tuple[str, Style]]:
        """The heading on the second of two rows."""
        words = f" {self._words}" if y else ""
        return [(fit(words, self.size.width), style_of("accent", "", "bold"))]


class Form(VerticalScroll, can_focus=False):
    """A column of lines. Typed text must pass `accept`."""

    ALLOW_SELECT = False

    @dataclass
    class Changed(WidgetMessage):
        """A line has another, accepted value."""

        key: str
        value: str

    @dataclass
    class Refused(Message):
        """A typed value was refused."""

        error: HingeleafError

    @dataclass
    class PickWanted(WidgetMessage):
        """A value should be chosen from a list."""

        key: str

    @dataclass
    class Reached(WidgetMessage):
        """The focus moved to a line."""

        entry: FormEntry

    def __init__(self, entries: Sequence[FormEntry | str], accept: Accept, *, id: str) -> None:
        super().__init__(id=id)
        self._entries, self._accept = entries, accept

    def compose(self) -> Iterator[Widget]:
        """One widget per entry; a string is a heading."""
        for entry in self._entries:
            yield FormHeading(entry) if isinstance(entry, str) else FormLine(entry)

    def line(self, key: str) -> FormLine:
        """The line of a key."""
        return next(line for line in self.query(FormLine) if line.entry.key == key)

    def show(self, values: dict[str, str]) -> None:
        """Show these values; lines without one are hidden and cannot be focused."""
        for line in self.query(FormLine):
            line.display = line.entry.key in values
            line.set_value(values.get(line.entry.key, ""))

    def move(self, line: FormLine, way: int) -> None:
        """Move the focus by a number of visible lines, no further than the ends.

        The line itself may now be hidden by the value just accepted.
        """
        every = list(self.query(FormLine))
        shown = [each for each in every if each.display]
        before = sum(each.display for each in every[: every.index(line)])
        place = before + way - (way > 0 and not line.display)
        self.screen.set_focus(shown[max(0, min(place, len(shown) - 1))])

    @property
    def page(self) -> int:
        """Number of visible lines."""
        return max(1, self.size.height)

    def offer(self, line: FormLine, text: str) -> bool:
        """Accept a typed value, or show why it is invalid."""
        try:
            shown = self._accept(line.entry.key, text)
        except HingeleafError as error:
            self.post_message(self.Refused(error))
            return False
        line.set_value(shown)
        self.post_message(self.Changed(self, line.entry.key, shown))
        return True


def _stepped(text: str, step: float) -> str:
    """A number with a unit, changed by a step: `200 mm` by 5 is `205 mm`."""
    number, _, unit = text.strip().partition(" ")
    try:
        value = round(float(number) + step, 6)
    except ValueError:
        return text
    return f"{value:g} {unit}".strip()
