"""Base class of screens that make a motif: a form next to a live drawing."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import ClassVar, Generic, TypeVar

from textual import on
from textual.await_remove import AwaitRemove
from textual.containers import Horizontal, Vertical
from textual.widget import Widget

from hingeleaf.errors import HingeleafError
from hingeleaf.tasks import Progress, Task
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.forms import lines
from hingeleaf_tui.forms.lines import EntryBinding, FormEntry
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.services import Services
from hingeleaf_tui.shared.phrases import HOLD_STYLES
from hingeleaf_tui.widgets.bars import StatusBar
from hingeleaf_tui.widgets.form import Form
from hingeleaf_tui.widgets.picture_view import PictureView

Subject = TypeVar("Subject")
Result = TypeVar("Result")


class DrawnFormScreen(WorkScreen, Generic[Subject]):
    """The form's subject, its drawing, and the task that adds it to the library."""

    HEAD = "motifs"
    AUTO_FOCUS = "FormLine"
    FIRST_STEPS: ClassVar[str] = ""
    """Text shown until something is drawn."""

    def __init__(
        self,
        services: Services,
        subject: Subject,
        lines: Sequence[EntryBinding[Subject]],
        entries: Sequence[FormEntry | str],
    ) -> None:
        super().__init__(services)
        self.subject, self._lines, self._entries = subject, lines, entries

    def work(self) -> Iterator[Widget]:
        """The form with further widgets below it, and the drawing beside them."""
        with Horizontal():
            with Vertical(id="form-side"):
                below = list(self.below())
                form = Form(self._entries, self._accept, id="drawn-form")
                yield form.set_class(bool(below), "-above")
                yield from below
            yield PictureView(id="form-picture", placeholder=self.FIRST_STEPS)

    def below(self) -> Iterator[Widget]:
        """Widgets below the form."""
        yield from ()

    def drawing(self, columns: int, rows: int) -> Task[Picture] | None:
        """The task that draws the subject; None if there is nothing to draw yet."""
        raise NotImplementedError

    @property
    def picture_view(self) -> PictureView:
        """The view of the subject."""
        return self.query_one(PictureView)

    def on_mount(self) -> None:
        """Show the form."""
        self.show_form()

    def show_form(self) -> None:
        """Show the subject's values."""
        self.query_one(Form).show(lines.values_of(self._lines, self.subject))

    def _accept(self, key: str, text: str) -> str:
        self.subject = lines.with_value(self._lines, self.subject, key, text)
        return lines.values_of(self._lines, self.subject).get(key, "")

    def on_form_changed(self, event: Form.Changed) -> None:
        """Handle a changed value."""
        self.show_form()
        self.follow(event.key)
        if event.key == "hold" and event.value in HOLD_STYLES:
            self.report(HOLD_STYLES[event.value])

    def follow(self, key: str) -> None:
        """Update the drawing after a change of a line."""
        self.draw()

    @on(PictureView.Resized)
    def draw(self) -> None:
        """Draw the subject, if there is anything to draw."""
        picture_view = self.picture_view
        if picture_view.columns < 4 or picture_view.rows < 2:
            return
        task = self.drawing(picture_view.columns, picture_view.rows)
        if task is not None:
            self.services.jobs.start(
                "draw",
                lambda: task,
                step=self._drawn_so_far,
                done=self._drawn,
                failed=self.not_drawn,
            )

    def _drawn_so_far(self, progress: Progress[Picture]) -> None:
        if progress.so_far is not None:
            self._drawn(progress.so_far)

    def _drawn(self, picture: Picture) -> None:
        if picture.size == (self.picture_view.columns, self.picture_view.rows):
            self.picture_view.show(picture)

    def not_drawn(self, error: HingeleafError) -> None:
        """Show why, in place of the drawing and in the status bar."""
        self.picture_view.show_text(f"{error.message}\n\n{error.remedy}")
        self.refuse(error)

    def begin_adding(
        self, task: Callable[[], Task[Result]], done: Callable[[Result], None]
    ) -> None:
        """Start adding it to the library, with progress in the status bar."""
        bar = self.query_one(StatusBar)
        bar.progress(0, "Planning bridges")
        self.start(
            "add", task, done, step=lambda progress: bar.progress(progress.share, progress.message)
        )

    def action_leave(self) -> None:
        """Return to the motifs."""
        self.dismiss()

    def remove(self) -> AwaitRemove:
        """Cancel its jobs, whose callbacks need its widgets."""
        self.services.jobs.cancel("draw", "add")
        return super().remove()
