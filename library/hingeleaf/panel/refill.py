"""Convert edits of a panel to a refill: what stays, and where motifs are placed again."""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from hingeleaf.errors import UsageError

if TYPE_CHECKING:
    from hingeleaf.fill.options import Edits
    from hingeleaf.geometry.silhouette import Area
    from hingeleaf.model import XY, Field, Motif, Placement
    from hingeleaf.panel.check import Report
    from hingeleaf.panel.compose import Panel
    from hingeleaf.panel.recipe import Count, Recipe


@dataclass(frozen=True, slots=True)
class Refill:
    """What stays of a panel, and where and with which motifs it is refilled."""

    held: tuple[Placement, ...] = ()
    """Placements that stay."""
    region: Area | None = None
    """The only area where motifs are placed; None means everywhere."""
    exactly: tuple[Count, ...] = ()
    """Exact numbers of motifs, in addition to those of the recipe."""
    without: frozenset[str] = frozenset()
    """Motifs that are not placed again."""
    fixed: tuple[str, ...] = ()
    """Replaced placements, with reasons."""


FILL_ALL = Refill()


@dataclass(frozen=True, slots=True)
class PlacedPanel:
    """The panel that is edited."""

    recipe: Recipe
    field: Field
    placements: Sequence[Placement]
    motifs: Mapping[str, Motif]


def refill_of_edits(panel: PlacedPanel, edits: Edits, name_of: Callable[[str], str]) -> Refill:
    """The refill for some edits, with the gaps that they leave; `name_of` finds motifs by typed
    name.

    Raises UsageError for edits that cannot be made, and what `name_of` raises.
    """
    from hingeleaf.fill.edits import apply_edits
    from hingeleaf.fill.options import BEST
    from hingeleaf.panel.recipe import Count

    rules = panel.recipe.rules
    if rules.symmetric:
        raise UsageError(
            "The panel is symmetric: an edit of one motif would leave its mirror image.",
            "Pin the motifs to keep and fill it again, or fill it without symmetry.",
        )
    done = apply_edits(
        panel.placements, edits, panel.motifs, panel.field, gap=rules.gap, margin=rules.margin
    )
    stand = Counter(each.motif for each in done.placements)
    wanted = Counter(name_of(each.motif) for each in edits.swap if each.motif != BEST)
    gone = {panel.placements[each.number - 1].motif for each in edits.swap if each.motif == BEST}
    return Refill(
        done.placements,
        done.pocket,
        tuple(Count(name, stand[name] + times) for name, times in wanted.items()),
        frozenset(gone),
    )


def refill_of_findings(panel: PlacedPanel, composed: Panel, report: Report) -> Refill:
    """The refill that replaces motifs that have a fault.

    Raises UsageError if no fault is of a kind that another motif may not have.
    """
    from hingeleaf.fill.options import Edits
    from hingeleaf.panel.check import to_replace

    faulty = to_replace(composed, report)
    if not faulty:
        raise UsageError(
            f"{composed.name} has no fault that another motif could fix.",
            "The check lists remedies for each fault.",
        )
    refill = refill_of_edits(panel, Edits(drop=tuple(faulty)), lambda name: name)
    fixed = [
        f"Replaced {panel.placements[number - 1].motif} ({number}): {finding.message}"
        for number, finding in faulty.items()
    ]
    gone = frozenset(panel.placements[number - 1].motif for number in faulty)
    return replace(refill, fixed=tuple(fixed), without=gone)


def refill_of_circle(panel: PlacedPanel, at: XY, within: float) -> Refill:
    """Refill everything wholly within `within` mm of a point of the field that is not pinned.

    Raises UsageError if the circle contains no part of the field.
    """
    from hingeleaf.fill.partial_fill import refill_region, staying

    symmetric = panel.recipe.rules.symmetric
    region = refill_region(panel.field, at, within, symmetric=symmetric)
    return Refill(staying(panel.placements, panel.motifs, region), region)
