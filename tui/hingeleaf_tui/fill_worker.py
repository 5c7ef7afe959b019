"""Fill a field in the worker process: yields the motifs, then drawn fillings."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.fill import KERNELS
from hingeleaf.tasks import Progress, Task, seen_as

if TYPE_CHECKING:
    from hingeleaf.fill.filling import Filling
    from hingeleaf.model import Field, Motif, Placement
    from hingeleaf.panel.recipe import Recipe
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink

MODULES = (
    "hingeleaf.workshop",
    "hingeleaf_tui.drawing.panel",
    *KERNELS,
    "hingeleaf.fill.solver",
)
"""What takes its time to load, and is needed for a filling."""

OFTEN = 0.06
"""Seconds between two fillings shown: faster than that nobody sees."""


@dataclass(frozen=True, slots=True)
class Viewport:
    """The characters that a filling is drawn with."""

    columns: int
    rows: int
    ink: Ink
    pixels: tuple[int, int]
    """Real pixels to a character, where it is drawn with them."""


@dataclass(frozen=True, slots=True)
class PoolReady:
    """What is to be filled, and with what."""

    field: Field
    motifs: Mapping[str, Motif]


@dataclass(frozen=True, slots=True)
class Frame:
    """A filling and its picture; none where there is no room for one."""

    filling: Filling
    picture: Picture | None


def fill(
    library: Path, recipe: Recipe, pinned: Sequence[Placement], sheet: Viewport
) -> Task[PoolReady | Frame]:
    """Fill a field by a recipe, from a library that is opened for it.

    Tells once what was gathered, then the fillings. Raises what `workshop` and `filler.fill` raise.
    """
    from hingeleaf.catalogue.store import Library
    from hingeleaf.fill import filler
    from hingeleaf.panel.recall import stencil_of
    from hingeleaf.workshop import gather, make_field
    from hingeleaf_tui.drawing.ink import use_pixels
    from hingeleaf_tui.drawing.panel import PanelPainter

    use_pixels(*sheet.pixels)
    field = make_field(recipe)
    with Library.open(library, create=False) as opened:
        pool = yield from seen_as(gather(opened, recipe, pinned=pinned), lambda _: None)
    yield Progress(0, 1, "getting ready", PoolReady(field, pool.motifs))
    painter = PanelPainter(field, pool.motifs, stencil_of(recipe, field))

    def drawn(filling: Filling) -> Frame:
        if sheet.columns < 2 or sheet.rows < 2:
            return Frame(filling, None)
        picture = painter.paint(filling.placements, sheet.columns, sheet.rows, sheet.ink)
        return Frame(filling, picture)

    task = filler.fill(field, pool.items, recipe.rules, pinned=pinned)
    return drawn((yield from seen_as(task, drawn, every=OFTEN)))
