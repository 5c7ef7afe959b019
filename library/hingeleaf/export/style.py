"""How lines look in a file: ours to begin with, and the user's to change.

Colours help the eye and carry no meaning alone: every kind of line has its own named group and
its own dash or width as well.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from hingeleaf.export.drawing import Kind


@dataclass(frozen=True, slots=True)
class LineStyle:
    """Colour `#rrggbb`, width and dashes in mm; `fill` is the colour of the inside, if painted."""

    colour: str
    width: float = 0.1
    dash: tuple[float, ...] = ()
    fill: str = ""


Style = Mapping[Kind, LineStyle]

STYLE: Style = MappingProxyType(
    {
        Kind.GUIDES: LineStyle("#8a8f98", 0.1, (0.5, 1.5)),
        Kind.FOLDS: LineStyle("#2f6f4f", 0.1, (3.0, 2.0)),
        Kind.SLITS: LineStyle("#1f2933", 0.1),
        Kind.WINDOWS: LineStyle("", 0.0, fill="#37424f"),
        Kind.EDGE: LineStyle("#1f2933", 0.2),
    }
)
"""Windows are filled and unstroked: what is painted is exactly what falls away."""
