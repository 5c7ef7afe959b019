"""Edits of a panel as a refill job: what stays, and where motifs are placed again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from hingeleaf.errors import UsageError

if TYPE_CHECKING:
    from hingeleaf.fill.edits import Edits
    from hingeleaf.geometry.drawable import Area
    from hingeleaf.model import XY, Field, Motif, Placement
    from hingeleaf.panel.check import Report
    from hingeleaf.panel.compose import Panel
    from hingeleaf.panel.recipe import Count, Recipe


@dataclass(frozen=True, slots=True)
class Refill:
    """What stays of a panel, and where and with what motifs it is refilled."""

    held: tuple[Placement, ...] = ()
    """What stays as it is."""
    region: Area | None = None
    """The only area where motifs are placed; None is everywhere."""
    exactly: tuple[Count, ...] = ()
    """Motifs that must stand there so many times, beside what the recipe wants."""
    without: frozenset[str] = frozenset()
    """Motifs that are not placed again."""
    fixed: tuple[str, ...] = ()
    """What is replaced, and why."""


ALL_ANEW = Refill()


@dataclass(frozen=True, slots=True)
class PlacedPanel:
    """The panel that is edited."""

    recipe: Recipe
    field: Field
    placements: Sequence[Placement]
    motifs: Mapping[str, Motif]


def edited(panel: PlacedPanel, edits: Edits, name_of: Callable[[str], str]) -> Refill:
    """What some edits leave, with their pockets; `name_of` finds motifs by what was typed.

    Raises UsageError for edits that cannot be made, and what `name_of` raises.
    """
    from hingeleaf.fill.edits import BEST, apply_edits
    from hingeleaf.panel.recipe import Count

    rules = panel.recipe.rules
    if rules.symmetric:
        raise UsageError(
            "The panel is symmetric: an edit of one motif would leave its mirror image.",
            "Pin what is to stay and fill it again, or fill it without symmetry.",
        )
    done = apply_edits(
        panel.placements, edits, panel.motifs, panel.field, gap=rules.gap, margin=rules.margin
    )
    stand = Counter(each.motif for each in done.placements)
    wanted = Counter(name_of(name) for _, name in edits.swap if name != BEST)
    gone = {panel.placements[number - 1].motif for number, name in edits.swap if name == BEST}
    return Refill(
        done.placements,
        done.pocket,
        tuple(Count(name, stand[name] + times) for name, times in wanted.items()),
        frozenset(gone),
    )


def fixed(panel: PlacedPanel, composed: Panel, report: Report) -> Refill:
    """Other motifs in place of those that have a fault.

    Raises UsageError where no fault is of a kind that another motif need not have.
    """
    from hingeleaf.fill.edits import Edits
    from hingeleaf.panel.mending import to_replace

    going = to_replace(composed, report)
    if not going:
        raise UsageError(
            f"{composed.name} has no fault that another motif could fix.",
            "The check says what else can be done about each.",
        )
    refill = edited(panel, Edits(drop=tuple(going)), lambda name: name)
    fixed = [
        f"Replaced {panel.placements[number - 1].motif} ({number}): {finding.message}"
        for number, finding in going.items()
    ]
    gone = frozenset(panel.placements[number - 1].motif for number in going)
    return replace(refill, fixed=tuple(fixed), without=gone)


def circle(panel: PlacedPanel, at: XY, within: float) -> Refill:
    """Refill all that lies wholly within so many mm of a place of the field and is not pinned.

    Raises UsageError for a circle that holds nothing of the field.
    """
    from hingeleaf.fill.partial_fill import refill_region, staying

    symmetric = panel.recipe.rules.symmetric
    region = refill_region(panel.field, at, within, symmetric=symmetric)
    return Refill(staying(panel.placements, panel.motifs, region), region)
