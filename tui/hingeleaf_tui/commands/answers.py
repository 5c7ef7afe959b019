"""Parts that the answers of several commands share: findings, figures of a panel, a picture."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import hingeleaf as hl
from hingeleaf_tui import drawing
from hingeleaf_tui.commands.options import data_of
from hingeleaf_tui.commands.tables import echo, print_text
from hingeleaf_tui.terminal import look

_DIGITS = re.compile(r"[\d.]+")


def from_corner(at: hl.XY | None, origin: hl.XY) -> hl.XY | None:
    """A point of the field in mm from the sheet's top left corner, as in the cut file."""
    return None if at is None else (at[0] - origin[0], at[1] - origin[1])


def finding_data(finding: hl.Finding, origin: hl.XY = (0.0, 0.0)) -> dict[str, Any]:
    """A finding as JSON data; its position from the sheet's corner, which is at `origin`."""
    at = from_corner(finding.at, origin)
    return {
        "kind": finding.kind,
        "severity": finding.severity.value,
        "message": finding.message,
        "at_mm": None if at is None else [round(at[0], 2), round(at[1], 2)],
        "remedy": finding.remedy,
    }


def print_findings(findings: Iterable[hl.Finding], indent: str = "") -> None:
    """Print findings; of those that differ only in numbers the first, with the count of the others.

    Unindented ones come after an empty line.
    """
    alike: dict[tuple[hl.Severity, str], list[hl.Finding]] = {}
    for finding in findings:
        key = finding.severity, _DIGITS.sub("", finding.message)
        alike.setdefault(key, []).append(finding)
    if alike and not indent:
        echo()
    for line in finding_lines(alike.values()):
        print_text(indent + line)


def finding_lines(
    groups: Iterable[Sequence[hl.Finding]], origin: hl.XY | None = None
) -> Iterator[str]:
    """A sentence for each group of findings: the first one with its remedy, and how many more.

    With the sheet's corner, which is at `origin`, its position from there is named.
    """
    for first, *others in groups:
        at = None if origin is None else from_corner(first.at, origin)
        place = "" if at is None else f" at {at[0]:.1f}, {at[1]:.1f} mm"
        more = f" ({len(others)} more like it.)" if others else ""
        yield f"{first.severity}{place}: {first.message} {first.remedy}".rstrip() + more


def evenness_data(figures: hl.Evenness | None) -> dict[str, float | None]:
    """How evenly motifs are spaced, as JSON data."""
    return {
        "share_within_half_gap": None if figures is None else figures.share_within_half_gap,
        "distance_p95_mm": None if figures is None else figures.p95,
        "distance_mean_mm": None if figures is None else figures.mean,
    }


def legibility_data(worst: hl.Legibility | None) -> dict[str, Any] | None:
    """How well the least legible letter reads, as JSON data; None where there is no text."""
    return None if worst is None else data_of(worst, "letter", "likeness", "rank", "rival")


def picture_of(cuts: hl.Cuts, columns: int = 44, rows: int = 16) -> str:
    """A character picture of cuts."""
    return drawing.motif.draw_thumbnail(cuts, columns, rows, drawing.ink.Ink(look().ink)).text()
