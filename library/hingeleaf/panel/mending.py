"""Choose the placements to replace in order to fix a panel's faults."""

from shapely import Point

from hingeleaf.model import Finding, Severity
from hingeleaf.panel.check import Report
from hingeleaf.panel.compose import Panel
from hingeleaf.panel.findings import FindingKind

FIXABLE = frozenset(
    {
        *(
            FindingKind.LOOSE_PART,
            FindingKind.THIN_WEB,
            FindingKind.CLASH,
            FindingKind.OFF_SHEET,
            FindingKind.UNDER_REBATE,
        ),
        *(
            FindingKind.IMPOSSIBLE_SIZE,
            FindingKind.LIFT_TOO_HIGH,
            FindingKind.FLAPS_COLLIDE,
            FindingKind.BLOCKED_HINGE,
        ),
    }
)
"""Kinds of fault that another motif in the same place may not have."""


def to_replace(panel: Panel, report: Report) -> dict[int, Finding]:
    """Numbers of placements to replace, counted from 1, each with its fault.

    Each fault of these kinds is attributed to the nearest placement. Pinned placements stay.
    """
    replaced: dict[int, Finding] = {}
    for finding in report.findings:
        if finding.severity is not Severity.FAULT or finding.kind not in FIXABLE:
            continue
        if finding.at is None or not panel.pieces:
            continue
        at = Point(finding.at)
        away = [piece.footprint.distance(at) for piece in panel.pieces]
        nearest = away.index(min(away))
        if not panel.pieces[nearest].placement.pinned:
            replaced.setdefault(nearest + 1, finding)
    return replaced
