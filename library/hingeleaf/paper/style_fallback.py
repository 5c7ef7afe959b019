"""Lift the parts of a plan one by one, in the requested style or the nearest possible."""

from dataclasses import dataclass, field, replace

from hingeleaf.model import Finding, HoldStyle, Severity
from hingeleaf.paper.flap_choice import LiftRequest, StyleError
from hingeleaf.paper.hold_styles import FALLBACKS, lift_part
from hingeleaf.paper.plan_state import PlanState

MIN_WIDTH_SHARE = 0.6
"""Share of the requested width below which another style is better than narrower bridges."""

ROOM = 2.5
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
                self._all(rank, width)
        for part, reason in self.reasons.items():
            if self.reached.get(part) is not self.options[part].style:
                self.state.findings.append(self._instead(part, reason))

    def _wish(self, part: int, rank: int, width: float) -> LiftRequest | None:
        """The request tried for a part: its own, then (by rank) the nearest, a lopsided tongue."""
        wish, asked = self.options[part], self.state.width
        lopsided = replace(wish, style=HoldStyle.TONGUE, lopsided=True)
        nearest = [replace(wish, style=style) for style in FALLBACKS.get(wish.style, ())]
        at = 0 if wish.style is HoldStyle.TONGUE else len(nearest)
        options = [wish, *nearest[:at], lopsided, *nearest[at:]]
        if not wish.style.lifts or rank >= len(options):
            return None
        wish = options[rank]
        style = wish.style
        if wish is lopsided:
            return wish
        small = self.state.arrangement.part(part).area < (ROOM * asked) ** 2
        if style is not HoldStyle.TONGUE and width < MIN_WIDTH_SHARE * asked:
            return None
        if style is HoldStyle.DOOR and width < asked and small:
            return None
        return wish

    def _all(self, rank: int, width: float) -> None:
        """Try one rank at one width, from the sheet inwards, as long as more parts get tied."""
        state = self.state
        first = state.arrangement.images.min(axis=1)
        options = {
            part: self._wish(part, rank, width) for part in state.pending if first[part] == part
        }
        tried: dict[int, frozenset[int]] = {}
        progress = True
        while progress:
            progress = False
            for part, wish in options.items():
                near = state.arrangement.neighbours[part] & state.tied
                if wish and near and part not in state.settled and tried.get(part) != near:
                    tried[part] = near
                    progress |= self._one(part, width, wish)

    def _one(self, part: int, width: float, wish: LiftRequest) -> bool:
        before = set(self.state.settled)
        try:
            lift_part(self.state, part, width, wish)
        except StyleError as reason:
            self.reasons.setdefault(part, str(reason))
            return False
        if part in self.state.tied:
            self.state.settled.add(part)
        new = self.state.settled - before
        self.reached.update(dict.fromkeys(new, wish.style))
        self.state.lifted |= new
        return True

    def _instead(self, part: int, reason: str) -> Finding:
        instead = self.reached.get(part, HoldStyle.RIGID)
        return Finding(
            "other-hold",
            Severity.CAUTION,
            f"A part of {self.state.arrangement.part(part).area:.0f} mm² cannot be held as "
            f"{self.options[part].style.value}: {reason}. It was planned as {instead.value}.",
            self.state.arrangement.place(part),
        )
