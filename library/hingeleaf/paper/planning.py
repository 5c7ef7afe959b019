"""Plan bridges: choose the strips left uncut so that parts hold or lift."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import TypedDict, Unpack

import numpy as np
import shapely
from shapely import MultiLineString, MultiPolygon

from hingeleaf.errors import UsageError
from hingeleaf.geometry.symmetry import SymmetryGroup
from hingeleaf.model import (
    NO_WINDOWS,
    XY,
    Bridge,
    Card,
    Cuts,
    Finding,
    HingeSide,
    HoldStyle,
    Motif,
    Severity,
)
from hingeleaf.paper.arrangement import CutArrangement
from hingeleaf.paper.bridges import SAME_PLACE
from hingeleaf.paper.flap_choice import LiftRequest
from hingeleaf.paper.hinge_candidates import MIN_RATIO
from hingeleaf.paper.hinges import find_hinges
from hingeleaf.paper.hold_styles import FALLBACKS
from hingeleaf.paper.plan_state import PlanState
from hingeleaf.paper.plan_tables import PlanTables
from hingeleaf.paper.rigid import MIN_TIES, parts_lacking_ties, tie_rigidly
from hingeleaf.paper.style_fallback import Lifting
from hingeleaf.params import TIES
from hingeleaf.units import format_mm

WIDTH_SHARE = 1 / 16
"""Default bridge width, as a share of the artwork's size."""

WIDTH_RANGE = 2.0, 6.0
"""Bounds of the default width: in least webs, and in mm (common practice, no source)."""

MIN_RING = 3
"""From this many parts that are rotations of each other on, they hinge towards their middle."""


@dataclass(frozen=True, slots=True)
class PartRequest:
    """How one part should be held: a point on it, its hold style and hinge side."""

    at: XY
    hold: HoldStyle | None = None
    hinge: HingeSide | XY | None = None


@dataclass(frozen=True, slots=True)
class Plan:
    """Bridges for one motif, the hold style achieved, and findings.

    The style is the requested one if any part got it, else that of the largest lifted part.
    """

    bridges: tuple[Bridge, ...]
    hold: HoldStyle
    findings: tuple[Finding, ...] = ()
    windows: MultiPolygon = NO_WINDOWS
    """The windows planned for: the artwork's, as a blade cuts them."""

    def applied(self, motif: Motif) -> Motif:
        """The motif with these bridges."""
        return replace(motif, windows=self.windows, bridges=self.bridges, hold=self.hold)


def default_width(size: float, card: Card) -> float:
    """Default bridge width in mm for a motif of this size."""
    least, most = WIDTH_RANGE
    return max(least * card.least_web, min(most, WIDTH_SHARE * size))


class PlanOptions(TypedDict, total=False):
    """What may be requested of a plan besides its hold style."""

    width: float | None
    """Bridge width in mm; by default from the artwork's size and the card."""
    ties: int
    """Bridges per loose part; default two."""
    hinge: HingeSide | XY | None
    """The side of its part on which a flap hinges: a side, or a point that hinges face."""
    parts: Sequence[PartRequest]
    """Requests for single parts."""


def plan(
    windows: MultiPolygon,
    slits: MultiLineString,
    card: Card,
    *,
    hold: HoldStyle,
    pinned: Sequence[Bridge] = (),
    **options: Unpack[PlanOptions],
) -> Plan:
    """Bridges that tie every loose part in a hold style.

    Pinned bridges come first in the plan, unchanged. A style, width or tie that is impossible is
    reported in the findings together with what was planned instead.

    Raises UsageError for a width under the card's least web, fewer ties than one, or a request for
    a part at a point where there is none.
    """
    return Planner.of(windows, slits, card, pinned, **options).plan(hold)


def plan_for(
    motif: Motif, card: Card, *, hold: HoldStyle | None = None, **options: Unpack[PlanOptions]
) -> Plan:
    """A new plan for a motif, in its own hold style or another; its pinned bridges stay."""
    pinned = [bridge for bridge in motif.bridges if bridge.pinned]
    planner = Planner.of(motif.windows, motif.slits, card, pinned, **options)
    return planner.plan(hold or motif.hold)


