"""Lifting holds: each part in the style asked for, or in the nearest style that is possible."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from hingeleaf.model import Finding, HoldStyle, Severity
from hingeleaf.paper.door import hang_door
from hingeleaf.paper.plan_state import PlanState
from hingeleaf.paper.points import free_arms
from hingeleaf.paper.spine import fold_wings
from hingeleaf.paper.tongue import cut_tongue

LIFT: dict[HoldStyle, Callable[[PlanState, int, float], str]] = {
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

NARROWEST = 0.6
"""Below this share of the width asked for, another style is better than narrower bridges."""

DETAIL = 0.1
"""Parts smaller than this share of the largest are details: they lift only as doors."""


class Lifting:
    """The parts of a state lifted one by one, with what each reached and why not more."""

    def __init__(self, state: PlanState, hold: HoldStyle) -> None:
        self.state = state
        self.hold = hold
        self.reached: dict[int, HoldStyle] = {}
        self.reasons: dict[int, str] = {}

    def plan(self) -> HoldStyle:
        """Tie what can be lifted, and tell what cannot; the style that the largest part reached."""
        for style in (self.hold, *NEAREST[self.hold]):
            for width in self._widths(style):
                self._all(style, width, self._candidates(style, width))
        for part, reason in self.reasons.items():
            if self.reached.get(part) is not self.hold:
                self.state.findings.append(self._instead(part, reason))
        main = next(iter(self.state.arrangement.loose), None)
        return self.hold if main is None else self.reached.get(main, HoldStyle.RIGID)

    def _widths(self, style: HoldStyle) -> list[float]:
        """From the width asked for to the narrowest that still carries a fold of this style."""
        least = 0.0 if style is HoldStyle.TONGUE else NARROWEST * self.state.width
        return [width for width in self.state.widths() if width >= least]

    def _candidates(self, style: HoldStyle, width: float) -> list[int]:
        arrangement, asked = self.state.arrangement, self.state.width
        parts = self.state.pending
        if style is HoldStyle.DOOR and width < asked:
            parts = [part for part in parts if arrangement.part(part).area >= (ROOM * asked) ** 2]
        if self.hold is not HoldStyle.DOOR:
            parts = [part for part in parts if arrangement.is_main(part, DETAIL)]
        return parts

    def _all(self, style: HoldStyle, width: float, parts: Sequence[int]) -> None:
        """One style at one width, from the sheet inwards, as long as more parts get tied."""
        tried: dict[int, frozenset[int]] = {}
        progress = True
        while progress:
            progress = False
            for part in parts:
                near = self.state.arrangement.neighbours[part] & self.state.tied
                if part not in self.state.settled and tried.get(part) != near:
                    tried[part] = near
                    progress |= self._one(style, width, part)

    def _one(self, style: HoldStyle, width: float, part: int) -> bool:
        before = set(self.state.settled)
        reason = LIFT[style](self.state, part, width)
        if reason:
            self.reasons.setdefault(part, reason)
            return False
        self.state.settled.add(part)
        self.reached.update(dict.fromkeys(self.state.settled - before, style))
        return True

    def _instead(self, part: int, reason: str) -> Finding:
        instead = self.reached.get(part, HoldStyle.RIGID)
        return Finding(
            "other-hold",
            Severity.CAUTION,
            f"A part of {self.state.arrangement.part(part).area:.0f} mm² cannot be held as "
            f"{self.hold.value}: {reason}. It was planned as {instead.value}.",
            self.state.arrangement.place(part),
        )
