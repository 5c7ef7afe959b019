"""Compare the plans of one drawing in each hold style, best first, and describe what lifts."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from operator import itemgetter

import numpy as np
import shapely

from hingeleaf.errors import UsageError
from hingeleaf.geometry.members import SPECK, longest_side
from hingeleaf.hold import PlanRequest
from hingeleaf.model import XY, Card, Cuts, Finding, HoldStyle, Motif, Severity
from hingeleaf.paper.bridges import axes, is_same
from hingeleaf.paper.hinges import MIN_REACH, Hinge
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.planning import PartRequest, Plan, Planner, PlanOptions, plan_for
from hingeleaf.paper.resized import cuts_at_size
from hingeleaf.paper.size_limits import FailureMode, Limits, SizeProbe, limits_of, thin_tip
from hingeleaf.params import MAX_LENGTH, OPENING
from hingeleaf.units import format_mm

STYLE_FACTOR = {
    HoldStyle.SPINE: 1.6,
    HoldStyle.POINTS: 2.0,
    HoldStyle.DOOR: 1.0,
    HoldStyle.TONGUE: 0.9,
}
"""Score factor of a style relative to a door where both lift as much (our own choice).

Arms and wings show what a shape is; a door and a tongue only lift it. Of styles with equal results
the first is kept.
"""
MIN_RAYS, MIN_ARM_RATIO, ARM_BONUS = 4, 0.6, 3.0
"""Least number of arms, least ratio of the smallest to the largest, and bonus for such arms."""
LOPSIDED_FACTOR = 0.6
"""Score factor for a plan that breaks the mirror symmetry of its artwork."""
FULL_HINGE_RATIO = 0.5
"""Ratio of hinge to reach from which a flap counts in full."""
MIN_LENGTH_RATIO = 1.3
"""Least ratio of a part's length to its flap's reach, so that some of it stays flat."""
MAX_SIZE_RATIO = 3
"""Ratio of the smallest safe size to the drawn one above which only a simpler drawing helps (our
own choice)."""
LONG_BRIDGE_SHARE = 0.25
"""Share of the motif's size above which a bridge crosses a shape rather than a gap."""


@dataclass(frozen=True)
class ComparedPlan:
    """A motif as planned in one hold style; all facts are computed on first use."""

    motif: Motif
    card: Card
    findings: tuple[Finding, ...] = ()
    lopsided: bool = False
    """Whether the artwork is mirror-symmetric and the bridges are not."""

    @property
    def hold(self) -> HoldStyle:
        """The hold style achieved."""
        return self.motif.hold

    @cached_property
    def _probe(self) -> SizeProbe:
        return SizeProbe(self.motif, self.card)

    @cached_property
    def hinges(self) -> tuple[Hinge, ...]:
        """The hinges at the drawn size."""
        return self._probe.at(self.motif.size).hinges.hinges

    @cached_property
    def lifted_share(self) -> float:
        """The area of all flaps as a share of the motif's loose parts and flaps."""
        parts = find_parts(Cuts(self.motif.windows, self.motif.slits)).loose
        flaps = shapely.union_all([hinge.flap for hinge in self.hinges])
        whole = shapely.union_all([flaps, *(part.polygon for part in parts)])
        return float(flaps.area / max(whole.area, SPECK))

    @cached_property
    def failure(self) -> FailureMode | None:
        """What fails at the drawn size, if anything."""
        return self._probe.failure(self.motif.size)

    @cached_property
    def limits(self) -> Limits:
        """The safe sizes."""
        return limits_of(self._probe, largest=MAX_LENGTH)

    @cached_property
    def score(self) -> float:
        """Score: share of paper that lifts, weighted by hinge firmness and by style."""
        firm = [min(1.0, hinge.length / (FULL_HINGE_RATIO * hinge.reach)) for hinge in self.hinges]
        firmness = float(np.mean(firm)) if firm else 0.0
        score = self.lifted_share * firmness * STYLE_FACTOR.get(self.hold, 0.0)
        score *= LOPSIDED_FACTOR if self.lopsided else 1.0
        return score * ARM_BONUS if self.hold is HoldStyle.POINTS and self._has_rays() else score

    def _has_rays(self) -> bool:
        """Whether several flaps are of similar area, as on a star or a flower."""
        areas = [hinge.flap.area for hinge in self.hinges]
        return len(areas) >= MIN_RAYS and min(areas) >= MIN_ARM_RATIO * max(areas)

    @property
    def height(self) -> float:
        """mm: lift of the highest flap at the usual opening; 0 if nothing lifts."""
        return max((hinge.lift(OPENING) for hinge in self.hinges), default=0.0)

    @property
    def lifts(self) -> str:
        """Phrase: what lifts, and how high."""
        count, height = len(self.hinges), format_mm(round(self.height, 1))
        if count == 0:
            return "nothing lifts"
        if count == 1:
            return f"a flap lifts {height} at {OPENING:g}°"
        return f"{count} flaps lift up to {height} at {OPENING:g}°"

    @property
    def safe(self) -> str:
        """Phrase: the size from which on it is safe."""
        sizes = self.limits.sizes
        return f"safe from {format_mm(math.ceil(sizes.smallest))}" if sizes else "safe at no size"

    @property
    def message(self) -> str:
        """Sentence: what lifts, how high, and the size from which on it is safe."""
        return f"Held as {self.hold}, {self.lifts}; on {self.card.name} it is {self.safe}."


