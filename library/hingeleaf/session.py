"""Public functions: open a library, read a drawing, plan bridges, fill, check and write.

Commands, screens and Python code all use these. For long work there is also a generator whose name
ends in `_steps`: it yields progress with intermediate results, and stops when it is closed.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import shapely

from hingeleaf.errors import FieldError, LibraryMovedError, LibraryWriteError
from hingeleaf.field.specs import FieldSpec, build_field
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.options import Budget
from hingeleaf.fill.pool import PoolItem
from hingeleaf.hold import PlanRequest
from hingeleaf.model import Card, Field, HoldStyle, Motif, Placement, Pose
from hingeleaf.motif_pool import Pool, gather, sizes_on_card
from hingeleaf.panel.check import Report, check
from hingeleaf.panel.compose import Panel, sheet_around
from hingeleaf.panel.contradictions import refuse_contradictions
from hingeleaf.panel.demands import Demands
from hingeleaf.panel.fit_lettering import fit_recipe
from hingeleaf.panel.flap_collisions import motifs_to_replace
from hingeleaf.panel.folding import holds_bent
from hingeleaf.panel.piece_checks import refuse_small_sheet
from hingeleaf.panel.rebuild import make_panel
from hingeleaf.panel.recipe import Recipe, check_names, make_recipe, recipe_to_data
from hingeleaf.panel.refill import FILL_ALL, Refill
from hingeleaf.panel.tiling import with_free_seams
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.tasks import Progress, Task, finish, map_results

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library

MAX_FLAP_ROUNDS = 3
"""How often motifs whose flaps hit others' are replaced by others, at most."""
ProgressCallback = Callable[[Progress[Any]], None]
"""Called at every step of long work."""


@dataclass(frozen=True, slots=True)
class FilledField:
    """A field that is being filled by a recipe; `filling` is None before the first placement."""

    recipe: Recipe
    field: Field
    pool: Pool
    filling: Filling | None = None

    @property
    def placements(self) -> tuple[Placement, ...]:
        """The placements in the field."""
        return self.filling.placements if self.filling else ()

    def panel(self, name: str = "panel") -> Panel:
        """The panel with its cut geometry. Raises what `compose` raises."""
        return make_panel(name, self.recipe, self.field, self.placements, self.pool.motifs)


@dataclass(frozen=True, slots=True)
class SavedPanel:
    """How a panel was saved."""

    name: str = ""
    """Its short name in the library; empty if it is not in the library."""
    replaced: bool = False
    """Whether it replaced a saved panel of that name."""
    aside: Path | None = None
    """The file to which it was saved because the library could not be written."""
    refusal: str = ""
    """Why the library could not be written."""


NOT_SAVED = SavedPanel()


def open_library(file: str | Path, *, create: bool = True) -> Library:
    """Open a library file, or create one.

    Parameters:
        file: The path of the file.
        create: Whether to create the file if it does not exist.

    Returns:
        The library; use it in a `with` statement, or call its `close()`.

    Raises:
        CatalogueError: The file is not a library, is damaged, or was written by a newer program.

    >>> library = open_library(folder / "workshop.db")
    >>> library.names()
    []
    """
    from hingeleaf.catalogue.store import Library

    return Library.open(Path(file), create=create)


def read_drawing(file: str | Path, **options: Any) -> Motif:
    """Read a drawing (SVG, DXF, PNG or JPEG) as a motif without bridges.

    Parameters:
        file: The drawing.
        options: What is cut and how large, as in `Preparation`: `size` in mm, `border` …

    Returns:
        The motif, named after the file.

    Raises:
        ArtworkError: The file is missing, not a drawing, hostile, or has nothing to cut.
        UsageError: An option is unknown or out of its bounds.

    >>> motif = read_drawing(folder / "kite.svg", size=60)
    >>> motif.name, motif.size, len(motif.bridges)
    ('kite', 60.0, 0)
    """
    from hingeleaf.adding import motif_without_bridges, prepare_drawing
    from hingeleaf.artwork.preparation_options import Preparation
    from hingeleaf.artwork.reading import load_artwork_bytes
    from hingeleaf.import_options import ImportOptions

    check_names(options, Preparation.__dataclass_fields__)
    choices = ImportOptions(DEFAULT, Preparation(**options))
    path = Path(file)
    return motif_without_bridges(
        prepare_drawing(load_artwork_bytes(path), path, choices), path, choices
    )


