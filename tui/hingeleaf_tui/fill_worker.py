"""Fill a field in the worker process: yields the motifs, then drawn fillings."""

from __future__ import annotations

from collections.abc import Generator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.fill import KERNELS
from hingeleaf.tasks import Progress, Task, map_results

if TYPE_CHECKING:
    from hingeleaf.fill.filling import Filling
    from hingeleaf.model import Field, Motif
    from hingeleaf.panel.recipe import Recipe
    from hingeleaf.session import FilledField
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink
    from hingeleaf_tui.shared.refill import Refill

MODULES = (
    "hingeleaf.session",
    "hingeleaf_tui.drawing.panel",
    *KERNELS,
    "hingeleaf.fill.solver",
)
"""Modules that are slow to load and needed for a filling."""

OFTEN = 0.06
"""Least seconds between two fillings shown: faster changes are not seen."""


@dataclass(frozen=True, slots=True)
class PictureSize:
    """Size of a picture in characters, and how they are drawn."""

    columns: int
    rows: int
    ink: Ink
    pixels: tuple[int, int]
    """Real pixels to a character, where it is drawn with them."""


@dataclass(frozen=True, slots=True)
class PoolReady:
    """The field and the motifs of the pool, before the first filling."""

    recipe: Recipe
    """With what is cut out set so that it holds."""
    field: Field
    motifs: Mapping[str, Motif]


@dataclass(frozen=True, slots=True)
class FillFrame:
    """A filling and its picture; none where there is no room for one."""

    filling: Filling
    picture: Picture | None


def fill(
    library: Path, recipe: Recipe, refill: Refill, sheet: PictureSize
) -> Task[PoolReady | FillFrame]:
    """Fill a field by a recipe, from a library that is opened for it.

    Yields the pool once, then the fillings. Raises what `session.fill_steps` raises.
    """
    from hingeleaf.catalogue.store import Library
    from hingeleaf.panel.rebuild import stencil_of
    from hingeleaf.session import fill_steps
    from hingeleaf_tui.drawing.ink import use_pixels
    from hingeleaf_tui.drawing.panel import PanelPainter

    use_pixels(*sheet.pixels)
    painter: PanelPainter | None = None

    def shown(filled: FilledField) -> PoolReady | FillFrame:
        nonlocal painter
        if painter is None:
            motifs = filled.pool.motifs
            painter = PanelPainter(filled.field, motifs, stencil_of(filled.recipe, filled.field))
        if filled.filling is None:
            return PoolReady(filled.recipe, filled.field, filled.pool.motifs)
        if sheet.columns < 2 or sheet.rows < 2:
            return FillFrame(filled.filling, None)
        picture = painter.paint(filled.placements, sheet.columns, sheet.rows, sheet.ink)
        return FillFrame(filled.filling, picture)

    with Library.open(library, create=False) as opened:
        task: Generator[Progress[PoolReady | FillFrame], None, FilledField]
        steps = fill_steps(
            opened,
            recipe,
            pinned=refill.held,
            region=refill.region,
            exactly=refill.exactly,
            without=refill.without,
        )
        task = map_results(steps, shown, every=OFTEN)
        return shown((yield from task))
