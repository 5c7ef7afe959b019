"""The current panel: recipe, filling and check with undo, and the tasks that compute them."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path

from hingeleaf.catalogue.store import Library
from hingeleaf.fill.evenness import DistanceMap, distance_map, evenness
from hingeleaf.fill.filling import Filling, measure_filling
from hingeleaf.model import Field, Motif, Placement
from hingeleaf.panel.check import Report, to_replace
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.fit_lettering import thickening
from hingeleaf.panel.rebuild import make_panel, rebuild_panel, stencil_of
from hingeleaf.panel.recipe import Recipe, recipe_from_data, recipe_to_data
from hingeleaf.panel.refill import FILL_ALL, PlacedPanel, Refill
from hingeleaf.tasks import Progress, Task, map_results
from hingeleaf_tui import fill_worker
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.panel import PanelPainter
from hingeleaf_tui.fill_worker import PictureSize
from hingeleaf_tui.history import History
from hingeleaf_tui.shared.keep_out import unused_sentences
from hingeleaf_tui.shared.phrases import filling_sentences, font_sentences
from hingeleaf_tui.worker_process import WorkerProcess

IN_THE_FORM = "set Cut out or Centre."


@dataclass(frozen=True, slots=True)
class PanelFilling:
    """A filling with its recipe, field, motifs and painter."""

    recipe: Recipe
    field: Field
    motifs: Mapping[str, Motif]
    painter: PanelPainter
    filling: Filling
    asked: Recipe | None = None
    """The recipe before its cut-out texts were fitted; None if unchanged."""

    @property
    def placed(self) -> PlacedPanel:
        """The panel as input for edits."""
        return PlacedPanel(self.recipe, self.field, self.filling.placements, self.motifs)


@dataclass(frozen=True, slots=True)
class FillProgress:
    """The filling so far, with its picture if already drawn."""

    filled: PanelFilling
    picture: Picture | None


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A composed panel and the findings of its check."""

    panel: Panel
    report: Report
    notes: tuple[str, ...] = ()
    """Sentences about keep-outs that are not cut, and letters set in another face."""


@dataclass(frozen=True, slots=True)
class PanelState:
    """One state of the undo history."""

    recipe: Recipe
    """As shown in the form; the filling may have an older one."""
    name: str = ""
    """The name under which it is saved, or empty."""
    filled: PanelFilling | None = None
    reviewed: Reviewed | None = None
    unsaved: bool = False
    """Whether there is a filling that is neither in the library nor in a file."""