def plan_bridges(
    motif: Motif,
    *,
    card: Card = DEFAULT,
    hold: str | HoldStyle | None = None,
    **options: Any,
) -> Motif:
    """Plan the bridges of a motif; those set by hand stay.

    Parameters:
        motif: As returned by `read_drawing` or a library.
        card: The card to cut it from.
        hold: The hold style; None selects the one that suits the motif best.
        options: As in `PlanRequest`: `width` in mm, `hinge`, `ties`.

    Returns:
        The motif with its bridges.

    Raises:
        UsageError: There is no such hold style, or an option is unknown or out of its bounds.

    >>> kite = plan_bridges(read_drawing(folder / "kite.svg", size=60), hold="spine")
    >>> str(kite.hold), len(kite.bridges)
    ('spine', 2)
    """
    from hingeleaf.paper.plan_comparison import requested_plan

    check_names(options, PlanRequest.__dataclass_fields__)
    request = PlanRequest(hold, **options)  # type: ignore[arg-type]  # a text names its style
    return requested_plan(motif, card, request).applied(motif)


def fill_panel(
    library: Library,
    field: FieldSpec | Recipe,
    *,
    name: str = "panel",
    progress: ProgressCallback | None = None,
    **options: Any,
) -> Panel:
    """Fill a field with motifs of a library.

    Parameters:
        library: The library of motifs.
        field: The field to fill, such as `letter("B")`; or a whole recipe.
        name: The name of the panel.
        progress: Called at every step; `progress.so_far` is the result so far.
        options: As in `make_recipe`.

    Returns:
        The panel, ready to be checked and written.

    Raises:
        UsageError: An option is invalid, or no motif is left to fill with.
        FieldError: The field cannot be made, or no motif fits into it.

    >>> library.add(plan_bridges(read_drawing(folder / "kite.svg", size=60), hold="flat"))
    'kite'
    >>> panel = fill_panel(library, letter("L", height=140), budget="quick", seed=7)
    >>> len(panel.pieces) > 3
    True
    """
    recipe = make_recipe(field, **options)
    return finish(fill_steps(library, recipe), progress).panel(name)


def fill_steps(
    library: Library,
    recipe: Recipe,
    *,
    field: Field | None = None,
    pool: Pool | None = None,
    refill: Refill = FILL_ALL,
) -> Task[FilledField]:
    """Fill a field by a recipe, step by step.

    Parameters:
        library: The library of motifs.
        recipe: What to fill, with what and how.
        field: The recipe's field, if already built.
        pool: The recipe's motifs, if already gathered.
        refill: What stays of a filled panel, and where and with what it is filled again.

    Returns:
        A generator that yields the result so far at each step; the first has no filling yet.

    Raises:
        UsageError: No motif is left to fill with.
        FieldError: The field cannot be made, or no motif fits into it.
    """
    from hingeleaf.fill.edits import apply_edits
    from hingeleaf.fill.filler import fill
    from hingeleaf.fill.options import Edits

    if field is None:
        recipe = fit_recipe(recipe)
    made = make_field(recipe) if field is None else field
    if pool is None:
        choice = replace(recipe.choice, exactly=(*recipe.choice.exactly, *refill.exactly))
        wanted = replace(recipe, choice=choice)
        pool = yield from map_results(gather(library, wanted, pinned=refill.held), lambda _: None)
    if refill.without:
        pool = pool.without(refill.without)
    motifs, region = pool.motifs, refill.region
    held = [(each, motifs[each.motif]) for each in refill.held if each.motif in motifs]
    refuse_contradictions(recipe, made, pool.items, held)
    unfilled = FilledField(recipe, made, pool)
    yield Progress(0, 1, "getting ready", unfilled)
    rules = recipe.rules if region is None else replace(recipe.rules, region=region)
    card, depth = recipe.card, recipe.frame.depth

    def holds(item: PoolItem, pose: Pose) -> bool:
        return holds_bent(motifs[item.name], pose, card, depth)

    def shown(filling: Filling) -> FilledField:
        return replace(unfilled, filling=filling)

    task = fill(made, pool.items, rules, pinned=refill.held, holds=holds)
    filling = yield from map_results(task, shown)
    for _ in range(MAX_FLAP_ROUNDS):
        colliding = motifs_to_replace(filling.placements, motifs, card, both=rules.symmetric)
        if not colliding:
            break
        names = {filling.placements[number - 1].motif for number in colliding}
        others = {item.name for item in pool.items if item.weight > 0} - names
        items = pool.without(names).items if others else pool.items
        drop = Edits(drop=tuple(colliding))
        left = apply_edits(
            filling.placements, drop, motifs, made, gap=rules.gap, margin=rules.margin
        )
        pocket = left.pocket if region is None else shapely.intersection(left.pocket, region)
        again = replace(rules, region=pocket, budget=Budget.DRAFT, seconds=None)
        task = fill(made, items, again, pinned=left.placements, holds=holds)
        seconds_before = filling.seconds
        filling = yield from map_results(task, shown)
        filling = replace(filling, seconds=seconds_before + filling.seconds)
    return shown(filling)


