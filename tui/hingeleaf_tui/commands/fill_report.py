"""Report filled panels: sentences for people, or JSON data."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import hingeleaf as hl
from hingeleaf.text import plural
from hingeleaf.units import format_mm
from hingeleaf_tui.commands.answers import (
    evenness_data,
    finding_data,
    finding_lines,
    legibility_data,
)
from hingeleaf_tui.commands.fill_options import Result
from hingeleaf_tui.commands.options import data_of
from hingeleaf_tui.commands.tables import print_text
from hingeleaf_tui.shared.keep_out import keep_out_data, keep_out_sentences
from hingeleaf_tui.shared.phrases import evenness_sentence, filling_sentences, font_sentences

REPLACING = ", replacing the panel of this name; `hingeleaf undo` brings that back"
FIGURES = (
    *("coverage", "count", "balance", "kinds", "missing"),
    *("lifting_share", "steps", "seconds"),
)
"""Figures of a filling that are given as they are."""
MAX_LISTED = 5
"""Number of unusable motifs listed by name."""


def _kinds_sentence(made: hl.MadePanel) -> Iterator[str]:
    requested, placed = made.job.recipe.rules.least_kinds, made.filling.kinds
    if placed < requested:
        possible = sum(item.weight > 0 for item in made.filled.pool.items)
        why = "found room" if possible >= requested else "can be used"
        yield f"{plural(placed, 'kind')} only {why} of the {requested} asked for."


def print_report(made: hl.MadePanel, result: Result, out: Path | None, *, several: bool) -> None:
    """Print a summary; on standard error if the cut file goes to standard output."""
    if result.as_json:
        return
    filling, saved, origin = made.filling, made.saved, made.panel.origin
    to_stderr = str(out) == "-"
    kinds = len({placement.motif for placement in filling.placements})
    apart = "" if filling.least_gap is None else f", {format_mm(filling.least_gap)} apart or more"
    lines = [
        f"{made.job.name}: {filling.coverage:.1%} covered by {plural(filling.count, 'motif')} "
        f"of {plural(kinds, 'kind')}{apart}.",
        *made.job.refill.fixed,
        *_kinds_sentence(made),
        *filling_sentences(filling, made.job.thickened),
        *([] if filling.evenness is None else [evenness_sentence(filling.evenness)]),
        *keep_out_sentences(made.job.recipe),
        *font_sentences(made.job.recipe),
        *(f"  {line}" for line in finding_lines(hl.group_findings(made.report.findings), origin)),
    ]
    if not made.report.faults:
        lines.append("The check found no fault.")
    if saved.name:
        lines.append(f"Saved in the library as {saved.name}{REPLACING if saved.replaced else ''}.")
    if out and not to_stderr:
        lines.append(f"Written to {out}.")
    if not (out or saved.name or saved.aside or several):
        lines.append("Nothing was written: give --out FILE or --save NAME.")
    print_text("\n".join(lines), err=to_stderr)


def print_left_out(left_out: Mapping[str, str], *, to_stderr: bool) -> None:
    """Print which motifs were not used and why, the first few of them."""
    for name, why in list(left_out.items())[:MAX_LISTED]:
        print_text(f"Not used: {name} {why}.", err=to_stderr)
    more = len(left_out) - MAX_LISTED
    if more > 0:
        others = plural(more, "other was", "others were")
        print_text(f"{others} not used; --json lists all.", err=to_stderr)


def panel_data(made: hl.MadePanel, out: Path | None) -> dict[str, Any]:
    """JSON data; positions are mm from the sheet's top left corner, as in the cut file."""
    filling, report = made.filling, made.report
    return {
        "name": made.job.name,
        "field": {"kind": made.job.field.kind, "label": made.job.field.label},
        "sheet_mm": list(made.panel.size),
        **data_of(filling, *FIGURES, least_gap_mm="least_gap", largest_gap_mm="largest_gap"),
        "thickened_mm": made.job.thickened,
        "kept_straight": list(filling.straight),
        "fixed": list(made.job.refill.fixed),
        **evenness_data(filling.evenness),
        "seed": made.job.recipe.rules.seed,
        **data_of(report, "holds", "loose_parts", narrowest_mm="narrowest"),
        "legibility": legibility_data(report.legibility),
        "left_out": dict(made.filled.pool.left_out),
        "substitutes": made.job.recipe.substitutes,
        "kept_free": keep_out_data(made.job.recipe, made.panel.origin),
        "findings": [finding_data(finding, made.panel.origin) for finding in report.findings],
        "saved_as": made.saved.name or None,
        "replaced": made.saved.replaced,
        "unsaved": made.saved.aside and str(made.saved.aside),
        "out": out and str(out),
        "placements": [
            {"number": number, **_placement_data(each, made.panel)}
            for number, each in enumerate(filling.placements, start=1)
        ],
    }


def _placement_data(placement: hl.Placement, panel: hl.Panel) -> dict[str, Any]:
    pose = placement.pose
    left, top = panel.origin
    return {
        **data_of(placement, "motif", "revision", "pinned"),
        "x_mm": pose.x - left,
        "y_mm": pose.y - top,
        **data_of(pose, "mirrored", turn_degrees="turn", size_mm="size"),
        "bent": pose.bend is not None,
    }
