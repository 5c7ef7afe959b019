"""Picture view of a panel in which placements are chosen and edited."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from textual.message import Message

from hingeleaf.model import Placement, Pose
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.view import View
from hingeleaf_tui.panel_session import PanelFilling
from hingeleaf_tui.widgets.host import Placed
from hingeleaf_tui.widgets.picture_view import PictureView

ZOOM = 1.5
RADIUS, MIN_RADIUS = 30.0, 5.0
"""Initial and least radius in mm of a circle to refill."""
CIRCLE_STEP = 5
"""mm by which one key moves the circle."""
MIN_SIZE = 5.0
"""mm: smallest size of a motif that can be set by hand."""
Placements = tuple[Placement, ...]
Circle = tuple[tuple[float, float], float]
"""Centre and radius, mm in the field."""


class ArrangeView(Placed, PictureView, can_focus=True):
    """Edits placements with keys and posts the changes as messages."""

    PLACE = "placing"

    class Changed(Message):
        """The placements were edited."""

        def __init__(self, what: str, placements: Placements) -> None:
            self.what, self.placements = what, placements
            super().__init__()

    class ViewChanged(Message):
        """The chosen placement or the view changed."""

    @dataclass
    class Refill(Message):
        """Refill a circle or, without one, everything that is not pinned."""

        circle: Circle | None

    class EditsWanted(Message):
        """The user wants to type edits by number."""

    class SwapWanted(Message):
        """The user wants to choose another motif for the chosen placement."""

    class Closed(Message):
        """The focus should return to the recipe."""

    def __init__(self, ink: Callable[[], Ink], *, id: str, placeholder: str) -> None:
        super().__init__(id=id, placeholder=placeholder)
        self._ink = ink
        self.chosen = 0
        self.circle: Circle | None = None
        """The circle to refill, while it is being chosen."""
        self.view: View | None = None
        self._filled: PanelFilling | None = None
        self._placements: Placements = ()

    def take(self, filled: PanelFilling | None) -> None:
        """Show these placements from now on."""
        if filled is None:
            self.view = None
        self._filled = filled
        self._placements = filled.filling.placements if filled else ()
        self.chosen = min(self.chosen, max(len(self._placements) - 1, 0))

    @property
    def marked(self) -> int | None:
        """The number of the highlighted placement, if any."""
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
        """Highlight the chosen placement."""
        self.post_message(self.ViewChanged())

    def on_blur(self) -> None:
        """Show the whole panel again."""
        self.view = self.circle = None
        self.post_message(self.ViewChanged())

    def action_choose(self, across: int, down: int) -> None:
        """Choose the nearest placement in a direction, or move the circle."""
        if self.circle is not None:
            (x, y), radius = self.circle
            self.circle = ((x + across * CIRCLE_STEP, y + down * CIRCLE_STEP), radius)
        elif self._placements:
            self.chosen = towards(self._placements, self.chosen, across, down)
            self._follow()
        self.post_message(self.ViewChanged())

    def action_move(self, across: float, down: float) -> None:
        """Move the chosen placement by mm."""
        self._repose("move", lambda pose: replace(pose, x=pose.x + across, y=pose.y + down))

    def action_turn(self, by: float) -> None:
        """Turn the chosen placement by degrees."""
        self._repose("turning", lambda pose: turned(pose, by))

    def action_resize(self, by: float) -> None:
        """Enlarge the chosen placement, or the circle, by mm."""
        if self.circle is None:
            self._repose("resizing", lambda pose: resized(pose, by))
        else:
            at, radius = self.circle
            self.circle = (at, max(radius + 2 * by, MIN_RADIUS))
            self.post_message(self.ViewChanged())

    def action_mirror(self) -> None:
        """Mirror the chosen placement."""
        self._repose("mirroring", lambda pose: replace(pose, mirrored=not pose.mirrored))

    def action_pin(self) -> None:
        """Pin or unpin the chosen placement."""
        self._change("pinning", lambda one: replace(one, pinned=not one.pinned))

    def action_take_off(self) -> None:
        """Remove the chosen placement."""
        before, after = self._placements[: self.chosen], self._placements[self.chosen + 1 :]
        self._post("removal", (*before, *after))

    def action_swap(self) -> None:
        """Replace it by the next motif of the pool."""
        if self._placements and self._filled:
            names = sorted(self._filled.motifs)
            here = self._placements[self.chosen].motif
            self.swap(names[(names.index(here) + 1) % len(names)])

    def action_swap_for(self) -> None:
        """Ask for the motif to replace it by."""
        if self._placements:
            self.post_message(self.SwapWanted())

    def swap(self, name: str | None) -> None:
        """Replace the chosen placement by a motif of the pool."""
        if name and self._placements and self._filled:
            revision = self._filled.motifs[name].revision
            self._change(
                "swap", lambda one: replace(one, motif=name, revision=revision, pinned=True)
            )

    def action_refill(self) -> None:
        """Refill the circle, or around pinned motifs."""
        circle, self.circle = self.circle, None
        self.post_message(self.Refill(circle))

    def action_circle(self) -> None:
        """Show a circle about the chosen motif, or cancel it."""
        if self.circle is None and self._placements:
            pose = self._placements[self.chosen].pose
            self.circle = ((pose.x, pose.y), max(RADIUS, pose.size))
        else:
            self.circle = None
        self.post_message(self.ViewChanged())

    def action_edits(self) -> None:
        """Type edits by number."""
        self.post_message(self.EditsWanted())

    def action_pin_others(self) -> None:
        """Pin all but the chosen one."""
        others = enumerate(self._placements)
        pinned = tuple(replace(each, pinned=number != self.chosen) for number, each in others)
        self._post("pinning of all", pinned)

    def action_leave(self) -> None:
        """Return to the recipe."""
        self.post_message(self.Closed())

    def _repose(self, what: str, edit: Callable[[Pose], Pose]) -> None:
        """Change the pose of the chosen placement, which is pinned then."""
        self._change(what, lambda one: replace(one, pose=edit(one.pose), pinned=True))

    def _change(self, what: str, edit: Callable[[Placement], Placement]) -> None:
        """Change the chosen placement."""
        each = enumerate(self._placements)
        changed = tuple(edit(one) if number == self.chosen else one for number, one in each)
        self._post(what, changed)

    def _post(self, what: str, placements: Placements) -> None:
        """Show other placements, and post them with the motif that was chosen."""
        if not self._placements:
            return
        motif = self._placements[self.chosen].motif
        self._placements = placements
        self.chosen = min(self.chosen, max(len(placements) - 1, 0))
        self._follow()
        self.post_message(self.Changed(f"{what} of {motif}", placements))

    def action_zoom(self, closer: int) -> None:
        """Zoom in on the chosen placement, or out."""
        if self._filled is None:
            return
        whole = self._filled.painter.view(self.columns, self.rows, self._ink())
        view = (self.view or whole).zoomed(ZOOM**closer)
        self.view = None if view.dot >= whole.dot else view
        self._follow()
        self.post_message(self.ViewChanged())

    def _follow(self) -> None:
        """Keep the chosen placement centred in a close view."""
        if self.view is not None and self._placements:
            pose = self._placements[self.chosen].pose
            self.view = replace(self.view, centre=(pose.x, pose.y))


def towards(placements: Sequence[Placement], chosen: int, across: int, down: int) -> int:
    """The number of the nearest placement in a direction; the same one if there is none.

    Distance counts once along the direction and twice across it.
    """
    here = placements[chosen].pose
    best, least = chosen, math.inf
    for number, placement in enumerate(placements):
        x, y = placement.pose.x - here.x, placement.pose.y - here.y
        ahead, beside = x * across + y * down, abs(x * down) + abs(y * across)
        if ahead > 1e-6 and ahead >= beside / 2 and ahead + 2 * beside < least:
            best, least = number, ahead + 2 * beside
    return best


def turned(pose: Pose, by: float) -> Pose:
    """The pose turned by degrees, clockwise as seen."""
    return replace(pose, turn=(pose.turn + by + 180) % 360 - 180)


def resized(pose: Pose, by: float) -> Pose:
    """The pose with its motif resized by mm."""
    return replace(pose, size=max(MIN_SIZE, pose.size + by))