def plan_motif(
    motif: Motif, card: Card, *, hold: HoldStyle | None = None, width: float | None = None
) -> Motif:
    """The motif with newly planned bridges; its pinned bridges stay."""
    return plan_for(motif, card, hold=hold, width=width).applied(motif)


@dataclass(frozen=True)
class Planner:
    """Plans one drawing in any hold style; what the styles share is computed once."""

    tables: PlanTables
    ties: int
    pinned: tuple[Bridge, ...]
    hinge: HingeSide | XY | None = None
    parts: tuple[PartRequest, ...] = ()
    width_requested: bool = True
    """Whether the width was requested, so that narrower bridges are reported."""

    @classmethod
    def of(
        cls,
        windows: MultiPolygon,
        slits: MultiLineString,
        card: Card,
        pinned: Sequence[Bridge] = (),
        **options: Unpack[PlanOptions],
    ) -> "Planner":
        """As for `plan`, which raises the same."""
        width, ties = options.get("width"), options.get("ties", 2)
        hinge, parts = options.get("hinge"), options.get("parts", ())
        if width is not None and not (math.isfinite(width) and width >= card.least_web):
            raise UsageError(
                f"Bridges of {format_mm(width)} are narrower than the card's least web.",
                f"Make them {format_mm(card.least_web)} wide at least.",
            )
        TIES.check(ties)
        arrangement = CutArrangement.of(windows, slits, card)
        hinges = {hinge, *(request.hinge for request in parts)}
        hinges -= {None, HingeSide.INNER, HingeSide.OUTER}
        if hinges:  # such a side keeps no turns, and the mirror image only about an upright axis
            upright = arrangement.axis is not None and abs(arrangement.axis.direction - 90) < 1
            keeps = upright and hinges <= {HingeSide.FOOT, HingeSide.TOP}
            arrangement = replace(arrangement, turning=False, symmetric=keeps)
        if pinned and not _are_symmetric(arrangement.symmetry, pinned):
            arrangement = replace(arrangement, symmetric=False)
        elif ties > MIN_TIES and ties % arrangement.symmetry.turns:
            arrangement = replace(arrangement, turning=False)  # this number cannot be spread evenly
        wide = default_width(arrangement.length, card) if width is None else width
        tables = PlanTables(arrangement, wide)
        return cls(
            tables, ties, tuple(pinned), hinge, tuple(parts), width_requested=width is not None
        )

    @property
    def arrangement(self) -> CutArrangement:
        """The cuts and the parts that they leave."""
        return self.tables.arrangement

    def plan(self, hold: HoldStyle) -> Plan:
        """The plan in a hold style or, if nothing would lift, in the nearest style that does."""
        made = self._cached_plan(hold)
        if not hold.lifts or (made.hold.lifts and self._lifts(hold)):
            return made
        meant = made.hold if made.hold.lifts else hold
        fallbacks = FALLBACKS[meant] if made.hold.lifts else (HoldStyle.DOOR,)  # of details
        for style in fallbacks:
            instead = self._cached_plan(style)
            if instead.hold is style and self._lifts(style):
                return replace(instead, findings=(*instead.findings, _nothing_lifts(meant, style)))
        flat = replace(made, findings=(*made.findings, _nothing_lifts(made.hold)))
        return flat if made.hold.lifts else made

    def is_lopsided(self, made: Plan) -> bool:
        """Whether the drawing is its own mirror image and a plan of it is not."""
        mirror = replace(self.arrangement.symmetry, turns=1)
        return not _are_symmetric(mirror, made.bridges)

    @cached_property
    def _cached_plan(self) -> Callable[[HoldStyle], Plan]:
        return cache(self._make_plan)

    @cached_property
    def _lifts(self) -> Callable[[HoldStyle], bool]:
        return cache(self._check_flaps)

    def _check_flaps(self, hold: HoldStyle) -> bool:
        """Whether enough flaps of a plan can fold, none locked or on too short a hinge."""
        made = self._cached_plan(hold)
        artwork = Cuts(self.arrangement.windows, self.arrangement.slits)
        found = find_hinges(artwork, made.bridges, made.hold)
        locked = any(finding.severity is Severity.FAULT for finding in found.findings)
        stout = all(hinge.length >= MIN_RATIO * hinge.reach for hinge in found.hinges)
        enough = 1 if made.hold in (HoldStyle.DOOR, HoldStyle.TONGUE) else 2
        return len(found.hinges) >= enough and stout and not locked

    def _make_plan(self, hold: HoldStyle) -> Plan:
        """A plan with every part tied, and lifted if the style says so and it is possible.

        If a part stays loose, symmetry is dropped: first rotations, then all.
        """
        state, reached = self._tie_parts(hold)
        for looser in self._less_symmetric if _loose_parts(state) else ():
            if not _loose_parts(state):
                break
            other, reached_then = looser._tie_parts(hold)
            if len(_loose_parts(other)) < len(_loose_parts(state)):
                state, reached = other, reached_then
        findings = (
            *self.arrangement.findings,
            *state.findings,
            *_lacking_ties(state, self.ties),
            *(_narrow_bridges(state) if self.width_requested else ()),
            *_loose_part_findings(state),
        )
        return Plan(tuple(state.bridges), reached, findings, self.arrangement.windows)

    @cached_property
    def _less_symmetric(self) -> list["Planner"]:
        symmetry = self.arrangement.symmetry
        looser = [replace(self.arrangement, turning=False)] if symmetry.turns > 1 else []
        looser += [replace(self.arrangement, symmetric=False)] if len(symmetry) > 1 else []
        return [replace(self, tables=PlanTables(each, self.tables.width)) for each in looser]

    def _tie_parts(self, hold: HoldStyle) -> tuple[PlanState, HoldStyle]:
        lifted, reached = self._lift_parts(hold)
        state, least = lifted.copied(), min(self.ties, MIN_TIES)
        tie_rigidly(state, self.ties)
        for width in (self.tables.width, self.arrangement.card.least_web):
            if not (_loose_parts(state) or parts_lacking_ties(state, least)):
                break
            sparing = lifted.copied()
            tie_rigidly(sparing, 1, width)  # more or wider ties took another part's room
            sparing.settled = set(self.arrangement.sheet) | sparing.lifted
            tie_rigidly(sparing, self.ties)
            lacking = [
                (len(_loose_parts(each)), len(parts_lacking_ties(each, least)))
                for each in (sparing, state)
            ]
            if lacking[0] < lacking[1]:
                state = sparing
        return state, reached

    def _lift_parts(self, hold: HoldStyle) -> tuple[PlanState, HoldStyle]:
        """A new state with all lifted parts, and the style achieved: as requested if a part got it.

        If parts have separate requests, it is the first style in which more than one flap may lift.
        """
        requests = self._lift_requests(hold)
        styles = [request.style for request in requests.values() if request.style.lifts]
        kind = hold if hold.lifts else next(iter(styles), hold)
        state = PlanState(self.tables, self.pinned, kind)
        if not (kind.lifts and requests):
            return state, hold
        lifting = Lifting(state, requests)
        lifting.run()
        reached = [lifting.reached.get(part, HoldStyle.RIGID) for part in self.arrangement.loose]
        lifted = [style for style in reached if style.lifts]
        if hold in lifted:
            return state, hold
        several = (style for style in lifted if self.parts and style is not HoldStyle.DOOR)
        return state, next(several, next(iter(lifted), HoldStyle.RIGID))

    def _lift_requests(self, hold: HoldStyle) -> dict[int, LiftRequest]:
        """The request for every part that is to lift; details lift only as doors."""
        arrangement = self.arrangement
        able = arrangement.loose if hold is HoldStyle.DOOR else arrangement.main_parts
        own = dict(zip(self._requested_parts(), self.parts, strict=True))
        requests = {}
        for part in arrangement.loose:
            images = [part, *arrangement.images[part].tolist()]
            wished = next((own[image] for image in images if image in own), None)
            style = (wished and wished.hold) or (hold if part in able else HoldStyle.RIGID)
            hinge = (wished and wished.hinge) or self.hinge
            requests[part] = LiftRequest(style, self._direction(part, hinge))
        return requests

    def _requested_parts(self) -> list[int]:
        """The loose parts with their own requests."""
        places = np.array([request.at for request in self.parts]).reshape(-1, 2)
        parts: list[int] = self.arrangement.face_at(places).tolist()
        for (x, y), part in zip(places.tolist(), parts, strict=True):
            if part not in self.arrangement.loose:
                raise UsageError(
                    f"At {format_mm(x)}, {format_mm(y)} there is no part to tie.",
                    "Name a place on a part that a window or a slit goes all round.",
                )
        return parts

    def _direction(self, part: int, hinge: HingeSide | XY | None) -> tuple[float, float] | None:
        """The unit vector from a part's centre to its requested hinge side, if any."""
        arrangement = self.arrangement
        if hinge is None and not arrangement.is_central(part):
            around = set(arrangement.images[part, : arrangement.symmetry.turns].tolist())
            hinge = HingeSide.INNER if len(around) >= MIN_RING else None
        if hinge is None:
            return None
        if hinge in (HingeSide.FOOT, HingeSide.TOP):
            return (0.0, 1.0 if hinge is HingeSide.FOOT else -1.0)
        target = arrangement.symmetry.centre if isinstance(hinge, HingeSide) else hinge
        middle = shapely.get_coordinates(arrangement.part(part).centroid)[0]
        step = np.subtract(target, middle)
        length = float(np.hypot(*step))
        if length < CENTRAL * math.sqrt(arrangement.part(part).area):
            return None
        sign = -1.0 if hinge is HingeSide.OUTER else 1.0
        return float(sign * step[0] / length), float(sign * step[1] / length)


