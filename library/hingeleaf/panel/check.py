"""Whether a panel can be cut, folded and framed: what falls out, tears, clashes or does not fit."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shapely import Polygon

from hingeleaf.model import Card, Cuts, Finding, Severity
from hingeleaf.panel.compose import Panel
from hingeleaf.paper.parts import Parts, find_parts

ORDER = (Severity.FAULT, Severity.CAUTION, Severity.NOTE)


@dataclass(frozen=True, slots=True)
class Report:
    """What a check found, gravest first."""

    findings: tuple[Finding, ...]
    parts: Parts
    narrowest: float | None
    """Width of the narrowest web between two cuts, None where nothing is cut."""

    @property
    def holds(self) -> bool:
        """Whether nothing is found that would spoil the panel."""
        return not any(finding.severity is Severity.FAULT for finding in self.findings)

    @property
    def loose_parts(self) -> int:
        """How many pieces of paper fall out."""
        return len(self.parts.loose)


def check(panel: Panel) -> Report:
    """Check a panel as a whole."""
    return check_cuts(panel.cuts, panel.sheet, panel.card)


def check_cuts(cuts: Cuts, sheet: Polygon, card: Card) -> Report:
    """Check any cuts in a sheet of card."""
    parts = find_parts(cuts, sheet)
    findings = [*parts.findings]
    return Report(_gravest_first(findings), parts, None)


def _gravest_first(findings: Iterable[Finding]) -> tuple[Finding, ...]:
    return tuple(sorted(findings, key=lambda finding: ORDER.index(finding.severity)))
