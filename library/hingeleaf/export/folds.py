"""Fold lines as they go into a file: scored, perforated, or left out for folding by hand."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
import shapely
from shapely import LineString
from shapely.ops import substring

from hingeleaf.errors import UsageError
from hingeleaf.export.drawing import Points


@dataclass(frozen=True, slots=True)
class Score:
    """One line, pressed or cut half through."""


@dataclass(frozen=True, slots=True)
class Perforation:
    """Dashes cut through, with gaps of paper between them, both in mm."""

    dash: float = 2.0
    gap: float = 1.0

    def __post_init__(self) -> None:
        if not (self.dash > 0 and self.gap > 0):
            raise UsageError(
                "A perforation needs a dash and a gap above 0 mm.", "Give for example 2mm and 1mm."
            )

    @classmethod
    def of_strength(cls, strength: float, dash: float = 2.0) -> Perforation:
        """The perforation that leaves this share of the paper uncut, between 0 and 1.

        Raises UsageError for any other.
        """
        if not 0 < strength < 1:
            raise UsageError(
                f"A fold cannot keep {strength:g} of its strength.", "Give a share like 0.35."
            )
        return cls(dash, dash * strength / (1 - strength))

    @property
    def strength(self) -> float:
        """The share of the fold's paper that stays uncut, at least."""
        return self.gap / (self.dash + self.gap)


@dataclass(frozen=True, slots=True)
class LeftOut:
    """Nothing in the file: whoever folds finds the hinge between the bridges."""


Folding = Score | Perforation | LeftOut
SCORE = Score()


def fold_lines(lines: list[Points], folding: Folding) -> list[Points]:
    """What the tool does for every fold line (n, 2)."""
    if isinstance(folding, Score):
        return lines
    if isinstance(folding, LeftOut):
        return []
    return [dash for line in lines for dash in _dashes(line, folding)]


def _dashes(line: Points, perforation: Perforation) -> list[Points]:
    """Dashes with a gap before, between and after them, so that no end of a fold tears open.

    Dash and gap grow or shrink together by a little until a whole number of them fits: their
    ratio stays, and with one gap more than there are dashes the fold is never weaker than asked.
    """
    path = LineString(line)
    dash, gap = perforation.dash, perforation.gap
    count = max(1, round((path.length - gap) / (dash + gap)))
    scale = path.length / (count * dash + (count + 1) * gap)
    starts = scale * (gap + np.arange(count) * (dash + gap))
    return [
        shapely.get_coordinates(substring(path, start, start + scale * dash))
        for start in starts.tolist()
    ]
