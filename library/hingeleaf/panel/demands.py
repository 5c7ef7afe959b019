"""Parameters of a check: what a panel or cut file has to satisfy beyond its own card and frame."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Annotated

from hingeleaf.material import FoldKind
from hingeleaf.params import LENGTH, LONGEST, OPENING, RESTS_AT, SIZE, Parameter, validate


@dataclass(frozen=True, slots=True)
class Demands:
    """What is demanded. Raises UsageError for a value out of its bounds."""

    frame_depth: Annotated[
        float | None,
        Parameter("Room between the sheet and the glass.", LENGTH, low=0, high=LONGEST, above=True),
    ] = None
    """It counts instead of the panel's own."""
    cutting_area: Annotated[
        tuple[float, float] | None, Parameter("What the machine can cut, such as 297x420mm.", SIZE)
    ] = None
    opening: Annotated[float, RESTS_AT] = OPENING
    fold_kind: Annotated[
        FoldKind, Parameter("How fold lines are made: it tells how flaps rest.")
    ] = FoldKind.SCORED
    for_sale: Annotated[
        bool, Parameter("Hold the licences of the motifs against a sale.", words=("no", "yes"))
    ] = False
    copies: Annotated[
        int | None,
        Parameter("How many are to be cut.", low=1, title="number of copies", none="as noted"),
    ] = None
    """None stands for one, or for no more where copies were cut."""
    scraps: Annotated[
        float | None,
        Parameter("Say how much waste is no longer than this.", LENGTH, low=0, high=LONGEST),
    ] = None
    fold_lines: Annotated[
        tuple[str, ...],
        Parameter(
            "How a file from elsewhere shows fold lines: dashed, or a colour such as #ff0000."
        ),
    ] = ()

    def __post_init__(self) -> None:
        validate(self)
