"""Size limits: from which size on a motif is safe on a card, and what fails first below it."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from hingeleaf.errors import UsageError
from hingeleaf.model import XY, Card, Cuts, Finding, Motif, Severity, SizeRange
from hingeleaf.paper.bridges import check_bridges, lay_bridges
from hingeleaf.paper.hinges import MIN_PART_SHARE, Hinge
from hingeleaf.paper.necks import Neck, find_necks
from hingeleaf.paper.resized import Resized
from hingeleaf.paper.sheets import clean
from hingeleaf.paper.strength import loose_part, narrow_web, narrow_window
from hingeleaf.paper.strips import at_size
from hingeleaf.units import format_mm

LEAST_SIZE = 5.0
"""mm: motifs are not reckoned smaller than this."""
LEAST_REACH = 4.0
"""mm: a flap that reaches less far cannot be folded cleanly (common practice, no source)."""

_STEP = 0.93
"""From one size to the next while looking for the smallest."""
_RELAPSES = (0.01, 0.02, 0.03, 0.045, 0.06)
"""How far above a smallest size it is tried again whether the motif holds, as shares."""
_NEAR = 0.01
"""How far on either side of a size known from before is looked first, as a share."""
_GROWTH = 20.0
"""How many times its drawn size a motif is reckoned at most."""


class FailureMode(StrEnum):
    """What keeps a motif from being used smaller."""

    LOOSE = "loose"
    """A part falls out."""
    WEB = "web"
    """The paper between two cuts gets narrower than the card's least web."""
    WINDOW = "window"
    """An opening gets narrower than the card's least window."""
    FLAP = "flap"
    """A flap gets too small to fold, or its hinge has no room any more."""
    SIZE = "size"
    """Nothing: smaller motifs are not reckoned."""


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a motif cannot be smaller. Places are in the motif's coordinates as drawn."""

    weakness: FailureMode
    message: str
    at: XY | None = None
    neck: Neck | None = None
    """The web that gets too narrow, as it is just below the smallest size."""
    flap: Hinge | None = None
    """The flap, as it is at the smallest size."""


@dataclass(frozen=True, slots=True)
class Limits:
    """The sizes that a motif allows on a card: None where it holds at none of them."""

    sizes: SizeRange | None
    reason: Reason
    curve: tuple[tuple[float, float], ...] = ()
    """(size, narrowest web) in mm, small to large, the bridges re-cut at every size."""
    findings: tuple[Finding, ...] = ()


def find_limits(
    motif: Motif,
    card: Card,
    *,
    largest: float,
    points: int = 12,
    least_reach: float = LEAST_REACH,
    near: float | None = None,
    exact: float = 1e-3,
) -> Limits:
    """The sizes, up to `largest` mm, at which a motif is safe on a card, and what goes first.

    From the drawn size down (or up, if the motif does not hold as drawn) it is re-cut step by
    step, and every time tried whether a part is loose, a web under the card's least web, or a
    window under its least window; the first size at which that is so is then closed in on, to
    the share `exact` of itself. Hinges must reach `least_reach` mm at least; details may stay
    flat. `points` says how finely the curve is drawn, 0 for none. `near` is a smallest size
    known from before a small change: it is looked at first, which is many times faster.
    Raises UsageError if `largest` is not above zero.
    """
    if not largest > 0:
        raise UsageError(f"{largest:g} mm is not a size.", "Give a length above zero.")
    trial = _Trial(motif, card, least_reach)
    top = min(largest, _GROWTH * motif.size)
    failing, smallest = _smallest(trial, top, near, exact)
    low = max(LEAST_SIZE, smallest / 2) if smallest else top / 4
    return Limits(
        SizeRange(smallest, largest) if smallest else None,
        trial.reason(failing, smallest),
        trial.curve(low, top, points),
        trial.findings(),
    )


