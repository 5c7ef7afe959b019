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
    from hingeleaf.panel.refill import Refill
    from hingeleaf.session import FilledField
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.ink import Ink

MODULES = (
    "hingeleaf.session",
    "hingeleaf_tui.drawing.panel",
    *KERNELS,
    "hingeleaf.fill.solver",
)
"""Modules needed for a filling that are slow to load."""

FRAME_INTERVAL = 0.06
"""Least seconds between two fillings shown; faster changes would not be seen."""


@dataclass(frozen=True, slots=True)
class PictureSize:
    """Size of a picture in characters, and its ink."""

    columns: int
    rows: int
    ink: Ink
    pixels: tuple[int, int]
    """Pixels per character, if drawn in pixels."""


@dataclass(frozen=True, slots=True)
class PoolReady:
    """The field and the motif pool, before the first filling."""

    recipe: Recipe
    """The recipe with cut-out texts fitted so that they hold."""
    field: Field
    motifs: Mapping[str, Motif]


@dataclass(frozen=True, slots=True)
class FillFrame:
    """A filling and its picture; None if there is no space for one."""

    filling: Filling
    picture: Picture | None


def fill(
    library: Path, recipe: Recipe, refill: Refill, size: PictureSize
) -> Task[PoolReady | FillFrame]:
    """Fill a field by a recipe, opening the library for it.

    Yields the pool once, then fillings. Raises what `session.fill_steps` raises.
    """
    from hingeleaf.catalogue.store import Library
    from hingeleaf.panel.rebuild import stencil_of
    from hingeleaf.session import fill_steps
    from hingeleaf_tui.drawing.ink import use_pixels
    from hingeleaf_tui.drawing.panel import PanelPainter

    use_pixels(*size.pixels)
    painter: PanelPainter | None = None

    def shown(filled: FilledField) -> PoolReady | FillFrame:
        nonlocal painter
        if painter is None:
            motifs = filled.pool.motifs
            painter = PanelPainter(filled.field, motifs, stencil_of(filled.recipe, filled.field))
        if filled.filling is None:
            return PoolReady(filled.recipe, filled.field, filled.pool.motifs)
        if size.columns < 2 or size.rows < 2:
            return FillFrame(filled.filling, None)
        picture = painter.paint(filled.placements, size.columns, size.rows, size.ink)
        return FillFrame(filled.filling, picture)

    with Library.open(library, create=False) as opened:
        task: Generator[Progress[PoolReady | FillFrame], None, FilledField]
        task = map_results(fill_steps(opened, recipe, refill=refill), shown, every=FRAME_INTERVAL)
        return shown((yield from task))
