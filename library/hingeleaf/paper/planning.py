"""Planning of bridges: which strips of paper stay uncut, so that parts hold or lift."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from shapely import MultiLineString, MultiPolygon

from hingeleaf.errors import UsageError
from hingeleaf.geometry.symmetry import MirrorAxis
from hingeleaf.model import Bridge, Card, Cuts, Finding, HoldStyle, Motif, Severity
from hingeleaf.paper.arrangement import CutArrangement
from hingeleaf.paper.bridge_candidates import SAME
from hingeleaf.paper.hinges import find_hinges
from hingeleaf.paper.lifting import NEAREST, Lifting
from hingeleaf.paper.plan_state import PlanState
from hingeleaf.paper.rigid import tie_rigidly
from hingeleaf.units import format_mm


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

    Raises UsageError for a width under the card's least web or fewer ties than one.
    """
    if not (math.isfinite(width) and width >= card.least_web):
        raise UsageError(
            f"Bridges of {format_mm(width)} are narrower than the card's least web.",
            f"Make them {format_mm(card.least_web)} wide at least.",
        )
    if ties < 1:
        raise UsageError(f"{ties} ties hold nothing.", "Ask for one at least.")
    arrangement = CutArrangement.of(windows, slits, card)
    if pinned and arrangement.axis is not None and not _mirrored(pinned, arrangement.axis):
        arrangement = replace(arrangement, mirrored=False)
    wish = _Wish(arrangement, width, ties, tuple(pinned))
    made = wish.held_as(hold)
    artwork = Cuts(windows, slits)
    if _lifts(artwork, made):
        return made
    for style in NEAREST[made.hold]:
        instead = wish.held_as(style)
        if instead.hold is style and _lifts(artwork, instead):
            return replace(instead, findings=(*instead.findings, _flat(made.hold, style)))
    return replace(made, findings=(*made.findings, _flat(made.hold)))


@dataclass(frozen=True, slots=True)
class _Wish:
    """What is to be tied, and how well."""

    arrangement: CutArrangement
    width: float
    ties: int
    pinned: tuple[Bridge, ...]

    def held_as(self, hold: HoldStyle) -> Plan:
        """Every part lifted, where the style says so and it can be, and tied."""
        state, reached = self._draft(hold)
        tie_rigidly(state, self.ties)
        if self.ties > 1 and _loose(state):
            sparing, reached_then = self._draft(hold)
            tie_rigidly(sparing, 1)  # ties that are spare took the room of one that is needed
            sparing.settled = set(self.arrangement.sheet)
            tie_rigidly(sparing, self.ties)
            if len(_loose(sparing)) < len(_loose(state)):
                state, reached = sparing, reached_then
        findings = (
            *self.arrangement.findings,
            *state.findings,
            *_narrower(state),
            *_left_loose(state),
        )
        return Plan(tuple(state.bridges), reached, findings)

    def _draft(self, hold: HoldStyle) -> tuple[PlanState, HoldStyle]:
        state = PlanState(self.arrangement, self.width, self.pinned)
        return state, Lifting(state, hold).plan() if hold.lifts else hold


def _loose(state: PlanState) -> list[int]:
    return [part for part in state.arrangement.loose if part not in state.tied]


def _lifts(artwork: Cuts, made: Plan) -> bool:
    """Whether a flap is left to fold, if the plan means to leave any."""
    return not made.hold.lifts or bool(find_hinges(artwork, made.bridges, made.hold).hinges)


def _flat(hold: HoldStyle, instead: HoldStyle | None = None) -> Finding:
    says = f"Held as {hold.value} nothing would lift; it was planned as {instead}."
    return Finding(
        "other-hold" if instead else "nothing-lifts",
        Severity.CAUTION,
        says if instead else f"Held as {hold.value} nothing lifts.",
        remedy="" if instead else "Choose another hold style, or set the bridges by hand.",
    )


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


def _mirrored(bridges: Sequence[Bridge], axis: MirrorAxis) -> bool:
    """Whether every bridge has its mirror image among them."""
    places = np.array([bridge.at for bridge in bridges])
    images = axis.mirror(places)
    away = np.hypot(*(images[:, None] - places).transpose(2, 0, 1))
    return bool((away.min(axis=1) < SAME).all())


def _narrower(state: PlanState) -> list[Finding]:
    return [
        Finding(
            "narrow-bridge",
            Severity.CAUTION,
            f"A bridge is {format_mm(bridge.width)} wide instead of {format_mm(state.width)}: "
            "there is no room for more.",
            bridge.at,
        )
        for bridge in state.bridges
        if not bridge.pinned and bridge.width < state.width
    ]


def _left_loose(state: PlanState) -> list[Finding]:
    return [
        Finding(
            "loose-part",
            Severity.FAULT,
            f"A part of {state.arrangement.part(index).area:.1f} mm² stays loose: "
            "no bridge to it finds a clean place.",
            state.arrangement.place(index),
            "Make the window about it wider, or make the part a piece of the window.",
        )
        for index in _loose(state)
    ]
