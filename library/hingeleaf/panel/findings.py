"""Kinds of finding that a check can report, with their severity and remedy.

`loose-part`, `locked-flap`, `short-hinge` and the kinds for broken cuts come from
`hingeleaf.paper`; all others are listed here.
"""

from collections.abc import Iterable
from enum import StrEnum
from typing import Self

from shapely.geometry.base import BaseGeometry

from hingeleaf.geometry.members import point_in
from hingeleaf.model import XY, Finding, Severity

FAULT, CAUTION, NOTE = Severity.FAULT, Severity.CAUTION, Severity.NOTE


class FindingKind(StrEnum):
    """Kinds of finding that concern a whole panel, each with its severity and remedy."""

    severity: Severity
    remedy: str

    def __new__(cls, name: str, severity: Severity, remedy: str) -> Self:
        """A string member with its severity and remedy as attributes."""
        kind = str.__new__(cls, name)
        kind._value_, kind.severity, kind.remedy = name, severity, remedy
        return kind

    LOOSE_PART = ("loose-part", FAULT, "Tie it with a bridge, or let it fall with the window.")
    THIN_WEB = (
        "thin-web",
        FAULT,
        "Move the cuts apart, use the motif larger, or use a card with a smaller least web.",
    )
    SMALL_WINDOW = (
        "small-window",
        CAUTION,
        "Use the motif at a larger size, or leave the window out.",
    )
    SLENDER_WASTE = (
        "slender-waste",
        NOTE,
        "Weed it slowly from both ends, or lay a bridge across its middle.",
    )
    SLENDER_PAPER = (
        "slender-paper",
        NOTE,
        "Hold it down while you weed, or use the motif at a larger size.",
    )
    SMALL_SCRAPS = (
        "small-scraps",
        NOTE,
        "Brush them off the mat before the next sheet, or use the motifs larger.",
    )
    DOUBLE_CUT = ("double-cut", CAUTION, "Delete one of the two lines.")
    CLASH = ("clash", FAULT, "Move one of the two motifs, or use it smaller.")
    OFF_SHEET = ("off-sheet", FAULT, "Move it inwards, or take a larger sheet.")
    UNDER_REBATE = (
        "under-rebate",
        FAULT,
        "Move it inwards, use it smaller, or take a frame with a narrower rebate.",
    )
    SHEET_TOO_LARGE = (
        "sheet-too-large",
        FAULT,
        "Take a smaller sheet, or export the panel over several sheets.",
    )
    UNPROVEN_SIZE = ("unproven-size", CAUTION, "Make a test cut at this size first.")
    IMPOSSIBLE_SIZE = ("impossible-size", FAULT, "Use it at a size within its range.")
    LIFT_TOO_HIGH = (
        "lift-too-high",
        FAULT,
        "Fold it less far, use the motif smaller, or take a deeper frame.",
    )
    LIFT_TOO_LOW = (
        "lift-too-low",
        NOTE,
        "Score its fold, hold it down for a while, or measure how your card springs back.",
    )
    FLAPS_COLLIDE = ("flaps-collide", CAUTION, "Turn or move one of the two, or fold one less far.")
    FLAP_BEHIND = ("flap-behind", NOTE, "Leave room behind the sheet, or move its bridges.")
    BLOCKED_HINGE = (
        "blocked-hinge",
        CAUTION,
        "Move its bridges so that the line between them is paper.",
    )
    NOT_FOR_SALE = ("not-for-sale", FAULT, "Use other motifs, or ask the maker for permission.")
    SALE_UNKNOWN = ("sale-unknown", CAUTION, "Look up the licence and record it in the library.")
    COPIES_USED_UP = (
        "copies-used-up",
        FAULT,
        "Use other motifs, or get a licence for more copies.",
    )
    CHOKING = (
        "choking",
        CAUTION,
        "Tie it better, or keep it from small children and follow your local rules on small parts.",
    )
    EMPTY = ("empty", CAUTION, "Fill the field, or choose another file.")
    ILLEGIBLE = (
        "illegible",
        CAUTION,
        "Make strokes bolder (or auto), letters larger or motifs smaller, or use another font.",
    )
    CARD_TEST = (
        "card-test",
        NOTE,
        "Cut it, follow its steps, and enter the readings for the card.",
    )
    SAME_WINDOW = ("same-window", CAUTION, "Delete one of the two.")
    WINDOWS_OVERLAP = ("windows-overlap", CAUTION, "Merge them in a drawing program, or move one.")
    LEFT_OUT = ("left-out", NOTE, "Move it to another layer if it is to be cut.")
    NOT_CHECKED = (
        "not-checked",
        NOTE,
        "Put fold lines on a layer named folds, or say with --fold-lines which they are.",
    )


HOLDING = frozenset({FindingKind.LOOSE_PART, FindingKind.THIN_WEB})
"""Kinds of fault that mean that the paper itself does not hold."""


def found(kind: FindingKind, message: str, at: XY | BaseGeometry | None = None) -> Finding:
    """A finding of this kind, with its severity and remedy; of a shape, a point on it."""
    if isinstance(at, BaseGeometry):
        at = point_in(at)
    return Finding(str(kind), kind.severity, message, at, kind.remedy)


def group_findings(findings: Iterable[Finding]) -> list[list[Finding]]:
    """The findings grouped by kind and severity, in the order of their first occurrence."""
    groups: dict[tuple[str, Severity], list[Finding]] = {}
    for finding in findings:
        groups.setdefault((finding.kind, finding.severity), []).append(finding)
    return list(groups.values())
