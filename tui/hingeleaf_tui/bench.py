"""The panel at work: from a recipe to a filling, a check and a file.

The functions are tasks for jobs; the class keeps what the screens show.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf.tasks import Progress, Task, seen_as

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.fill.filling import Filling
    from hingeleaf.model import Field, Motif, Placement
    from hingeleaf.panel.check import Report
    from hingeleaf.panel.compose import Panel
    from hingeleaf.panel.recipe import Recipe
    from hingeleaf_tui.apart import Apart
    from hingeleaf_tui.drawing.canvas import Picture
    from hingeleaf_tui.drawing.panel import PanelPainter
    from hingeleaf_tui.filling import Sheet


IN_THE_FORM = "set Cut out or Place."


@dataclass(frozen=True, slots=True)
class Filled:
    """A filling with all that it was made from."""

    recipe: Recipe
    field: Field
    motifs: Mapping[str, Motif]
    painter: PanelPainter
    filling: Filling


@dataclass(frozen=True, slots=True)
class Shown:
    """What was filled so far, with a picture where it was drawn already."""

    filled: Filled
    picture: Picture | None


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A composed panel and what its check found."""

    panel: Panel
    report: Report
    idle: tuple[str, ...] = ()
    """What is kept free where no motif goes, and is not cut either, in sentences."""


@dataclass
class Bench:
    """What is on the bench now."""

    recipe: Recipe
    """As the form shows it; the filling may be of an older one."""
    name: str = ""
    """The name it is kept under, if it is."""
    filled: Filled | None = None
    reviewed: Reviewed | None = None
    unsaved: bool = False
    """Whether there is a filling that no panel of the library and no file holds."""

    def clear(self) -> None:
        """Take the filling off; the recipe stays."""
        self.filled = self.reviewed = None
        self.unsaved = False

    def put(self, filled: Filled) -> None:
        """Lay another filling on the bench, not yet checked."""
        self.filled, self.reviewed, self.unsaved = filled, None, True

    @property
    def placements(self) -> tuple[Placement, ...]:
        """What stands on the panel."""
        return self.filled.filling.placements if self.filled else ()


def fill(
    apart: Apart, library: Path, recipe: Recipe, pinned: Sequence[Placement], sheet: Sheet
) -> Task[Shown]:
    """Fill a field by a recipe, in the process for tasks.

    Raises what `filling.fill` raises, and HingeleafError where the process ended under it.
    """
    from hingeleaf.panel.recall import stencil_of
    from hingeleaf_tui import filling
    from hingeleaf_tui.drawing.panel import PanelPainter

    made_from: Callable[[Filling], Filled] | None = None

    def shown(told: filling.Gathered | filling.Drawn) -> Shown | None:
        nonlocal made_from
        if isinstance(told, filling.Gathered):
            painter = PanelPainter(told.field, told.motifs, stencil_of(recipe, told.field))
            made_from = partial(Filled, recipe, told.field, told.motifs, painter)
            return None
        assert made_from is not None
        return Shown(made_from(told.filling), told.picture)

    task = apart.run(filling.fill, library, recipe, pinned, sheet)
    last = shown((yield from seen_as(task, shown)))
    assert last is not None
    return last


def lay(
    recipe: Recipe, field: Field, motifs: Mapping[str, Motif], placements: Sequence[Placement]
) -> Filled:
    """Placements as a filling, with the figures that tell how good it is."""
    from hingeleaf.fill.filling import measure, with_evenness
    from hingeleaf.panel.recall import stencil_of
    from hingeleaf_tui.drawing.panel import PanelPainter

    footprints = [
        each.pose.place(motifs[each.motif].footprint, motifs[each.motif].size)
        for each in placements
    ]
    lifts = [motifs[each.motif].hold.lifts for each in placements]
    gap = recipe.rules.gap
    filling = measure(field.area, placements, footprints, lifts, gap)
    filling = with_evenness(filling, field.area, footprints, gap)
    painter = PanelPainter(field, motifs, stencil_of(recipe, field))
    return Filled(recipe, field, motifs, painter, filling)


def with_placements(filled: Filled, placements: Sequence[Placement]) -> Filled:
    """Other placements at once; their figures are still those of before."""
    return replace(filled, filling=replace(filled.filling, placements=tuple(placements)))


def measure(filled: Filled, placements: Sequence[Placement]) -> Task[Filled]:
    """Other placements with their own figures."""
    yield Progress(0, 1, "measuring")
    laid = lay(filled.recipe, filled.field, filled.motifs, placements)
    return replace(laid, painter=filled.painter)


def reopen(library: Library, name: str) -> Filled:
    """A kept panel as it was. Raises UnknownNameError, CatalogueError, UsageError."""
    from hingeleaf.panel.recall import recall
    from hingeleaf.panel.recipe import recipe_from_data

    panel = recall(library, name)
    recipe = recipe_from_data(library.panel(name).recipe)
    motifs = {piece.motif.name: piece.motif for piece in panel.pieces}
    return lay(recipe, panel.field, motifs, [piece.placement for piece in panel.pieces])


def keep(library: Library, name: str, filled: Filled) -> str:
    """Keep a panel in the library; the short name that it got. Raises LibraryWriteError."""
    from hingeleaf.panel.recipe import recipe_to_data

    placements = filled.filling.placements
    return library.save_panel(name, recipe_to_data(filled.recipe), placements, field=filled.field)


def review(library: Path, name: str, filled: Filled) -> Task[Reviewed]:
    """Compose a panel and check it against all that the library knows of its motifs.

    The library is opened anew, in whatever thread runs the task.
    """
    from hingeleaf.catalogue.store import Library
    from hingeleaf.panel.recall import make_panel
    from hingeleaf.workshop import check_panel
    from hingeleaf_tui.commands.kept_free import idle_sentences

    yield Progress(0, 2, "composing the panel")
    placements = filled.filling.placements
    panel = make_panel(name, filled.recipe, filled.field, placements, filled.motifs)
    with Library.open(library, create=False) as opened:
        report = yield from seen_as(check_panel(opened, panel), lambda _: None)
    return Reviewed(panel, report, tuple(idle_sentences(filled.recipe, IN_THE_FORM)))
