"""Lift the parts of a plan one by one, in the requested style or the nearest possible."""

from dataclasses import dataclass, field, replace

from hingeleaf.model import Finding, HoldStyle, Severity
from hingeleaf.paper.flap_choice import LiftRequest, StyleError
from hingeleaf.paper.hold_styles import FALLBACKS, lift_part
from hingeleaf.paper.plan_state import PlanState

MIN_WIDTH_SHARE = 0.6
"""Share of the requested width below which another style is better than narrower bridges."""

MIN_DOOR_SIZE = 2.5
"""Size in widths below which a part gets one bridge to hinge on rather than two narrow ones."""


@dataclass
class Lifting:
    """Lifts the parts of a plan one by one, recording the style reached and reasons."""

    state: PlanState
    options: dict[int, LiftRequest]
    reached: dict[int, HoldStyle] = field(default_factory=dict)
    reasons: dict[int, str] = field(default_factory=dict)

    def run(self) -> None:
        """Tie all parts that can be lifted, and report those that cannot."""
        for rank in range(2 + max(map(len, FALLBACKS.values()))):
            for width in self.state.widths():
                if self.state.pending:
                    self._lift_all(rank, width)
        for part, reason in self.reasons.items():
            if self.reached.get(part) is not self.options[part].style:
                self.state.findings.append(self._fallback_finding(part, reason))

    def _request_at(self, part: int, rank: int, width: float) -> LiftRequest | None:
        """The request tried for a part: its own, then (by rank) the nearest, a lopsided tongue."""
        request, asked = self.options[part], self.state.width
        lopsided = replace(request, style=HoldStyle.TONGUE, lopsided=True)
        nearest = [replace(request, style=style) for style in FALLBACKS.get(request.style, ())]
        at = 0 if request.style is HoldStyle.TONGUE else len(nearest)
        options = [request, *nearest[:at], lopsided, *nearest[at:]]
        if not request.style.lifts or rank >= len(options):
            return None
        request = options[rank]
        style = request.style
        if request is lopsided:
            return request
        small = self.state.arrangement.part(part).area < (MIN_DOOR_SIZE * asked) ** 2
        if style is not HoldStyle.TONGUE and width < MIN_WIDTH_SHARE * asked:
            return None
        if style is HoldStyle.DOOR and width < asked and small:
            return None
        return request

    def _lift_all(self, rank: int, width: float) -> None:
        """Try one rank at one width, from the sheet inwards, as long as more parts get tied."""
        state = self.state
        first = state.arrangement.images.min(axis=1)
        options = {
            part: self._request_at(part, rank, width)
            for part in state.pending
            if first[part] == part
        }
        tried: dict[int, frozenset[int]] = {}
        progress = True
        while progress:
            progress = False
            for part, request in options.items():
                near = state.arrangement.neighbours[part] & state.tied
                if request and near and part not in state.settled and tried.get(part) != near:
                    tried[part] = near
                    progress |= self._lift_one(part, width, request)

    def _lift_one(self, part: int, width: float, request: LiftRequest) -> bool:
        before = set(self.state.settled)
        try:
            lift_part(self.state, part, width, request)
        except StyleError as reason:
            self.reasons.setdefault(part, str(reason))
            return False
        if part in self.state.tied:
            self.state.settled.add(part)
        new = self.state.settled - before
        self.reached.update(dict.fromkeys(new, request.style))
        self.state.lifted |= new
        return True

    def _fallback_finding(self, part: int, reason: str) -> Finding:
        instead = self.reached.get(part, HoldStyle.RIGID)
        return Finding(
            "other-hold",
            Severity.CAUTION,
            f"A part of {self.state.arrangement.part(part).area:.0f} mm² cannot be held as "
            f"{self.options[part].style.value}: {reason}. It was planned as {instead.value}.",
            self.state.arrangement.place(part),
        )
