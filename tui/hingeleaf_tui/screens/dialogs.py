"""Dialogs: a question, a list to choose from, a line to type, a form."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import ClassVar, Generic, TypeVar

from textual import on
from textual.app import ComposeResult
from textual.containers import Vertical
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Input, Static

from hingeleaf.catalogue.store import Library
from hingeleaf.errors import HingeleafError
from hingeleaf_tui.forms import lines
from hingeleaf_tui.forms.lines import EntryBinding
from hingeleaf_tui.screens.base import Answer, KeyedScreen
from hingeleaf_tui.services import Services
from hingeleaf_tui.widgets.bars import KeyFooter
from hingeleaf_tui.widgets.cursor_list import CursorList
from hingeleaf_tui.widgets.form import Form
from hingeleaf_tui.widgets.text_list import TextList, TextRow
from hingeleaf_tui.widgets.typed_line import TypedLine

Subject = TypeVar("Subject")


class Dialog(ModalScreen[Answer], KeyedScreen[Answer]):
    """A small screen above the work; Esc or F10 closes it without an answer."""

    PLACE = COMMON = "sheet"
    SIZE: ClassVar[str] = ""
    """Further style classes of its frame: tall, wide."""

    def __init__(self, services: Services, title: str) -> None:
        super().__init__()
        self.services, self._title = services, title

    def compose(self) -> ComposeResult:
        """The title, the content, a sentence that `report` changes, and the keys."""
        with Vertical(classes=f"sheet {self.SIZE}"):
            yield Static(self._title, classes="title", markup=False)
            yield from self.content()
            yield Static("", id="dialog-message", classes="quiet", markup=False)
            yield KeyFooter()

    def content(self) -> ComposeResult:
        """The widgets below the title."""
        yield from ()

    def action_back(self) -> None:
        """Close without an answer."""
        self.dismiss(None)

    def report(self, words: str, kind: str = "quiet") -> None:
        """Show a sentence at the foot of the dialog."""
        message = self.query_one("#dialog-message", Static)
        message.set_classes(kind)
        message.update(self.services.with_keys(words))


Lines = Sequence[TextRow]
Source = Lines | Callable[[Library], Lines]
"""Rows, or a function that reads them from the library."""
NOT_LISTED = "Nothing in the list matches."


class PickDialog(Dialog[str]):
    """Choose one row of a list, which may load slowly; typing filters it.

    If the answer is `free`, typed text that matches no row is also an answer.
    """

    SIZE = "tall"
    AUTO_FOCUS = "TypedLine"
    PLACEHOLDER = "type to narrow the list"
    ENTER: ClassVar[str] = "Choose"
    """What Enter does with the chosen row."""

    def __init__(
        self,
        services: Services,
        title: str,
        source: Source = (),
        chosen: str = "",
        empty: str = "There is nothing to choose from.",
        *,
        free: bool = False,
    ) -> None:
        super().__init__(services, title)
        self._source, self._chosen, self._empty, self._free = source, chosen, empty, free
        self._lines: Lines = ()

    def content(self) -> ComposeResult:
        """An input for searching, and the list."""
        placeholder = self.services.with_keys(self.PLACEHOLDER)
        yield TypedLine(placeholder=placeholder, keys={"Enter": self.ENTER})
        yield TextList(id="pick-list", empty="One moment …", enter=self.ENTER)

    def on_mount(self) -> None:
        """Load the rows."""
        self.load()

    def load(self) -> None:
        """Load the rows, perhaps again."""
        if callable(self._source):
            self.submit(self._source, self.show_lines, topic=self._title)
        else:
            self.show_lines(self._source)

    def show_lines(self, lines: Lines) -> None:
        """Show loaded rows, with the cursor on the chosen one."""
        self._lines = lines
        self._narrow()
        shown = self.query_one(TextList)
        places = [place for place, line in enumerate(shown.lines) if line.key == self._chosen]
        if places:
            shown.cursor = places[0]

    def fitting(self, typed: str) -> Lines:
        """The lines that contain all typed words."""
        words = typed.lower().split()
        return [line for line in self._lines if all(word in line.text.lower() for word in words)]

    def _narrow(self) -> None:
        nothing = self._empty
        if self._lines:
            nothing = "Enter takes what is typed." if self._free else NOT_LISTED
        fitting = self.fitting(self.query_one(TypedLine).value)
        self.query_one(TextList).show(fitting, nothing)

    @on(Input.Changed)
    def _typed(self) -> None:
        self._narrow()
        self.query_one(TextList).cursor = 0

    def key_down(self) -> None:
        """Move the focus from the input to the list, and its cursor."""
        self.query_one(TextList).focus()

    key_up = key_down

    @on(Input.Submitted)
    @on(CursorList.Opened)
    def _choose(self) -> None:
        typed = self.query_one(TypedLine).value.strip()
        if line := self.query_one(TextList).chosen:
            self.dismiss(line.key)
        elif self._free and typed:
            self.dismiss(typed)


class ActingList(PickDialog):
    """A list from the library, with keys that act on the chosen row."""

    AUTO_FOCUS = "TextList"

    @property
    def chosen(self) -> TextRow | None:
        """The row under the cursor."""
        return self.query_one(TextList).chosen

    def action_find(self) -> None:
        """Type to filter the list."""
        self.query_one(TypedLine).focus()

    def show_again(self, chosen: str = "") -> None:
        """Load the rows again, and focus the list so that letters are keys again."""
        self._chosen = chosen
        self.load()
        self.query_one(TextList).focus()


class FormDialog(Dialog[str], Generic[Subject]):
    """A form about one subject; values are accepted at once, or with a key in some dialogs."""

    AUTO_FOCUS = "FormLine"

    def __init__(
        self,
        services: Services,
        title: str,
        bound: Sequence[EntryBinding[Subject]],
        subject: Subject,
    ) -> None:
        super().__init__(services, title)
        self.bound, self.subject = bound, subject
        self.to_replace: list[Path] = []
        """Existing files that the user was asked about before they are replaced."""

    def content(self) -> ComposeResult:
        """The form."""
        yield Form([line.entry for line in self.bound], self.accept, id="sheet-form")

    def accept(self, key: str, text: str) -> str:
        """Accept a typed value, and return the text to show. Raises HingeleafError."""
        self.to_replace = []
        self.subject = lines.with_value(self.bound, self.subject, key, text)
        return lines.values_of(self.bound, self.subject)[key]

    def may_write(self, targets: Sequence[Path], again: str) -> bool:
        """Whether no file would be replaced, or the user confirmed it by the key `again`."""
        there = [target for target in targets if target.exists()]
        asked, self.to_replace = self.to_replace, there
        if not there or there == asked:
            return True
        names = ", ".join(target.name for target in there)
        self.report(f"{names} exists. {again} again replaces it.", "caution")
        return False

    def on_mount(self) -> None:
        """Fill in the known values."""
        self.show_values()

    @on(Form.Changed)
    def show_values(self) -> None:
        """Show the values of the subject as edited so far."""
        self.query_one(Form).show(lines.values_of(self.bound, self.subject))


class SavingDialog(FormDialog[Subject]):
    """A form about one subject; a key saves it in the library by `save`."""

    PLACE = "saving"

    def __init__(
        self,
        services: Services,
        title: str,
        bound: Sequence[EntryBinding[Subject]],
        subject: Subject,
        save: Callable[[Library, Subject], object],
    ) -> None:
        super().__init__(services, title, bound, subject)
        self._save = save

    def action_keep(self) -> None:
        """Save the edited subject."""
        subject = self.subject
        self.submit(lambda library: self._save(library, subject), lambda _: self.saved())

    def saved(self) -> None:
        """Close after saving."""
        self.action_back()


class InputDialog(Dialog[str]):
    """Type one line; `accept` raises an error for invalid text."""

    AUTO_FOCUS = "TypedLine"

    def __init__(
        self,
        services: Services,
        title: str,
        value: str = "",
        hint: str = "",
        *,
        accept: Callable[[str], object],
    ) -> None:
        super().__init__(services, title)
        self._value, self._hint, self._accept = value, hint, accept

    def content(self) -> ComposeResult:
        """The input."""
        yield TypedLine(self._value, placeholder=self._hint)

    @on(Input.Submitted)
    def _typed(self, event: Input.Submitted) -> None:
        try:
            self._accept(event.value.strip())
        except HingeleafError as error:
            self.refuse(error)
        else:
            self.dismiss(event.value.strip())


class QuestionDialog(ModalScreen[str]):
    """Asks a question and returns the key that was pressed; Esc stands for the last answer."""

    def __init__(self, question: str, answers: Mapping[str, str]) -> None:
        super().__init__()
        self._question, self._answers = question, answers

    def compose(self) -> ComposeResult:
        """The question, then the answers with their keys."""
        with Vertical(classes="sheet"):
            yield Static(self._question, classes="title", markup=False)
            for key, message in self._answers.items():
                esc = ", Esc" if key == self._last else ""
                yield Static(f"[b $accent]{key}{esc}[/]  {message}")

    @property
    def _last(self) -> str:
        return list(self._answers)[-1]

    def on_key(self, event: Key) -> None:
        """Accept an answer; other keys do nothing."""
        event.stop()
        if event.character in self._answers:
            self.dismiss(event.character)
        elif event.key == "escape":
            self.dismiss(self._last)
