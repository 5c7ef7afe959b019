"""Dialog that shows drawings side by side, to choose one."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar, Generic, TypeVar

from textual import on
from textual.app import ComposeResult
from textual.await_remove import AwaitRemove
from textual.containers import Horizontal, Vertical
from textual.widgets import Static

from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.screens.dialogs import Dialog
from hingeleaf_tui.services import Services
from hingeleaf_tui.widgets.picture_view import PictureView

Item = TypeVar("Item")
MIN_COLUMNS = 32
"""Columns needed by one drawing and its text."""
EDGES = 6
"""Columns of the dialog's own borders."""


@dataclass(frozen=True)
class PictureChoice:
    """A drawing with its title and a few lines of text."""

    title: str
    lines: Sequence[str]
    paint: Callable[[int, int], Picture]
    """Draws it with a number of columns and rows."""


class SideBySide(Dialog[Item], Generic[Item]):
    """Items in columns, on several pages if necessary; Enter answers with the chosen one."""

    PLACE = "choices"
    SIZE = "tall wide"
    AUTO_FOCUS = None
    JOB: ClassVar[str] = "side by side"
    """The group of the job that finds the items."""

    def __init__(self, services: Services, title: str) -> None:
        super().__init__(services, title)
        self.items: Sequence[Item] = ()
        self._choices: list[PictureChoice] = []
        self.chosen = 0

    def picture_choice(self, item: Item) -> PictureChoice:
        """The picture and text of an item."""
        raise NotImplementedError

    def load_items(self) -> Task[Sequence[Item]]:
        """Find the items in the background; each step may yield those found so far."""
        raise NotImplementedError

    def content(self) -> ComposeResult:
        """Columns of a title, a picture and text; hidden while there is nothing to show."""
        with Horizontal(id="choices"):
            for number in range(self.across):
                with Vertical(id=f"choice-{number}"):
                    yield Static(classes="choice-title", markup=False)
                    yield PictureView()
                    yield Static(classes="lines", markup=False)

    @property
    def across(self) -> int:
        """Number of items side by side."""
        return max(1, (round(0.94 * self.app.size.width) - EDGES) // MIN_COLUMNS)

    def on_mount(self) -> None:
        """Start finding the items."""
        self._show_page()
        self.report("One moment …")
        self.start(self.JOB, self.load_items, self.show, step=self._step)

    def remove(self) -> AwaitRemove:
        """Stop finding items."""
        self.services.jobs.cancel(self.JOB)
        return super().remove()

    def _step(self, progress: Progress[Sequence[Item]]) -> None:
        if progress.so_far:
            self.show(progress.so_far)
        self.report(f"{progress.message.capitalize()} …")

    def show(self, items: Sequence[Item]) -> None:
        """Show other items."""
        self.report("")
        if items != self.items:
            self.items = items
            self._choices = [self.picture_choice(item) for item in items]
            self._show_page()

    def _show_page(self) -> None:
        """Show the page that contains the chosen item."""
        columns = list(self.query_one("#choices").children)
        first = self.chosen // len(columns) * len(columns)
        for number, column in enumerate(columns, start=first):
            column.display = number < len(self._choices)
            if column.display:
                choice, is_chosen = self._choices[number], number == self.chosen
                title, lines = (
                    column.query_one(".choice-title", Static),
                    column.query(Static).last(),
                )
                title.update(f"{'▸' if is_chosen else ' '}{number + 1}  {choice.title}")
                title.set_class(is_chosen, "chosen")
                lines.update("\n".join(choice.lines))
                self._paint(column.query_one(PictureView), choice)
        if len(self._choices) > len(columns):
            self.report(f"{self.chosen + 1} of {len(self._choices)}.")

    @on(PictureView.Resized)
    def _resized(self, event: PictureView.Resized) -> None:
        event.stop()
        views = list(self.query(PictureView))
        first = self.chosen // len(views) * len(views)
        for view, choice in zip(views, self._choices[first:], strict=False):
            if view is event.widget:
                self._paint(view, choice)

    def _paint(self, picture_view: PictureView, choice: PictureChoice) -> None:
        if picture_view.columns >= 2 and picture_view.rows >= 2:
            picture_view.show(choice.paint(picture_view.columns, picture_view.rows))

    def action_choose(self, way: int) -> None:
        """Choose the previous or next item."""
        number = self.chosen + way
        if 0 <= number < len(self.items):
            self.chosen = number
            self._show_page()

    def action_keep(self) -> None:
        """Answer with the chosen item."""
        if self.items:
            self.dismiss(self.items[self.chosen])
