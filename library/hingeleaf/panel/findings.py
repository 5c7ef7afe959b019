"""Kinds of finding that a check can report, with their severity and remedy.

`loose-part`, `locked-flap`, `short-hinge` and the kinds for broken cuts come from
`hingeleaf.paper`; all others are listed here.
"""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from shapely.geometry.base import BaseGeometry

from hingeleaf.model import XY, Finding, Severity


class FindingKind(StrEnum):
    """Kinds of finding that concern a whole panel."""

    LOOSE_PART = "loose-part"
    THIN_WEB = "thin-web"
    SMALL_WINDOW = "small-window"
    SLENDER_WASTE = "slender-waste"
    SLENDER_PAPER = "slender-paper"
    SMALL_SCRAPS = "small-scraps"
    DOUBLE_CUT = "double-cut"
    CLASH = "clash"
    OFF_SHEET = "off-sheet"
    UNDER_REBATE = "under-rebate"
    SHEET_TOO_LARGE = "sheet-too-large"
    UNPROVEN_SIZE = "unproven-size"
    IMPOSSIBLE_SIZE = "impossible-size"
    LIFT_TOO_HIGH = "lift-too-high"
    LIFT_TOO_LOW = "lift-too-low"
    FLAPS_COLLIDE = "flaps-collide"
    FLAP_BEHIND = "flap-behind"
    BLOCKED_HINGE = "blocked-hinge"
    NOT_FOR_SALE = "not-for-sale"
    SALE_UNKNOWN = "sale-unknown"
    COPIES_USED_UP = "copies-used-up"
    CHOKING = "choking"
    EMPTY = "empty"
    ILLEGIBLE = "illegible"
    CARD_TEST = "card-test"
    SAME_WINDOW = "same-window"
    WINDOWS_OVERLAP = "windows-overlap"
    LEFT_OUT = "left-out"
    NOT_CHECKED = "not-checked"


TABLE: dict[FindingKind, tuple[Severity, str]] = {
    FindingKind.LOOSE_PART: (
        Severity.FAULT,
        "Tie it with a bridge, or let it fall with the window.",
    ),
    FindingKind.THIN_WEB: (
        Severity.FAULT,
        "Move the cuts apart, use the motif larger, or use a card with a smaller least web.",
    ),
    FindingKind.SMALL_WINDOW: (
        Severity.CAUTION,
        "Use the motif at a larger size, or leave the window out.",
    ),
    FindingKind.SLENDER_WASTE: (
        Severity.NOTE,
        "Weed it slowly from both ends, or lay a bridge across its middle.",
    ),
    FindingKind.SLENDER_PAPER: (
        Severity.NOTE,
        "Hold it down while you weed, or use the motif at a larger size.",
    ),
    FindingKind.SMALL_SCRAPS: (
        Severity.NOTE,
        "Brush them off the mat before the next sheet, or use the motifs larger.",
    ),
    FindingKind.DOUBLE_CUT: (Severity.CAUTION, "Delete one of the two lines."),
    FindingKind.CLASH: (Severity.FAULT, "Move one of the two motifs, or use it smaller."),
    FindingKind.OFF_SHEET: (Severity.FAULT, "Move it inwards, or take a larger sheet."),
    FindingKind.UNDER_REBATE: (
        Severity.FAULT,
        "Move it inwards, use it smaller, or take a frame with a narrower rebate.",
    ),
    FindingKind.SHEET_TOO_LARGE: (
        Severity.FAULT,
        "Take a smaller sheet, or export the panel over several sheets.",
    ),
    FindingKind.UNPROVEN_SIZE: (Severity.CAUTION, "Make a test cut at this size first."),
    FindingKind.IMPOSSIBLE_SIZE: (Severity.FAULT, "Use it at a size within its range."),
    FindingKind.LIFT_TOO_HIGH: (
        Severity.FAULT,
        "Fold it less far, use the motif smaller, or take a deeper frame.",
    ),
    FindingKind.LIFT_TOO_LOW: (
        Severity.NOTE,
        "Score its fold, hold it down for a while, or measure how your card springs back.",
    ),
    FindingKind.FLAPS_COLLIDE: (
        Severity.CAUTION,
        "Turn or move one of the two, or fold one less far.",
    ),
    FindingKind.FLAP_BEHIND: (Severity.NOTE, "Leave room behind the sheet, or move its bridges."),
    FindingKind.BLOCKED_HINGE: (
        Severity.CAUTION,
        "Move its bridges so that the line between them is paper.",
    ),
    FindingKind.NOT_FOR_SALE: (
        Severity.FAULT,
        "Use other motifs, or ask the maker for permission.",
    ),
    FindingKind.SALE_UNKNOWN: (
        Severity.CAUTION,
        "Look up the licence and record it in the library.",
    ),
    FindingKind.COPIES_USED_UP: (
        Severity.FAULT,
        "Use other motifs, or get a licence for more copies.",
    ),
    FindingKind.CHOKING: (
        Severity.CAUTION,
        "Tie it better, or keep it from small children and follow your local rules on small parts.",
    ),
    FindingKind.EMPTY: (Severity.CAUTION, "Fill the field, or choose another file."),
    FindingKind.ILLEGIBLE: (
        Severity.CAUTION,
        "Make strokes bolder (or auto), letters larger or motifs smaller, or use another font.",
    ),
    FindingKind.SAME_WINDOW: (Severity.CAUTION, "Delete one of the two."),
    FindingKind.WINDOWS_OVERLAP: (
        Severity.CAUTION,
        "Merge them in a drawing program, or move one.",
    ),
    FindingKind.LEFT_OUT: (Severity.NOTE, "Move it to another layer if it is to be cut."),
    FindingKind.NOT_CHECKED: (
        Severity.NOTE,
        "Put fold lines on a layer named folds, or say with --fold-lines which they are.",
    ),
    FindingKind.CARD_TEST: (
        Severity.NOTE,
        "Cut it, follow its steps, and enter the readings for the card.",
    ),
}

HOLDING = frozenset({FindingKind.LOOSE_PART, FindingKind.THIN_WEB})
"""Kinds of fault that mean that the paper itself does not hold."""


def found(kind: FindingKind, message: str, at: XY | BaseGeometry | None = None) -> Finding:
    """A finding of this kind, with its severity from the table; of a shape, a point on it."""
    severity, remedy = TABLE[kind]
    if isinstance(at, BaseGeometry):
        point = at.representative_point()
        at = point.x, point.y
    return Finding(kind.value, severity, message, at, remedy)


def grouped(findings: Iterable[Finding]) -> list[list[Finding]]:
    """The findings grouped by kind and severity, in the order of their first occurrence."""
    groups: dict[tuple[str, Severity], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.kind, finding.severity), []).append(finding)
    return list(groups.values())