class PanelSession:
    """The current panel, with one history of all its changes.

    `changed` is called after every change, whether it starts a step or amends one.
    """

    def __init__(self, recipe: Recipe, changed: Callable[[], None] = lambda: None) -> None:
        self.history = History(PanelState(recipe))
        self.initial_recipe = recipe
        """The initial recipe, with nothing to lose: a new one, or that of a saved panel."""
        self._changed = changed

    @property
    def state(self) -> PanelState:
        """The current state."""
        return self.history.now

    @property
    def recipe(self) -> Recipe:
        """As shown in the form; the filling may have an older one."""
        return self.state.recipe

    @property
    def name(self) -> str:
        """The name under which it is saved, or empty."""
        return self.state.name

    @property
    def filled(self) -> PanelFilling | None:
        """The filling, if there is one."""
        return self.state.filled

    @property
    def reviewed(self) -> Reviewed | None:
        """The findings of the check, once it is done."""
        return self.state.reviewed

    @property
    def unsaved(self) -> bool:
        """Whether there is a filling that is neither in the library nor in a file."""
        return self.state.unsaved

    @property
    def is_stale(self) -> bool:
        """Whether the recipe was changed after the panel was filled."""
        return self.filled is not None and self.recipe not in (
            self.filled.recipe,
            self.filled.asked,
        )

    @property
    def holds_work(self) -> bool:
        """Whether there is something to lose: an unsaved panel, or a changed recipe."""
        return self.unsaved or self.recipe != self.initial_recipe

    @property
    def placements(self) -> tuple[Placement, ...]:
        """The placements on the panel."""
        return self.filled.filling.placements if self.filled else ()

    def begin_with(self, recipe: Recipe) -> None:
        """Set the initial recipe, before anything was done."""
        self.initial_recipe = recipe
        self._amend(replace(self.state, recipe=recipe))

    def change_recipe(self, recipe: Recipe, label: str) -> None:
        """Change the recipe; successive changes of one value are one step."""
        if recipe == self.recipe:
            return
        what = f"change of {label}"
        state = replace(self.state, recipe=recipe)
        if self.history.last == what and self.history.can_amend:
            self._amend(state)
        else:
            self._step(what, state)

    def begin_fill(self, what: str = "filling") -> None:
        """Remove the filling before a new one; the recipe stays."""
        self._step(what, replace(self.state, filled=None, reviewed=None, unsaved=False))

    def set_result(self, filled: PanelFilling) -> None:
        """Show another filling within the same step, not yet checked."""
        self._amend(replace(self.state, filled=filled, reviewed=None, unsaved=True))

    def set_measured(self, filled: PanelFilling) -> None:
        """Set the same placements with their own quality measures."""
        self._amend(replace(self.state, filled=filled))

    def set_reviewed(self, reviewed: Reviewed) -> None:
        """Set the findings of the check."""
        self._amend(replace(self.state, reviewed=reviewed))

    def arrange(self, what: str, filled: PanelFilling) -> None:
        """Set placements changed by hand, as a step."""
        self._step(what, replace(self.state, filled=filled, reviewed=None, unsaved=True))

    def take_variant(self, filled: PanelFilling) -> None:
        """Continue with the filling of another seed."""
        state = replace(self.state, recipe=filled.recipe, filled=filled, reviewed=None)
        self._step(f"choice of seed {filled.recipe.rules.seed}", replace(state, unsaved=True))

    def open(self, name: str, filled: PanelFilling) -> None:
        """Continue with a saved panel."""
        self.initial_recipe = filled.recipe
        self._step(f"opening of {name}", PanelState(filled.recipe, name, filled))

    def resume(self, state: PanelState) -> None:
        """Continue with the panel of an earlier run."""
        self._step("going on", state)

    def mark_saved(self, name: str | None = None) -> None:
        """Mark it as saved in the library under a name, or in a file."""
        self.initial_recipe = self.filled.recipe if self.filled else self.recipe
        self._amend(replace(self.state, unsaved=False, name=self.name if name is None else name))

    def mark_unsaved(self) -> None:
        """Mark it as unsaved, since its saved copy is gone."""
        self._amend(replace(self.state, unsaved=True))

    def undo(self) -> str:
        """Undo a step; returns its name, empty if there is none."""
        what = self.history.undo()
        self._changed()
        return what

    def redo(self) -> str:
        """Redo a step; returns its name, empty if there is none."""
        what = self.history.redo()
        self._changed()
        return what

    def _step(self, what: str, state: PanelState) -> None:
        self.history.step(what, state)
        self._changed()

    def _amend(self, state: PanelState) -> None:
        self.history.amend(state)
        self._changed()


def fill(
    worker: WorkerProcess,
    library: Path,
    recipe: Recipe,
    refill: Refill,
    size: PictureSize,
) -> Task[FillProgress]:
    """Fill a field by a recipe, in the worker process.

    Raises what `fill_worker.fill` raises, and HingeleafError if the process ended.
    """
    made_from: Callable[..., PanelFilling] | None = None

    def shown(step: fill_worker.PoolReady | fill_worker.FillFrame) -> FillProgress | None:
        nonlocal made_from
        if isinstance(step, fill_worker.PoolReady):
            painter = PanelPainter(step.field, step.motifs, stencil_of(step.recipe, step.field))
            made_from = partial(
                PanelFilling, step.recipe, step.field, step.motifs, painter, asked=recipe
            )
            return None
        assert made_from is not None
        return FillProgress(made_from(filling=step.filling), step.picture)

    task = worker.run(fill_worker.fill, library, recipe, refill, size)
    last = shown((yield from map_results(task, shown)))
    assert last is not None
    return last