def save_panel(library: Library, name: str, filled: FilledField) -> SavedPanel:
    """Save a filled field as a panel, replacing one of that name (undo restores it).

    A panel that the library cannot store now is written to a file beside it. Raises UsageError for
    a name without letter or digit, UnknownNameError for a motif that is not in the library.
    """
    replaced = bool(library.panels.taken(name))
    panel = name, recipe_to_data(filled.recipe), filled.placements
    try:
        return SavedPanel(library.panels.save(*panel, field=filled.field), replaced)
    except LibraryMovedError as error:
        return SavedPanel(aside=error.copy, refusal=str(error))
    except LibraryWriteError as error:
        aside = library.rescue_panel(*panel, field=filled.field)
        remedy = f"The panel was saved in {aside}: `hingeleaf restore {aside}` adds it."
        return SavedPanel(aside=aside, refusal=f"{error.message} {remedy}")


def check_panel(
    library: Library, panel: Panel, *, progress: ProgressCallback | None = None, **how: Any
) -> Report:
    """Check a panel before it is cut.

    Parameters:
        library: The library with the motifs, their test cuts and their licences.
        panel: As returned by `fill_panel`.
        progress: Called at every step.
        how: As in `Demands` (hingeleaf.panel.demands), such as `opening` in degrees.

    Returns:
        The report: `holds`, `loose_parts`, `narrowest`, `findings`.

    >>> check_panel(library, panel).holds
    True
    """
    return finish(check_steps(library, panel, Demands(**how)), progress)


def check_steps(library: Library, panel: Panel, demands: Demands | None = None) -> Task[Report]:
    """Check a panel, including against the library's data about its motifs, step by step.

    Those are the sizes that geometry and trials allow on the panel's card, and the number of copies
    already cut with motifs whose licence limits it. For a panel that has been cut, no further
    copies are assumed unless requested.
    """
    motifs = {piece.motif.name: piece.motif for piece in panel.pieces}
    computed = yield from sizes_on_card(library, list(motifs.values()), panel.card)
    proven = {
        name: sizes
        for name, motif in motifs.items()
        if (sizes := library.trials.proven_range(name, panel.card.name, motif.revision))
    }
    yield Progress(1, 1, "checking that everything holds")
    return check(
        panel,
        demands or Demands(),
        computed=computed,
        proven=proven,
        copies_made=library.done.copies_by_motif(motifs),
        copies=0 if library.done.copies(panel.name) else 1,
    )


def write_panel(panel: Panel, target: str | Path) -> Path:
    """Write a panel to a cut file at true size.

    Parameters:
        panel: As returned by `fill_panel`.
        target: The file; its extension selects the format: svg, dxf, pdf, plt or png.

    Returns:
        The file.

    Raises:
        ExportError: The extension is not one of these, or the file cannot be written.

    >>> write_panel(panel, folder / "l.svg").name
    'l.svg'
    """
    from hingeleaf.export import writing

    file = Path(target)
    writing.write_panel(panel, file)
    return file


def make_field(recipe: Recipe) -> Field:
    """The field that a recipe is for.

    Raises FieldError, FontError or UsageError, also if it should be filled symmetrically but has no
    mirror axis, or if it does not fit on the sheet.
    """
    field = build_field(recipe.field, recipe.keep_outs, cut_outline=recipe.outlined)
    if recipe.rules.symmetric and field.axis is None:
        raise FieldError(
            f"{field.label} has no upright mirror axis, so it cannot be filled symmetrically.",
            "Fill it freely, or choose a symmetric field.",
        )
    refuse_small_sheet(field, recipe.sheet, recipe.frame.rebate)
    if recipe.tile is None:
        return field
    edge = recipe.rules.gap if recipe.rules.edge is None else recipe.rules.edge
    sheet = sheet_around(field, recipe.sheet, recipe.margin)
    return with_free_seams(field, sheet, recipe.tile, clearance=recipe.card.least_web - edge)
