"""The frame of a panel, and further requirements that a check may have."""

from dataclasses import dataclass
from typing import Annotated

from hingeleaf.material import FoldKind
from hingeleaf.params import FLAP_ANGLE, OPENING, SIZE, Validated, distance, parameter

MARGIN = 15.0
"""Paper left around a field when no sheet is named."""


@dataclass(frozen=True, slots=True)
class Frame(Validated):
    """The frame in which a panel is mounted. Raises UsageError for a value out of its bounds."""

    rebate: float = distance(0.0, "How much of every edge the frame hides.", step=1)
    depth: float | None = distance(
        None,
        "From the sheet to the glass; lifts are checked against it.",
        above=True,
        title="frame depth",
        option="--frame-depth",
        none="no glass",
        step=1,
    )


NO_FRAME = Frame()


@dataclass(frozen=True, slots=True)
class Demands(Validated):
    """Requirements of a check. Raises UsageError for a value out of its bounds."""

    frame_depth: float | None = distance(
        None, "The distance from the sheet to the glass.", above=True
    )
    """Replaces the panel's own."""
    cutting_area: tuple[float, float] | None = parameter(
        None, "What the machine can cut, such as 297x420mm.", SIZE
    )
    opening: Annotated[float, FLAP_ANGLE] = OPENING
    fold_kind: FoldKind = parameter(
        FoldKind.SCORED, "How fold lines are made, which determines how far flaps spring back."
    )
    for_sale: bool = parameter(
        False, "Check whether the licences of the motifs permit a sale.", words=("no", "yes")
    )
    copies: int | None = parameter(
        None, "How many are to be cut.", low=1, title="number of copies", none="as noted"
    )
    """None means one, or no more if copies have been cut."""
    scraps: float | None = distance(None, "Report pieces of waste no longer than this.")
    fold_lines: tuple[str, ...] = parameter(
        (), "How fold lines are drawn in other files: dashed, or a colour such as #ff0000."
    )
