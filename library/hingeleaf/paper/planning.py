"""Planning of bridges: which strips of paper stay uncut, so that parts hold or lift."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from shapely import MultiLineString, MultiPolygon

from hingeleaf.model import Bridge, Card, Finding, HoldStyle, Motif, Severity
from hingeleaf.paper.door import hang_door
from hingeleaf.paper.draft import Draft
from hingeleaf.paper.ground import Ground
from hingeleaf.paper.points import free_arms
from hingeleaf.paper.rigid import tie_rigidly
from hingeleaf.paper.spine import fold_wings
from hingeleaf.paper.tongue import cut_tongue
from hingeleaf.units import format_mm

LIFT: dict[HoldStyle, Callable[[Draft, int, float], str]] = {
    HoldStyle.DOOR: hang_door,
    HoldStyle.SPINE: fold_wings,
    HoldStyle.POINTS: free_arms,
    HoldStyle.TONGUE: cut_tongue,
}
"""The styles in which a part lifts: each ties one part at one width, or says why it cannot."""

NEAREST: dict[HoldStyle, tuple[HoldStyle, ...]] = {
    HoldStyle.DOOR: (HoldStyle.TONGUE,),
    HoldStyle.SPINE: (HoldStyle.DOOR, HoldStyle.TONGUE),
    HoldStyle.POINTS: (HoldStyle.SPINE, HoldStyle.DOOR, HoldStyle.TONGUE),
    HoldStyle.TONGUE: (HoldStyle.DOOR,),
}
"""What is planned where a style is impossible, nearest first; rigid where that is too."""

ROOM = 2.5
"""A part smaller than this, in widths, takes one bridge to hinge on rather than two narrow ones."""

DETAIL = 0.1
"""A part smaller than this share of the largest is a detail: it is tied rigidly, and a door too
only where doors are asked for."""


@dataclass(frozen=True, slots=True)
class Plan:
    """Bridges for one motif, the hold style really reached, and what there is to say about it.

    The style reached is that of the largest part.
    """

    bridges: tuple[Bridge, ...]
    hold: HoldStyle
    findings: tuple[Finding, ...] = ()


def plan(
    windows: MultiPolygon,
    slits: MultiLineString,
    card: Card,
    *,
    hold: HoldStyle,
    width: float = 5.0,
    ties: int = 2,
    pinned: Sequence[Bridge] = (),
) -> Plan:
    """Bridges of `width` mm that give every loose part `ties` ties in a hold style.

    Pinned bridges come first in the plan, untouched. Whatever cannot be had, a style, a width,
    a tie, is told in the findings together with what was planned instead.
    """
    ground = Ground.of(windows, slits, card)
    draft = Draft(ground, pinned)
    reached = _lift(draft, hold, width) if hold in LIFT else hold
    tie_rigidly(draft, width, ties)
    findings = (*ground.findings, *draft.findings, *_narrower(draft, width), *_left_loose(draft))
    return Plan(tuple(draft.bridges), reached, findings)


def plan_motif(
    motif: Motif,
    card: Card,
    *,
    hold: HoldStyle | None = None,
    width: float = 5.0,
    ties: int = 2,
) -> Motif:
    """The motif with newly planned bridges; its pinned bridges stay."""
    pinned = [bridge for bridge in motif.bridges if bridge.pinned]
    made = plan(
        motif.windows,
        motif.slits,
        card,
        hold=hold or motif.hold,
        width=width,
        ties=ties,
        pinned=pinned,
    )
    return replace(motif, bridges=made.bridges, hold=made.hold)


def _lift(draft: Draft, hold: HoldStyle, width: float) -> HoldStyle:
    """Plan the lifting style for every part that is worth it; the style of the largest part."""
    reached: dict[int, HoldStyle] = {}
    reasons: dict[int, str] = {}
    for style in (hold, *NEAREST[hold]):
        for each in draft.widths(width):
            least = ROOM * width if style is HoldStyle.DOOR and each < width else 0.0
            parts = [part for part in draft.pending if draft.ground.part(part).area >= least**2]
            if hold is not HoldStyle.DOOR:
                parts = [part for part in parts if draft.ground.is_main(part, DETAIL)]
            _lift_all(draft, style, each, parts, reached, reasons)
    for part, reason in reasons.items():
        if reached.get(part) is not hold:
            draft.findings.append(_instead(draft, part, hold, reason, reached.get(part)))
    main = next(iter(draft.ground.loose), None)
    return hold if main is None else reached.get(main, HoldStyle.RIGID)


def _lift_all(
    draft: Draft,
    style: HoldStyle,
    width: float,
    parts: Sequence[int],
    reached: dict[int, HoldStyle],
    reasons: dict[int, str],
) -> None:
    """One style at one width, from the sheet inwards, as long as more parts get tied."""
    progress = True
    while progress:
        progress = False
        for part in parts:
            if part in draft.tied:
                continue
            before = set(draft.tied)
            reason = LIFT[style](draft, part, width)
            if reason:
                reasons.setdefault(part, reason)
                continue
            progress = True
            reached.update(dict.fromkeys(draft.tied - before, style))


def _instead(
    draft: Draft, part: int, hold: HoldStyle, reason: str, style: HoldStyle | None
) -> Finding:
    instead = style or HoldStyle.RIGID
    return Finding(
        "other-hold",
        Severity.CAUTION,
        f"A part of {draft.ground.part(part).area:.0f} mm² cannot be held as {hold.value}: "
        f"{reason}. It was planned as {instead.value}.",
        draft.ground.place(part),
    )


def _narrower(draft: Draft, width: float) -> list[Finding]:
    return [
        Finding(
            "narrow-bridge",
            Severity.CAUTION,
            f"A bridge is {format_mm(bridge.width)} wide instead of {format_mm(width)}: "
            "there is no room for more.",
            bridge.at,
        )
        for bridge in draft.bridges
        if not bridge.pinned and bridge.width < width
    ]


def _left_loose(draft: Draft) -> list[Finding]:
    return [
        Finding(
            "loose-part",
            Severity.FAULT,
            f"A part of {draft.ground.part(index).area:.1f} mm² stays loose: "
            "no bridge to it finds a clean place.",
            draft.ground.place(index),
            "Make the window about it wider, or make the part a piece of the window.",
        )
        for index in draft.pending
    ]
