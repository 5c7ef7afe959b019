"""Base class of screens with a form beside a drawing that follows it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, ClassVar

from textual import on

from hingeleaf_tui.forms.lines import FormEntry
from hingeleaf_tui.screens.base import WorkScreen
from hingeleaf_tui.widgets.form import Form
from hingeleaf_tui.widgets.picture_view import PictureView

if TYPE_CHECKING:
    from hingeleaf.errors import HingeleafError
    from hingeleaf_tui.drawing.canvas import Picture

LEAST_COLUMNS, LEAST_ROWS = 4, 2
"""Smaller drawings are not made."""


class DrawnFormScreen(WorkScreen):
    """A form whose values `values` shows and `change` takes, beside what `draw` begins to draw."""

    HEAD = "motifs"
    AUTO_FOCUS = "FormLine"
    ENTRIES: ClassVar[Sequence[FormEntry | str]]

    def values(self) -> dict[str, str]:
        """The text of each line of the form."""
        raise NotImplementedError

    def change(self, key: str, text: str) -> None:
        """Take what was typed. Raises HingeleafError for what makes no sense."""
        raise NotImplementedError

    def draw(self, columns: int, rows: int) -> None:
        """Begin to draw into so many columns and rows."""
        raise NotImplementedError

    @property
    def plate(self) -> PictureView:
        """Where it is drawn."""
        return self.query_one(PictureView)

    def form(self, name: str) -> Form:
        """The form, to be placed."""
        return Form(self.ENTRIES, self._accept, id=name)

    def on_mount(self) -> None:
        """Show the form."""
        self.show_library(self.services.library.path.name)
        self.show_form()

    def show_form(self) -> None:
        """Show the values as they are now."""
        self.query_one(Form).show(self.values())

    def _accept(self, key: str, text: str) -> str:
        self.change(key, text)
        return self.values().get(key, "")

    @on(Form.Changed)
    def _changed(self, event: Form.Changed) -> None:
        self.show_form()
        self.changed(event.key)

    def changed(self, key: str) -> None:
        """A value was changed."""
        self.draw_again()

    @on(Form.Refused)
    def _refused(self, event: Form.Refused) -> None:
        self.refuse(event.error)

    @on(Form.Reached)
    def _say_what_it_is(self, event: Form.Reached) -> None:
        self.say(event.entry.help)

    @on(PictureView.Resized)
    def draw_again(self) -> None:
        """Draw, if there is room."""
        if self.plate.columns >= LEAST_COLUMNS and self.plate.rows >= LEAST_ROWS:
            self.draw(self.plate.columns, self.plate.rows)

    def show_picture(self, picture: Picture) -> None:
        """Show a drawing, unless the plate has another size by now."""
        if picture.size == (self.plate.columns, self.plate.rows):
            self.plate.show(picture)

    def not_drawn(self, error: HingeleafError) -> None:
        """Say why nothing can be drawn."""
        self.plate.say(f"{error.message}\n\n{error.remedy}")
        self.refuse(error)

    def action_leave(self) -> None:
        """Back to the motifs."""
        self.services.jobs.cancel("add")
        self.dismiss()
