"""The panel at work: from a recipe to a field, a pool, a filling, a check and a file.

The functions here call the library and are meant for jobs; the class keeps what the screens show.
"""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from hingeleaf_tui.recipe import BUILT_IN, Recipe

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.fill.filling import Filling
    from hingeleaf.fill.pool import PoolItem
    from hingeleaf.model import Card, Field, Motif, Placement
    from hingeleaf.panel.check import Report
    from hingeleaf.panel.compose import Panel
    from hingeleaf.tasks import Task
    from hingeleaf_tui.drawing.panel import PanelPainter


@dataclass(frozen=True, slots=True)
class Pool:
    """What a panel may be filled with."""

    items: tuple[PoolItem, ...]
    motifs: Mapping[str, Motif]
    card: Card


@dataclass(frozen=True, slots=True)
class Reviewed:
    """A composed panel and what its check found."""

    panel: Panel
    report: Report


@dataclass
class Bench:
    """What is on the bench now: every part is None until it is made."""

    recipe: Recipe
    name: str = ""
    """The name it is kept under, if it is."""
    field: Field | None = None
    pool: Pool | None = None
    filling: Filling | None = None
    reviewed: Reviewed | None = None
    painter: PanelPainter | None = None
    unsaved: bool = False
    """Whether there is a filling that no panel of the library and no file holds."""

    def clear(self) -> None:
        """Take the filling off; the recipe stays."""
        self.field = self.pool = self.filling = self.reviewed = self.painter = None
        self.unsaved = False

    @property
    def placements(self) -> tuple[Placement, ...]:
        """What stands on the panel."""
        return self.filling.placements if self.filling else ()


def title(recipe: Recipe) -> str:
    """A short name for a panel made by a recipe, fit for a file: `letter-b-200mm`."""
    if recipe.kind in ("letter", "word"):
        words = f"{recipe.kind} {recipe.text} {recipe.height:g}mm"
    else:
        kind = recipe.shape if recipe.kind == "shape" else recipe.kind
        words = f"{kind} {recipe.outer[0]:g}x{recipe.outer[1]:g}mm"
    return "-".join(re.findall(r"[\w.]+", words.lower()))


def make_field(recipe: Recipe) -> Field:
    """The field of a recipe. Raises FieldError, FontError or UsageError."""
    from hingeleaf.field.frames import border_field
    from hingeleaf.field.letters import Lettering, letter_field, word_field
    from hingeleaf.field.outlines import outline_field
    from hingeleaf.field.shapes import Outline, outline_shape

    cut = recipe.outline
    if recipe.kind == "border":
        return border_field(recipe.outer, recipe.inner, cut_outline=cut)
    if recipe.kind == "shape":
        shape = outline_shape(Outline(recipe.shape), *recipe.outer)
        from shapely import MultiPolygon

        return outline_field(MultiPolygon([shape]), label=recipe.shape, cut_outline=cut)
    font = None if recipe.font == BUILT_IN else _font(recipe.font)
    if recipe.kind == "letter":
        return letter_field(recipe.text, recipe.height, font=font, cut_outline=cut)
    return word_field(recipe.text, Lettering(recipe.height, font=font), cut_outline=cut)


def find_card(library: Library, name: str) -> Card:
    """A card of the user's own, or one of the usual ones. Raises UnknownNameError."""
    from hingeleaf.paper.cards import PRESETS

    own = {card.name: card for card in library.cards()}
    return own[name] if name in own else PRESETS.get(name) or library.card(name)


def gather(library: Library, recipe: Recipe) -> Pool:
    """The motifs of a recipe's query, each with the sizes that recipe and card leave it.

    Raises QueryError, UnknownNameError, or UsageError where no motif is found.
    """
    from hingeleaf.errors import UsageError
    from hingeleaf.fill.pool import PoolItem
    from hingeleaf.model import HoldStyle, SizeRange

    found = library.motifs(recipe.motifs)
    if not found:
        raise UsageError("No motif is found to fill with.", "Choose other motifs.")
    sizes = SizeRange(recipe.smallest, recipe.largest)
    items = [
        PoolItem(
            name=motif.name,
            revision=motif.revision,
            footprint=motif.footprint,
            drawn_size=motif.size,
            sizes=sizes,
            turn_limit=motif.turn_limit,
            may_mirror=motif.may_mirror,
            lifts=motif.hold not in (HoldStyle.RIGID, HoldStyle.FLAT),
        )
        for motif in found
    ]
    card = find_card(library, recipe.card)
    return Pool(tuple(items), {motif.name: motif for motif in found}, card)


def fill(recipe: Recipe, field: Field, pool: Pool, pinned: Sequence[Placement]) -> Task[Filling]:
    """Fill a field by a recipe. Raises FieldTooSmallError or UsageError."""
    from hingeleaf.fill import filler
    from hingeleaf.fill.rules import Budget, Rules

    rules = Rules(gap=recipe.gap, seed=recipe.seed, budget=Budget(recipe.budget))
    return filler.fill(field, pool.items, rules, pinned=pinned)


def review(
    recipe: Recipe, name: str, field: Field, placements: Sequence[Placement], pool: Pool
) -> Task[Reviewed]:
    """Compose a panel and check it."""
    from hingeleaf.panel.check import check
    from hingeleaf.panel.compose import compose
    from hingeleaf.tasks import Progress

    yield Progress(0, 2, "composing the panel")
    panel = compose(name, field, placements, pool.motifs, pool.card, cut_outline=recipe.outline)
    yield Progress(1, 2, "checking that everything holds")
    return Reviewed(panel, check(panel))


def write(panel: Panel, target: Path) -> Task[Path]:
    """Write a panel as a cut file at true size. Raises ExportError."""
    from hingeleaf.export.svg import write_svg
    from hingeleaf.tasks import Progress

    yield Progress(0, 1, f"writing {target.name}")
    write_svg(panel, target)
    return target


def _font(name: str):  # type: ignore[no-untyped-def]
    from hingeleaf.field.fonts import find_font

    return find_font(name)
