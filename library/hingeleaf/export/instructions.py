"""Texts of an assembly page: materials, steps, warnings and credits."""

from __future__ import annotations

import math
from collections.abc import Sequence

from hingeleaf.model import Finding, Source
from hingeleaf.panel.cautions import cautions
from hingeleaf.panel.check import Report
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.findings import grouped
from hingeleaf.panel.folding import CLEARANCE
from hingeleaf.panel.lifting import Raised
from hingeleaf.panel.weak_places import DAMP
from hingeleaf.units import format_mm, format_size

Block = tuple[str, list[str]]
"""A title and its paragraphs."""


def blocks(panel: Panel, flaps: Sequence[Raised], report: Report | None) -> list[Block]:
    """All blocks, for a panel with these flaps to be raised."""
    highest = max((flap.lift_range[1] for flap in flaps), default=None)
    return [
        ("You need", _needs(panel, highest)),
        ("What to do", _doing(panel, flaps)),
        ("Mind", _cautions(panel, flaps, report)),
        ("Whose work this is", credit_lines(panel)),
    ]


def _needs(panel: Panel, highest: float | None) -> list[str]:
    frame = panel.frame
    needs = [
        f"One sheet of {panel.card.grammage:g} g/m² card, {format_size(panel.size)}.",
        "A backing sheet in another colour, to show through the openings.",
    ]
    if highest is not None:
        needs.append("A ruler, and something blunt to press the folds with.")
    if frame.depth is not None:
        needs.append(f"A frame with {format_mm(frame.depth)} between sheet and glass.")
    elif highest is not None:
        room = format_mm(math.ceil(highest + CLEARANCE))
        needs.append(f"A frame with at least {room} between sheet and glass.")
    if frame.rebate:
        needs.append(f"The frame covers {format_mm(frame.rebate)} of every edge.")
    return needs


def _doing(panel: Panel, flaps: Sequence[Raised]) -> list[str]:
    doing = [
        "Cut: folds first, then slits and windows, the edge last.",
        "Lift the sheet off and press out what is left in the windows.",
    ]
    if flaps:
        first = flaps[0]
        doing += [
            "Lay it front side up, as on the plan. Fold the flaps in the order of their numbers, "
            "from the far side towards you, so that your hand never lies on one that is up.",
            "For each: lay the ruler along the dashed line, lift the edge that the arrow points "
            "to, and fold the flap as far as the table says: paper springs back for days. "
            f"Folded to {first.folded:.0f}°, it will rest near {first.opening:.0f}°.",
        ]
    if not panel.outline.is_empty:
        doing.append(
            "The outline hangs in the sheet on short ties: leave them, or cut them by hand, last "
            "of all, to take it out."
        )
    doing.append("Put the backing behind it and frame it.")
    return [f"{number}.  {words}" for number, words in enumerate(doing, start=1)]


def _cautions(panel: Panel, flaps: Sequence[Raised], report: Report | None) -> list[str]:
    notes = list(cautions(panel.cuts, flaps))
    if flaps:
        notes.append("Raised flaps crush easily: carry the sheet by its edges.")
    notes.append(DAMP)
    if report is not None and report.narrowest is not None:
        notes.append(f"The narrowest paper is {format_mm(report.narrowest)} wide.")
    if report is not None:
        notes.extend(_first_of_each(report.faults))
    return notes


def _first_of_each(faults: Sequence[Finding]) -> list[str]:
    return [
        f"The check found: {first.message}" + (f" And {len(more)} more like it." if more else "")
        for first, *more in grouped(faults)
    ]


def credit_lines(panel: Panel) -> list[str]:
    """Every source once, with all that came from it."""
    titles: dict[str, set[str]] = {}
    for piece in panel.pieces:
        source = piece.motif.source
        titles.setdefault(_credit(source), set()).add(source.title or piece.motif.name)
    return [f"{', '.join(sorted(names))}: {credit}." for credit, names in sorted(titles.items())]


def _credit(source: Source) -> str:
    if source.credit:
        return source.credit.rstrip(".")
    facts = [f"by {source.maker}" if source.maker else "", source.licence]
    return ", ".join(fact for fact in facts if fact) or "source not noted"
