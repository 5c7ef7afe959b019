"""One question with a few answers, each by its own key."""

from __future__ import annotations

from collections.abc import Mapping

from textual.app import ComposeResult
from textual.containers import Vertical
from textual.events import Key
from textual.screen import ModalScreen
from textual.widgets import Static


class Ask(ModalScreen[str]):
    """Asks and hands back the key that was pressed; Esc is the last answer."""

    def __init__(self, question: str, answers: Mapping[str, str]) -> None:
        super().__init__()
        self._question, self._answers = question, answers

    def compose(self) -> ComposeResult:
        """The question, then the answers with their keys."""
        with Vertical(classes="sheet"):
            yield Static(self._question, classes="title", markup=False)
            for key, says in self._answers.items():
                yield Static(f"[b $accent]{key}[/]  {says}")

    def on_key(self, event: Key) -> None:
        """Take an answer; other keys do nothing."""
        event.stop()
        if event.character in self._answers:
            self.dismiss(event.character)
        elif event.key == "escape":
            self.dismiss(list(self._answers)[-1])
