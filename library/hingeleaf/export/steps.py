"""Order of folding: the sequence of flaps, and which edge of each comes up.

Motifs are taken from the far side of the sheet towards the near one, row by row, and the flaps of
each together, so that the hand that folds never lies on one that is already up.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import chain

import numpy as np
import shapely

from hingeleaf.export.drawing import Points
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.lifting import Raised
from hingeleaf.panel.weeding import rows_of

LEVEL = 4.0
"""mm: flaps of one motif within this height count as level."""
SIDES = (
    "right", "lower right", "bottom", "lower left", "left", "upper left", "top", "upper right",
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class FoldStep:
    """One flap to fold, by its number."""

    number: int
    raised: Raised
    motif: str
    at: Points
    """A place well inside the flap, from the sheet's top left corner."""
    origin: Points
    """That corner, in the coordinates of the flap."""
    across: Points
    """The unit vector square to the hinge, towards the rest of the flap."""

    @property
    def lift_at(self) -> str:
        """The side of the flap that comes up, as it lies on the page."""
        x, y = self.across
        return SIDES[round(math.degrees(math.atan2(y, x)) / 45) % 8]


def steps(panel: Panel, flaps: Sequence[Raised]) -> list[FoldStep]:
    """The flaps in the order of folding."""
    origin = np.array(panel.origin)
    middles = [_inside(flap) - origin for flap in flaps]
    of_piece: dict[int, list[Points]] = {}
    for flap, middle in zip(flaps, middles, strict=True):
        of_piece.setdefault(flap.piece, []).append(middle)
    places = {piece: np.mean(found, axis=0) for piece, found in of_piece.items()}
    rows = [sorted(row, key=lambda piece: places[piece][0]) for row in rows_of(places)]
    turn = {piece: number for number, piece in enumerate(chain.from_iterable(rows))}
    order = sorted(
        range(len(flaps)),
        key=lambda index: (turn[flaps[index].piece], *_line_and_place(middles[index])),
    )
    return [
        FoldStep(
            number,
            flaps[index],
            panel.pieces[flaps[index].piece].motif.name,
            middles[index],
            origin,
            _across(flaps[index], middles[index] + origin),
        )
        for number, index in enumerate(order, start=1)
    ]


def _line_and_place(middle: Points) -> tuple[int, float]:
    """Two wings at one height are taken from left to right."""
    x, y = middle.tolist()
    return round(y / LEVEL), x


def _inside(flap: Raised) -> Points:
    """The middle of the largest circle in a flap."""
    circle = shapely.maximum_inscribed_circle(flap.hinge.flap, tolerance=0.1)
    middle: Points = shapely.get_coordinates(circle)[0]
    return middle


def _across(flap: Raised, middle: Points) -> Points:
    start, end = np.array(flap.hinge.line)
    along = (end - start) / np.hypot(*(end - start))
    square: Points = np.array([-along[1], along[0]])
    return square if square @ (middle - start) > 0 else -square
