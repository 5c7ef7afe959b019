"""Picture view of a panel in which placements are chosen and edited."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, ClassVar

from textual.binding import BindingType
from textual.message import Message

from hingeleaf_tui import actions, arranging
from hingeleaf_tui.arranging import Placements
from hingeleaf_tui.drawing.view import View
from hingeleaf_tui.widgets.host import host
from hingeleaf_tui.widgets.picture_view import PictureView

if TYPE_CHECKING:
    from hingeleaf_tui.panel_session import PanelFilling

STEP = 1.0
"""mm that one key moves or resizes."""
TURN = 5.0
ZOOM = 1.5
RADIUS, LEAST_RADIUS = 30.0, 5.0
"""mm of a circle to fill again, at first and at least."""
CIRCLE_STEP = 5
"""How much farther a key moves the circle than a motif."""
Circle = tuple[tuple[float, float], float]
"""Middle and radius, mm in the field."""


class ArrangeView(PictureView, can_focus=True):
    """Edits placements with keys and posts the changes as messages."""

    PLACE = "placing"
    BINDINGS: ClassVar[list[BindingType]] = [*actions.bindings("placing")]

    class Changed(Message):
        """The placements are other ones."""

        def __init__(self, what: str, placements: Placements) -> None:
            self.what, self.placements = what, placements
            super().__init__()

    class Looked(Message):
        """Another placement is chosen, or the view is another."""

    @dataclass
    class Refill(Message):
        """Refill a circle, or without one all that is not pinned."""

        circle: Circle | None

    class EditsWanted(Message):
        """Edits by number should be typed."""

    class SwapWanted(Message):
        """Another motif should be chosen for the place of the chosen one."""

    class Left(Message):
        """The keys should go back to the recipe."""

    def __init__(self, *, id: str, placeholder: str) -> None:
        super().__init__(id=id, placeholder=placeholder)
        self.chosen = 0
        self.circle: Circle | None = None
        """What is to be filled again, while it is chosen."""
        self.view: View | None = None
        self._filled: PanelFilling | None = None
        self._placements: Placements = ()

    def take(self, filled: PanelFilling | None) -> None:
        """Arrange these placements from now on."""
        if filled is None:
            self.view = None
        self._filled = filled
        self._placements = filled.filling.placements if filled else ()
        self.chosen = min(self.chosen, max(len(self._placements) - 1, 0))

    @property
    def marked(self) -> int | None:
        """The number of the placement that stands out, if any."""
        return self.chosen if self.has_focus and self._placements else None

    def describe_chosen(self) -> str:
        """The chosen placement, or the circle, in words."""
        if self.circle is not None:
            radius = f"A circle of {self.circle[1]:.0f} mm around the middle."
            return f"{radius} The arrows move it, + and - size it, r fills it again."
        if not self._placements:
            return "There is nothing to edit."
        placement = self._placements[self.chosen]
        pose = placement.pose
        pin = ", pinned" if placement.pinned else ""
        flip = ", mirrored" if pose.mirrored else ""
        name = f"{self.chosen + 1}: {placement.motif}"
        return f"{name}, {pose.size:.1f} mm, rotated {pose.turn:.0f}°{flip}{pin}."

    def on_focus(self) -> None:
        """Show which placement is chosen."""
        self.post_message(self.Looked())

    def on_blur(self) -> None:
        """Show the whole panel again."""
        self.view = self.circle = None
        self.post_message(self.Looked())

    def action_left(self) -> None:
        """Choose the next to the left."""
        self._choose(-1, 0)

    def action_right(self) -> None:
        """Choose the next to the right."""
        self._choose(1, 0)

    def action_up(self) -> None:
        """Choose the next above."""
        self._choose(0, -1)

    def action_down(self) -> None:
        """Choose the next below."""
        self._choose(0, 1)

    def action_move_left(self) -> None:
        """Move it left."""
        self._move(-STEP, 0)

    def action_move_right(self) -> None:
        """Move it right."""
        self._move(STEP, 0)

    def action_move_up(self) -> None:
        """Move it up."""
        self._move(0, -STEP)

    def action_move_down(self) -> None:
        """Move it down."""
        self._move(0, STEP)

    def action_turn_left(self) -> None:
        """Turn it against the clock."""
        if self._placements:
            self._change("turning", arranging.turned(self._placements, self.chosen, -TURN))

    def action_turn_right(self) -> None:
        """Turn it with the clock."""
        if self._placements:
            self._change("turning", arranging.turned(self._placements, self.chosen, TURN))

    def action_larger(self) -> None:
        """Enlarge it."""
        if self._grow_circle(STEP):
            return
        if self._placements:
            self._change("resizing", arranging.resized(self._placements, self.chosen, STEP))

    def action_smaller(self) -> None:
        """Shrink it."""
        if self._grow_circle(-STEP):
            return
        if self._placements:
            self._change("resizing", arranging.resized(self._placements, self.chosen, -STEP))

    def action_mirror(self) -> None:
        """Mirror it."""
        if self._placements:
            self._change("mirroring", arranging.mirrored(self._placements, self.chosen))

    def action_pin(self) -> None:
        """Pin it, or let it go."""
        if self._placements:
            self._change("pinning", arranging.pinned(self._placements, self.chosen))

    def action_take_off(self) -> None:
        """Take it off."""
        if self._placements:
            self._change("removal", arranging.without(self._placements, self.chosen))

    def action_swap(self) -> None:
        """Put the next motif of the pool in its place."""
        if self._placements and self._filled:
            names = sorted(self._filled.motifs)
            here = self._placements[self.chosen].motif
            self.swap(names[(names.index(here) + 1) % len(names)])

    def action_swap_for(self) -> None:
        """Choose the motif to put in its place."""
        if self._placements:
            self.post_message(self.SwapWanted())

    def swap(self, name: str | None) -> None:
        """Put a motif of the pool in the place of the chosen one."""
        if name and self._placements and self._filled:
            other = self._filled.motifs[name]
            here, revision = self.chosen, other.revision
            self._change("swap", arranging.swapped(self._placements, here, other.name, revision))

    def action_refill(self) -> None:
        """Refill the circle, or around what is pinned."""
        circle, self.circle = self.circle, None
        self.post_message(self.Refill(circle))

    def action_circle(self) -> None:
        """Choose a circle about the chosen motif, or give it up."""
        if self.circle is None and self._placements:
            pose = self._placements[self.chosen].pose
            self.circle = ((pose.x, pose.y), max(RADIUS, pose.size))
        else:
            self.circle = None
        self.post_message(self.Looked())

    def action_edits(self) -> None:
        """Type edits by number."""
        self.post_message(self.EditsWanted())

    def action_pin_others(self) -> None:
        """Pin all but the chosen one."""
        if self._placements:
            self._change("pinning of all", arranging.others_pinned(self._placements, self.chosen))

    def action_closer(self) -> None:
        """Look closer at it."""
        self._zoom(ZOOM)

    def action_farther(self) -> None:
        """Look from farther away."""
        self._zoom(1 / ZOOM)

    def action_leave(self) -> None:
        """Back to the recipe."""
        self.post_message(self.Left())

    def _grow_circle(self, by: float) -> bool:
        if self.circle is None:
            return False
        at, radius = self.circle
        self.circle = (at, max(radius + 2 * by, LEAST_RADIUS))
        self.post_message(self.Looked())
        return True

    def _choose(self, across: int, down: int) -> None:
        if self.circle is not None:
            (x, y), radius = self.circle
            step = CIRCLE_STEP * STEP
            self.circle = ((x + across * step, y + down * step), radius)
            self.post_message(self.Looked())
            return
        if self._placements:
            self.chosen = arranging.towards(self._placements, self.chosen, across, down)
            self._follow()
            self.post_message(self.Looked())

    def _move(self, across: float, down: float) -> None:
        if self._placements:
            self._change("move", arranging.moved(self._placements, self.chosen, across, down))

    def _change(self, what: str, placements: Placements) -> None:
        motif = self._placements[self.chosen].motif
        self._placements = placements
        self.chosen = min(self.chosen, max(len(placements) - 1, 0))
        self._follow()
        self.post_message(self.Changed(f"{what} of {motif}", placements))

    def _zoom(self, factor: float) -> None:
        if self._filled is None:
            return
        whole = self._filled.painter.view(self.columns, self.rows, host(self).drawing_ink)
        view = (self.view or whole).zoomed(factor)
        self.view = None if view.dot >= whole.dot else view
        self._follow()
        self.post_message(self.Looked())

    def _follow(self) -> None:
        """Keep the chosen placement in the middle of a close view."""
        if self.view is not None and self._placements:
            pose = self._placements[self.chosen].pose
            self.view = replace(self.view, centre=(pose.x, pose.y))