CENTRAL = 0.05
"""Distance in square roots of its area below which a part's centre is at the target, so no side."""


def _are_symmetric(symmetry: SymmetryGroup, bridges: Sequence[Bridge]) -> bool:
    """Whether a set of bridges contains the images of all its members."""
    return symmetry.keeps(np.array([bridge.at for bridge in bridges]).reshape(-1, 2), SAME_PLACE)


def _loose_parts(state: PlanState) -> list[int]:
    return [part for part in state.arrangement.loose if part not in state.tied]


def _nothing_lifts(hold: HoldStyle, instead: HoldStyle | None = None) -> Finding:
    message = f"Held as {hold.value} nothing would lift; it was planned as {instead}."
    return Finding(
        "other-hold" if instead else "nothing-lifts",
        Severity.CAUTION,
        message if instead else f"Held as {hold.value} nothing lifts.",
        remedy="" if instead else "Choose another hold style, or set the bridges by hand.",
    )


def _narrow_bridges(state: PlanState) -> list[Finding]:
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


def _lacking_ties(state: PlanState, ties: int) -> list[Finding]:
    """Findings about parts that got fewer ties than requested."""
    return [
        Finding(
            "few-ties",
            Severity.NOTE,
            f"A part of {state.arrangement.part(part).area:.0f} mm² has {state.tie_count(part)} of "
            f"{ties} ties: there is no room for more.",
            state.arrangement.place(part),
        )
        for part in parts_lacking_ties(state, ties)
    ]


def _loose_part_findings(state: PlanState) -> list[Finding]:
    return [
        Finding(
            "loose-part",
            Severity.FAULT,
            f"A part of {state.arrangement.part(index).area:.1f} mm² stays loose: "
            "no bridge to it finds a clean place.",
            state.arrangement.place(index),
            "Make the window about it wider, or make the part a piece of the window.",
        )
        for index in _loose_parts(state)
    ]
