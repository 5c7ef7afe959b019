"""What the walk over a drawing leaves behind: inks in paint order, and what clips them."""

from __future__ import annotations

from dataclasses import dataclass, replace

from hingeleaf.artwork.colours import BLACK, Colour
from hingeleaf.artwork.matrices import Matrix
from hingeleaf.artwork.paths import Path
from hingeleaf.artwork.strokes import Stroke


@dataclass(frozen=True, slots=True, eq=False)
class Ink:
    """One fill or one stroke: a path in its own coordinates and the way to the page, in mm."""

    path: Path
    matrix: Matrix
    colour: Colour = BLACK
    """Its alpha is all that makes the paint translucent, groups included."""
    stroke: Stroke | None = None
    """How the path is drawn, or None if it is filled."""
    even_odd: bool = False
    clips: tuple[Clip, ...] = ()
    name: str = ""
    layer: str = ""
    line_number: int | None = None
    also_filled: bool = False
    """For a stroke: whether the same path is filled as well."""

    def clipped(self, clip: Clip) -> Ink:
        """The same ink seen through one more clip."""
        return replace(self, clips=(*self.clips, clip))


@dataclass(frozen=True, slots=True, eq=False)
class Clip:
    """A region that lets ink through: the union of some inks, or what a mask leaves bright."""

    inks: tuple[Ink, ...]
    is_mask: bool = False
    by_alpha: bool = False
    """For a mask: whether it looks at opacity alone and not at brightness."""