def compare_plans(
    motif: Motif, card: Card, *, width: float | None = None, ties: int = 2
) -> tuple[ComparedPlan, ...]:
    """The plans of a motif in each hold style, best first, without those with equal results.

    Plans that leave a part loose come last, preceded by those not safe at the drawn size. Pinned
    bridges stay. Raises UsageError for impossible widths and ties.
    """
    pinned = tuple(bridge for bridge in motif.bridges if bridge.pinned)
    compared: list[ComparedPlan] = []
    planner = Planner.of(motif.windows, motif.slits, card, pinned, width=width, ties=ties)
    for hold in (*STYLE_FACTOR, HoldStyle.RIGID):
        made = planner.plan(hold)
        planned = made.applied(motif)
        new = ComparedPlan(planned, card, made.findings, planner.is_lopsided(made))
        known = any(
            other.hold is new.hold or (new.hold.lifts and _same(other.motif, planned))
            for other in compared
        )
        if not known and (new.hinges or not new.hold.lifts):
            compared.append(new)
    return tuple(sorted(compared, key=_rank))


def requested_plan(
    motif: Motif, card: Card, request: PlanRequest, parts: Sequence[PartRequest] = ()
) -> Plan:
    """The requested plan, with requests for single parts.

    Raises UsageError for one that is impossible, and for a hinge side or a part with the best
    style, which is chosen by itself.
    """
    width, ties = request.width, request.ties
    if request.hold is not None:
        how: PlanOptions = {"width": width, "ties": ties, "hinge": request.hinge, "parts": parts}
        return plan_for(motif, card, hold=request.hold, **how)
    if request.hinge or parts:
        raise UsageError(
            "The best hold style is chosen without a hinge side or single parts.",
            "Name a hold style beside --hinge or --part.",
        )
    best = best_plan(motif, card, width=width, ties=ties)
    return Plan(best.motif.bridges, best.hold, best.findings, best.motif.windows)


def _rank(compared: ComparedPlan) -> tuple[bool, bool, float]:
    return compared.failure is FailureMode.LOOSE, compared.failure is not None, -compared.score


def best_plan(
    motif: Motif,
    card: Card,
    *,
    hold: HoldStyle | None = None,
    width: float | None = None,
    ties: int = 2,
) -> ComparedPlan:
    """The plan of a drawing in a hold style, or the best plan if none is given, with findings.

    For the best plan a note says what lifts, how high and from which size; if nothing lifts, why
    not and what to change. Raises UsageError as `compare_plans` does.
    """
    if hold is not None:
        made = plan_for(motif, card, hold=hold, width=width, ties=ties)
        return ComparedPlan(made.applied(motif), card, made.findings)
    compared = compare_plans(motif, card, width=width, ties=ties)
    best = compared[0]
    finding = _chosen(best) if best.hinges else _nothing_lifts(best, compared)
    about_hold = ("other-hold", "nothing-lifts")
    findings = [finding for finding in best.findings if finding.kind not in about_hold]
    return replace(best, findings=(finding, *findings))


def plan_cautions(compared: ComparedPlan) -> tuple[Finding, ...]:
    """Findings about doubtful webs, windows, tips and bridges of a motif at its drawn size."""
    motif, card = compared.motif, compared.card
    found = (size_caution(compared), long_bridges(motif))
    return (
        *(each for each in found if each),
        *thin_tip(cuts_at_size(motif, motif.size, card), card),
    )


