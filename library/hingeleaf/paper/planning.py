"""Planning of bridges: which strips of paper stay uncut, so that parts hold or lift."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from shapely import MultiLineString, MultiPolygon

from hingeleaf.model import Bridge, Card, Finding, HoldStyle, Motif, Severity
from hingeleaf.paper.draft import Draft
from hingeleaf.paper.ground import Ground
from hingeleaf.paper.rigid import tie_rigidly


@dataclass(frozen=True, slots=True)
class Plan:
    """Bridges for one motif, the hold style really reached, and what there is to say about it."""

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
    tie_rigidly(draft, width, ties)
    return Plan(tuple(draft.bridges), hold, (*ground.findings, *_left_loose(draft)))


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


def _left_loose(draft: Draft) -> list[Finding]:
    findings = []
    for index in draft.pending:
        place = draft.ground.part(index).representative_point()
        findings.append(
            Finding(
                "loose-part",
                Severity.FAULT,
                f"No clean place for a bridge to a part of {draft.ground.part(index).area:.1f} mm².",
                (place.x, place.y),
                "Make the window about it wider, or make it part of the window.",
            )
        )
    return findings
