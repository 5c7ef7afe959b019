"""Picture view with a crosshair, moved by the arrow keys."""

from dataclasses import dataclass

from textual.message import Message

from hingeleaf_tui.widgets.host import Placed
from hingeleaf_tui.widgets.picture_view import PictureView


class AimView(Placed, PictureView, can_focus=True):
    """Takes keys only while a point is being chosen."""

    PLACE = "aim"

    @dataclass
    class Aimed(Message):
        """The crosshair moved by steps to the right and down."""

        across: int
        down: int

    class Set(Message):
        """The point was confirmed."""

    class Left(Message):
        """Choosing a point was cancelled."""

    def action_aim(self, across: int, down: int) -> None:
        """Move the crosshair by a step."""
        self.post_message(self.Aimed(across, down))

    def action_set(self) -> None:
        """Confirm this point."""
        self.post_message(self.Set())

    def action_give_up(self) -> None:
        """Cancel."""
        self.post_message(self.Left())
