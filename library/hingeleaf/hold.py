"""Hold styles, the sides on which flaps hinge, and what is requested of a bridge plan."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import Annotated

from hingeleaf.params import BRIDGES, TIES, Validated, parameter


class HoldStyle(StrEnum):
    """How bridges are planned, and therefore what lifts."""

    RIGID = "rigid"
    """Bridges spread evenly; nothing lifts."""
    DOOR = "door"
    """Two bridges on one side; the rest lifts."""
    SPINE = "spine"
    """Bridges at both ends of the mirror axis; both wings lift, the body stays flat."""
    POINTS = "points"
    """A bridge at every re-entrant corner; each arm lifts."""
    TONGUE = "tongue"
    """A cut with one gap, across which the piece hinges."""
    FLAT = "flat"
    """Windows only; inner islands are tied rigidly."""

    @property
    def lifts(self) -> bool:
        """Whether it leaves something to fold up."""
        return self not in (HoldStyle.RIGID, HoldStyle.FLAT)


class HingeSide(StrEnum):
    """The side of its part on which a flap hinges."""

    INNER = "inner"
    """Towards the middle of the motif."""
    OUTER = "outer"
    """Away from the middle of the motif."""
    FOOT = "foot"
    """Below."""
    TOP = "top"
    """Above."""


@dataclass(frozen=True, slots=True)
class PlanRequest(Validated):
    """How a motif's bridges are planned. Raises UsageError for a value out of its bounds."""

    hold: HoldStyle | None = parameter(
        None,
        "How the bridges hold it, and so what lifts: best or a style; if left out, as it is now.",
        title="hold style",
        none="best",
    )
    hinge: HingeSide | None = parameter(
        None,
        "Where flaps hinge: towards the middle of the motif or away from it, at the foot or top.",
        title="hinge side",
        none="by the style",
    )
    width: Annotated[float | None, BRIDGES] = None
    """None depends on the motif's size and the card."""
    ties: Annotated[int, TIES] = 2
