"""Picture view with a crosshair, moved by the arrow keys."""

from __future__ import annotations

from dataclasses import dataclass
from typing import ClassVar

from textual.binding import BindingType
from textual.message import Message

from hingeleaf_tui import actions
from hingeleaf_tui.widgets.picture_view import PictureView


class AimView(PictureView, can_focus=True):
    """Takes keys only while a place is being aimed at."""

    PLACE = "aim"
    BINDINGS: ClassVar[list[BindingType]] = [*actions.bindings("aim")]

    @dataclass
    class Aimed(Message):
        """Steps to the right and down."""

        across: int
        down: int

    class Set(Message):
        """This is the place."""

    class Left(Message):
        """No place after all."""

    def action_aim(self, across: int, down: int) -> None:
        """One step in a direction."""
        self.post_message(self.Aimed(across, down))

    def action_set(self) -> None:
        """Take this place."""
        self.post_message(self.Set())

    def action_give_up(self) -> None:
        """Take none."""
        self.post_message(self.Left())