def variants(
    worker: WorkerProcess, library: Path, recipe: Recipe, count: int
) -> Task[tuple[PanelFilling, ...]]:
    """Fill a recipe with its own seed and the next ones, one after another.

    Raises what `fill` raises.
    """
    unseen = fill_worker.PictureSize(0, 0, Ink.BRAILLE, Ink.PIXELS.dots)
    found: tuple[PanelFilling, ...] = ()
    for seed in range(recipe.rules.seed, recipe.rules.seed + count):
        one = replace(recipe, rules=replace(recipe.rules, seed=seed))
        task = fill(worker, library, one, FILL_ALL, unseen)
        shown = yield from map_results(task, partial(_instead, found))
        found = (*found, shown.filled)
        yield Progress(len(found), count, f"seed {seed} is filled", found)
    return found


def _instead(found: tuple[PanelFilling, ...], _: FillProgress) -> tuple[PanelFilling, ...]:
    """The variants so far, to show instead of the filling in progress."""
    return found


def from_placements(
    recipe: Recipe, field: Field, motifs: Mapping[str, Motif], placements: Sequence[Placement]
) -> PanelFilling:
    """A filling of given placements, with its quality measures."""
    footprints = [
        each.pose.place(motifs[each.motif].footprint, motifs[each.motif].size)
        for each in placements
    ]
    lifts = [motifs[each.motif].hold.lifts for each in placements]
    gap = recipe.rules.gap
    filling = measure_filling(field.area, placements, footprints, lifts, gap)
    filling = replace(filling, evenness=evenness(field.area, footprints, gap))
    painter = PanelPainter(field, motifs, stencil_of(recipe, field))
    return PanelFilling(recipe, field, motifs, painter, filling)


def with_placements(filled: PanelFilling, placements: Sequence[Placement]) -> PanelFilling:
    """The filling with other placements, immediately; its measures are still the old ones."""
    return replace(filled, filling=replace(filled.filling, placements=tuple(placements)))


def remeasured(filled: PanelFilling, placements: Sequence[Placement]) -> Task[PanelFilling]:
    """The filling with other placements and their own measures."""
    yield Progress(0, 1, "measuring")
    laid = from_placements(filled.recipe, filled.field, filled.motifs, placements)
    return replace(laid, painter=filled.painter, asked=filled.asked)


def fixable(reviewed: Reviewed) -> list[int]:
    """The numbers of the findings that another motif in the place would resolve."""
    going = to_replace(reviewed.panel, reviewed.report).values()
    return [
        number
        for number, finding in enumerate(reviewed.report.findings)
        if any(finding is each for each in going)
    ]


def gap_map(panel: Panel) -> Task[DistanceMap]:
    """The distances of the panel's free paper from motifs."""
    yield Progress(0, 1, "measuring gaps")
    return distance_map(panel.field.area, [piece.footprint for piece in panel.pieces])


def open_saved(library: Library, name: str) -> PanelFilling:
    """A saved panel with its filling. Raises UnknownNameError, CatalogueError, UsageError."""
    panel = rebuild_panel(library, name)
    recipe = recipe_from_data(library.panels.get(name).recipe)
    motifs = {piece.motif.name: piece.motif for piece in panel.pieces}
    return from_placements(recipe, panel.field, motifs, [piece.placement for piece in panel.pieces])


def save(library: Library, name: str, filled: PanelFilling) -> str:
    """Save a panel in the library; returns its short name. Raises LibraryWriteError."""
    placements = filled.filling.placements
    return library.panels.save(name, recipe_to_data(filled.recipe), placements, field=filled.field)


def review(library: Path, name: str, filled: PanelFilling) -> Task[Reviewed]:
    """Compose a panel and check it, including against the library's data on its motifs.

    The library is opened again, in the thread that runs the task.
    """
    from hingeleaf.session import check_steps

    yield Progress(0, 2, "composing the panel")
    placements = filled.filling.placements
    panel = make_panel(name, filled.recipe, filled.field, placements, filled.motifs)
    with Library.open(library, create=False) as opened:
        report = yield from map_results(check_steps(opened, panel), lambda _: None)
    thicker = None if filled.asked is None else thickening(filled.asked, filled.recipe)
    notes = [*filling_sentences(filled.filling, thicker), *font_sentences(filled.recipe)]
    return Reviewed(panel, report, (*unused_sentences(filled.recipe, IN_THE_FORM), *notes))