def _smallest(
    trial: _Trial, top: float, near: float | None, exact: float
) -> tuple[float, float | None]:
    """A size that fails, and the smallest above it that holds, if any."""
    if near:
        failing, holding = near * (1 - _NEAR), min(near * (1 + _NEAR), top)
        if trial.fails(failing) and not trial.fails(holding):
            return _close_in(trial.fails, failing, holding, exact)
    start = min(trial.motif.size, top)
    failing, smallest = _bracket(trial.weakness, start, top)
    if smallest is None:
        return failing, None
    failing, smallest = _close_in(trial.weakness, failing, smallest, exact)
    for relapse in [size for size in _above(smallest, start) if trial.weakness(size)]:
        failing, above = _bracket(trial.weakness, relapse, start)
        failing, smallest = _close_in(trial.weakness, failing, above or start, exact)
    if smallest < start and trial.flaps_lost(smallest):
        return _close_in(trial.flaps_lost, smallest, start, exact)
    return failing, smallest


def narrowest_web(cuts: Cuts, widest: float = math.inf) -> Neck | None:
    """The narrowest neck of some cuts, if any is narrower than `widest` mm."""
    return next(iter(find_necks(cuts, widest=widest)), None)


def _above(smallest: float, start: float) -> list[float]:
    """Sizes a little above one that holds: a tail may come and go between two steps."""
    sizes = [smallest * (1 + share) for share in _RELAPSES]
    return [size for size in sizes if size < start * _STEP]


def _bracket(
    fails: Callable[[float], object], start: float, top: float
) -> tuple[float, float | None]:
    """Two neighbouring sizes: one that fails (or is too small to reckon), and one that holds."""
    size = start
    if not fails(size):
        while size * _STEP > LEAST_SIZE and not fails(size * _STEP):
            size *= _STEP
        return max(size * _STEP, LEAST_SIZE), size
    while size < top:
        failing, size = size, min(size / _STEP, top)
        if not fails(size):
            return failing, size
    return top, None


def _close_in(
    fails: Callable[[float], object], failing: float, holding: float, exact: float
) -> tuple[float, float]:
    """The two sizes brought together, each keeping its side."""
    if not fails(failing):
        return failing, failing
    while holding - failing > exact * holding:
        middle = (failing + holding) / 2
        if fails(middle):
            failing = middle
        else:
            holding = middle
    return failing, holding


def _weakness(cuts: Cuts, card: Card) -> FailureMode | None:
    if loose_part(cuts):
        return FailureMode.LOOSE
    if narrow_window(cuts.windows, card.least_window):
        return FailureMode.WINDOW
    return FailureMode.WEB if narrow_web(cuts, card.least_web) else None