def size_caution(compared: ComparedPlan) -> Finding | None:
    """A finding if a motif is not safe at its drawn size, with the size from which it is."""
    if compared.failure is None or compared.failure is FailureMode.LOOSE:
        return None
    card, limits, drawn = compared.card.name, compared.limits, format_mm(compared.motif.size)
    if limits.sizes is None:
        return Finding(
            "too-fine",
            Severity.FAULT,
            f"On {card} it is safe at no size. {limits.reason.message}",
            limits.reason.at,
            "Leave out the finest details, or choose a firmer card.",
        )
    smallest = math.ceil(limits.sizes.smallest)
    far = smallest > MAX_SIZE_RATIO * compared.motif.size
    remedies = ["Take a simpler drawing" if far else f"Use it from {format_mm(smallest)} on"]
    if limits.reason.weakness is FailureMode.WEB:
        least = format_mm(compared.card.least_web)
        remedies.append(f"join windows nearer than {least} (--join {least.replace(' ', '')})")
    return Finding(
        "too-fine",
        Severity.CAUTION,
        f"It is {drawn} long, but on {card} safe only from {format_mm(smallest)}. "
        f"{limits.reason.message}{_where(limits.reason.at, compared.motif)}",
        limits.reason.at,
        f"{', '.join(remedies)}, or leave out the finest details.",
    )


def _where(at: XY | None, motif: Motif) -> str:
    """A sentence about the third of a motif, across and down, in which a point lies."""
    if at is None:
        return ""
    box = shapely.total_bounds([motif.windows, motif.slits])
    share = (np.array(at) - box[:2]) / np.maximum(box[2:] - box[:2], SPECK)
    across, down = np.clip((3 * share).astype(int), 0, 2)
    words = [("top", "", "bottom")[down], ("left", "", "right")[across]]
    return f" The finest place is at its {' '.join(filter(None, words)) or 'centre'}."


def long_bridges(motif: Motif) -> Finding | None:
    """A finding if bridges run far across a window: usually a plain shape that needs a band."""
    if not motif.bridges:
        return None
    cut = shapely.geometrycollections([motif.windows, motif.slits])
    runs = shapely.length(shapely.intersection(axes(motif.bridges), cut))
    if runs.max() <= LONG_BRIDGE_SHARE * motif.size:
        return None
    longest = motif.bridges[int(runs.argmax())]
    many = int((runs > LONG_BRIDGE_SHARE * motif.size).sum())
    what = "A bridge runs" if many == 1 else f"{many} bridges run up to"
    return Finding(
        "long-bridge",
        Severity.CAUTION,
        f"{what} {format_mm(round(float(runs.max()), 1))} across a window, more than a quarter of "
        "the motif.",
        longest.at,
        "Cut a band around the shape instead, so that its inside stays (--border band).",
    )


def _chosen(best: ComparedPlan) -> Finding:
    return Finding("best-hold", Severity.NOTE, best.message)


def _nothing_lifts(best: ComparedPlan, compared: Sequence[ComparedPlan]) -> Finding:
    why, remedy = _why(best, compared)
    return Finding("nothing-lifts", Severity.NOTE, f"Nothing lifts: {why}.", remedy=remedy)


def _why(best: ComparedPlan, compared: Sequence[ComparedPlan]) -> tuple[str, str]:
    """Why nothing lifts, and what to change; as two sentences."""
    motif = best.motif
    lifting = [
        (other.limits.sizes.smallest, other.hold)
        for other in compared
        if other.hinges and other.limits.sizes
    ]
    if lifting:
        smallest, hold = min(lifting, key=itemgetter(0))
        return (
            f"at {format_mm(motif.size)} no fold leaves windows and webs wide enough",
            f"Use it from {format_mm(math.ceil(smallest))} on, held as {hold}.",
        )
    parts = find_parts(Cuts(motif.windows, motif.slits)).loose
    if not parts:
        return (
            "the drawing is cut out whole, and no part of it stays",
            "Cut a band around the shape instead of a window, or a slit along its edge.",
        )
    longest = max(longest_side([part.polygon]) for part in parts)
    if longest < MIN_LENGTH_RATIO * MIN_REACH:
        size = format_mm(math.ceil(motif.size * MIN_LENGTH_RATIO * MIN_REACH / longest))
        return (
            f"its largest part is only {format_mm(round(longest, 1))} long, too little for a "
            f"flap that reaches {format_mm(MIN_REACH)}",
            f"Use it {size} long or more, or leave out the parts inside.",
        )
    return (
        f"no straight fold in it carries a flap of {format_mm(MIN_REACH)}",
        "Use it larger, leave out an island, or add a slit where it should fold.",
    )


def _same(one: Motif, other: Motif) -> bool:
    """Whether two plans have the same bridges."""
    return len(one.bridges) == len(other.bridges) and all(
        any(is_same(bridge, each) for each in other.bridges) for bridge in one.bridges
    )
