"""Parameters of a check: requirements on a panel or cut file beyond its own card and frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from hingeleaf.material import FoldKind
from hingeleaf.params import FLAP_ANGLE, LENGTH, MAX_LENGTH, OPENING, SIZE, Parameter, validate


@dataclass(frozen=True, slots=True)
class Demands:
    """Requirements of a check. Raises UsageError for a value out of its bounds."""

    frame_depth: Annotated[
        float | None,
        Parameter(
            "The distance from the sheet to the glass.", LENGTH, low=0, high=MAX_LENGTH, above=True
        ),
    ] = None
    """Replaces the panel's own."""
    cutting_area: Annotated[
        tuple[float, float] | None, Parameter("What the machine can cut, such as 297x420mm.", SIZE)
    ] = None
    opening: Annotated[float, FLAP_ANGLE] = OPENING
    fold_kind: Annotated[
        FoldKind, Parameter("How fold lines are made, which determines how far flaps spring back.")
    ] = FoldKind.SCORED
    for_sale: Annotated[
        bool,
        Parameter("Check whether the licences of the motifs permit a sale.", words=("no", "yes")),
    ] = False
    copies: Annotated[
        int | None,
        Parameter("How many are to be cut.", low=1, title="number of copies", none="as noted"),
    ] = None
    """None means one, or no more if copies have been cut."""
    scraps: Annotated[
        float | None,
        Parameter("Report pieces of waste no longer than this.", LENGTH, low=0, high=MAX_LENGTH),
    ] = None
    fold_lines: Annotated[
        tuple[str, ...],
        Parameter("How fold lines are drawn in other files: dashed, or a colour such as #ff0000."),
    ] = ()

    def __post_init__(self) -> None:
        validate(self)