class _Trial:
    """A motif on a card, cut at one size after another."""

    def __init__(self, motif: Motif, card: Card, least_reach: float) -> None:
        self.motif = motif
        self.card = card
        self.least_reach = least_reach
        self._cuts: dict[float, Cuts] = {}
        self._weak: dict[float, FailureMode | None] = {}
        self._foldable_drawn: int | None = None

    def cut(self, size: float) -> Cuts:
        """The windows and slits at a size, bridges laid."""
        if size not in self._cuts:
            artwork, bridges = at_size(self.motif, size, self.card)
            self._cuts[size] = lay_bridges(clean(artwork)[0], bridges)
        return self._cuts[size]

    def weakness(self, size: float) -> FailureMode | None:
        """What fails at a size, flaps apart."""
        if size not in self._weak:
            self._weak[size] = _weakness(self.cut(size), self.card)
        return self._weak[size]

    def fails(self, size: float) -> bool:
        """Whether anything fails at a size."""
        return size < LEAST_SIZE or self.weakness(size) is not None or self.flaps_lost(size)

    def main_flaps(self, size: float) -> list[Hinge]:
        """The flaps at a size, details apart."""
        hinges = Resized(self.motif, self.card, size).hinges.hinges
        largest = max((hinge.flap.area for hinge in hinges), default=0.0)
        return [hinge for hinge in hinges if hinge.flap.area >= MIN_PART_SHARE * largest]

    def flaps_lost(self, size: float) -> bool:
        """Whether fewer flaps can be folded at a size than can as drawn."""
        if not self.motif.hold.lifts:
            return False
        if self._foldable_drawn is None:
            self._foldable_drawn = self._foldable(self.motif.size)
        return self._foldable_drawn > 0 and self._foldable(size) < self._foldable_drawn

    def reason(self, failing: float, smallest: float | None = None) -> Reason:
        """Why the motif does not hold at `failing`, told at the smallest size that does."""
        weakness = self.weakness(failing)
        told_at = smallest or failing
        if weakness is None and self.flaps_lost(failing):
            weakness = FailureMode.FLAP
        tell = {
            FailureMode.LOOSE: self._loose,
            FailureMode.WEB: self._web,
            FailureMode.WINDOW: self._window,
            FailureMode.FLAP: self._flap,
        }
        if weakness is None:
            return Reason(FailureMode.SIZE, f"Below {format_mm(LEAST_SIZE)} nothing is reckoned.")
        return tell[weakness](failing, told_at)

    def curve(self, low: float, high: float, points: int) -> tuple[tuple[float, float], ...]:
        """The narrowest web at `points` sizes, evenly apart as ratios."""
        sizes = np.geomspace(low, high, points).tolist() if points and low < high else []
        webs = [(size, narrowest_web(self.cut(size))) for size in sizes]
        return tuple((size, web.width) for size, web in webs if web)

    def findings(self) -> tuple[Finding, ...]:
        """What is wrong with the motif as drawn, or with the card."""
        artwork, bridges = at_size(self.motif, self.motif.size, self.card)
        cuts, findings = clean(artwork)
        return (*findings, *check_bridges(cuts, bridges), *_check_card(self.card))

    def _foldable(self, size: float) -> int:
        return sum(flap.reach >= self.least_reach for flap in self.main_flaps(size))

    def _drawn(self, at: XY | None, size: float) -> XY | None:
        scale = self.motif.size / size
        return (at[0] * scale, at[1] * scale) if at else None

    def _loose(self, failing: float, _told_at: float) -> Reason:
        at = self._drawn(loose_part(self.cut(failing)), failing)
        return Reason(FailureMode.LOOSE, "A part has no tie to the sheet and falls out.", at)

    def _web(self, failing: float, told_at: float) -> Reason:
        least = self.card.least_web
        neck = narrowest_web(self.cut(failing), least)
        at = self._drawn(neck.at if neck else narrow_web(self.cut(failing), least), failing)
        message = f"Below {format_mm(told_at)} a web is narrower than {format_mm(least)}."
        return Reason(FailureMode.WEB, message, at, neck=neck)

    def _window(self, failing: float, told_at: float) -> Reason:
        least = self.card.least_window
        at = self._drawn(narrow_window(self.cut(failing).windows, least), failing)
        message = f"Below {format_mm(told_at)} a window is narrower than {format_mm(least)}."
        return Reason(FailureMode.WINDOW, message, at)

    def _flap(self, _failing: float, told_at: float) -> Reason:
        flap = min(self.main_flaps(told_at), key=lambda flap: flap.reach, default=None)
        middle = np.mean(flap.line, axis=0).tolist() if flap else None
        at = self._drawn((middle[0], middle[1]), told_at) if middle else None
        message = f"Below {format_mm(told_at)} a flap is too small to fold."
        return Reason(FailureMode.FLAP, message, at, flap=flap)


def _check_card(card: Card) -> tuple[Finding, ...]:
    if card.caliper <= card.least_web:
        return ()
    return (
        Finding(
            "thick-card",
            Severity.CAUTION,
            f"The card is {format_mm(card.caliper)} thick but its least web only"
            f" {format_mm(card.least_web)}.",
            remedy="A web narrower than the card is thick breaks: set a wider least web.",
        ),
    )
