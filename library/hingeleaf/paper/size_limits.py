"""Size limits: the smallest safe size of a motif on a card, and what fails first below it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache, partial

import shapely

from hingeleaf.errors import UsageError
from hingeleaf.model import XY, Card, Cuts, Finding, Motif, Severity, SizeRange
from hingeleaf.paper.bridges import at_size, check_bridges
from hingeleaf.paper.clean_cuts import clean
from hingeleaf.paper.erosion import loose_part, narrow_web, narrow_window, thin_tips
from hingeleaf.paper.hinges import MIN_PART_SHARE, MIN_REACH, Hinge
from hingeleaf.paper.necks import find_necks
from hingeleaf.paper.resized import Resized
from hingeleaf.units import format_mm

MIN_SIZE = 5.0
"""mm: smaller sizes are not tested."""

_STEP = 0.96
"""Factor between the sizes tested while looking for the smallest."""
_WINDOW_STEPS = 5
"""Steps between which only windows are tried, if there are as many after them as before."""
_FLAP_STEP = 0.9
"""The same for flaps."""
_RECHECKS = (0.005, 0.01, 0.02, 0.03)
"""Shares above a smallest size at which the motif is tested again."""
_VANISHING_PRECISION = 1e-3
"""Relative precision of a size at which a window vanishes under bridges."""
_SEARCH_ABOVE = 0.3
"""After a first size that holds, larger ones are tested up to this share above it."""
_HINT_RANGE = 0.01
"""Share on either side of a hinted size that is searched first."""
_MAX_GROWTH = 20.0
"""Largest size tested, as a multiple of the drawn size."""


class FailureMode(StrEnum):
    """What fails when a motif is used smaller."""

    LOOSE = "loose"
    """A part falls out."""
    WEB = "web"
    """It tears: paper gets narrower than the card's least web."""
    WINDOW = "window"
    """It does not weed: an opening gets narrower than the card's least window."""
    FLAP = "flap"
    """A flap gets too small to fold, or its hinge no longer fits."""
    SIZE = "size"
    """No failure: smaller sizes are not tested."""


REASONS = {
    FailureMode.LOOSE: "A part has no tie to the sheet and falls out.",
    FailureMode.WEB: "Below {size} it tears: a web is narrower than {web}.",
    FailureMode.WINDOW: "Below {size} it does not weed: a window is narrower than {window}.",
    FailureMode.FLAP: "Below {size} a flap is too small to fold.",
    FailureMode.SIZE: "Sizes below {least} are not tried.",
}


@dataclass(frozen=True, slots=True)
class Reason:
    """Why a motif cannot be smaller. Points are in the motif's coordinates as drawn."""

    weakness: FailureMode
    message: str
    at: XY | None = None


@dataclass(frozen=True, slots=True)
class Limits:
    """The sizes at which a motif is safe on a card: None if it holds at none."""

    sizes: SizeRange | None
    reason: Reason
    findings: tuple[Finding, ...] = ()


def find_limits(
    motif: Motif,
    card: Card,
    *,
    largest: float,
    least_reach: float = MIN_REACH,
    hint: float | None = None,
    exact: float = 1e-3,
) -> Limits:
    """The sizes up to `largest` mm at which a motif is safe on a card, and what fails first.

    Starting from the drawn size the motif is re-cut at smaller sizes (or larger, if it does not
    hold as drawn) and tested for loose parts, webs under the card's least web, windows under its
    least window, and lost flaps. The first size that fails is then bracketed to the relative
    precision `exact`. Flaps must reach at least `least_reach` mm; details may stay flat. Long thin
    tips give a finding, not a limit. `hint` is the smallest size before a small change: searched
    first, which is many times faster. Raises UsageError if `largest` is not positive.
    """
    probe = SizeProbe(motif, card, least_reach)
    return limits_of(probe, largest=largest, hint=hint, exact=exact)


def limits_of(
    probe: SizeProbe,
    *,
    largest: float,
    hint: float | None = None,
    exact: float = 1e-3,
) -> Limits:
    """The limits of a motif that may have been tested at some sizes already; as `find_limits`."""
    if not largest > 0:
        raise UsageError(f"{largest:g} mm is not a size.", "Give a length above zero.")
    top = min(largest, _MAX_GROWTH * probe.motif.size)
    failing, smallest = _smallest(probe, top, hint, exact)
    return Limits(
        SizeRange(smallest, largest) if smallest else None,
        probe.reason(failing, smallest),
        probe.findings(smallest),
    )


def thin_tip(cuts: Cuts, card: Card, scale: float = 1.0) -> list[Finding]:
    """A finding if tips may fray, with the length affected; its place is scaled by `scale`."""
    tips = thin_tips(cuts, card.least_web)
    if not tips:
        return []
    (x, y), length = tips[0].at, format_mm(round(tips[0].length, 1))
    what = "A tip is" if len(tips) == 1 else f"{len(tips)} tips are"
    last = f"its last {length}" if len(tips) == 1 else f"their last {length} or less"
    return [
        Finding(
            "thin-tip",
            Severity.CAUTION,
            f"{what} narrower than {format_mm(card.least_web)} over {last}, and may fray.",
            (x * scale, y * scale),
            "Round it off, or cut it with care." if len(tips) == 1 else "Round them off.",
        )
    ]


def _smallest(
    probe: SizeProbe, top: float, hint: float | None, exact: float
) -> tuple[float, float | None]:
    """A size that fails, and the smallest above it that holds, if any."""
    if hint:
        failing, holding = hint * (1 - _HINT_RANGE), min(hint * (1 + _HINT_RANGE), top)
        if probe.failure(failing) and not probe.failure(holding):
            return _close_in(probe.failure, failing, holding, exact)
    start = min(probe.motif.size, top)
    if probe.weakness(start):
        failing, bound = _bracket_above(probe.weakness, start, top)
    else:
        failing, bound = _bracket_below(probe, start)
    if bound is None:
        return failing, None
    failing, smallest = _close_in(probe.weakness, failing, bound, exact)
    for share in _RECHECKS:  # a window's last sliver may come and go between two steps
        size = smallest * (1 + share)
        if size < bound and probe.weakness(size):
            failing, smallest = _close_in(probe.weakness, size, bound, exact)
    size = start
    while size > smallest:  # flaps are slow to find, and change little with size
        low = max(size * _FLAP_STEP, smallest)
        if probe.flaps_lost(low):
            return _close_in(probe.flaps_lost, low, size, exact)
        size = low
    return failing, smallest


def _bracket_below(probe: SizeProbe, size: float) -> tuple[float, float]:
    """Two neighbouring sizes below one that holds: one that fails, one that holds."""
    sizes = [size]
    while sizes[-1] * _STEP > MIN_SIZE:
        sizes.append(sizes[-1] * _STEP)
    at = 0
    while at + 1 < len(sizes):
        leap = sizes[at : at + _WINDOW_STEPS + 1]
        if len(leap) > _WINDOW_STEPS and probe.holds_along(leap):
            at += _WINDOW_STEPS
            continue
        failing = _vanishing(probe, sizes[at + 1], sizes[at])
        if failing:
            return failing, sizes[at]
        at += 1
    return MIN_SIZE, sizes[at]


def _vanishing(probe: SizeProbe, low: float, high: float) -> float | None:
    """A size that fails: `low`, or one above it at which a window has nearly vanished.

    Between two bridges a window narrows, fails, and then vanishes; the motif may hold again after.
    """
    if probe.weakness(low):
        return low
    count = probe.count(high)
    if probe.count(low) == count:
        return None
    while high - low > _VANISHING_PRECISION * high:
        middle = (low + high) / 2
        low, high = (middle, high) if probe.count(middle) != count else (low, middle)
    return high if probe.weakness(high) else None


def _bracket_above(
    fails: Callable[[float], object], failing: float, top: float
) -> tuple[float, float | None]:
    """Two neighbouring sizes above one that fails: one that fails, one that holds."""
    size, last = failing, top
    holding: float | None = None
    while size < last:
        size = min(size / _STEP, last)
        if fails(size):
            failing, holding, last = size, None, top
        elif holding is None:
            holding, last = size, min(top, size * (1 + _SEARCH_ABOVE))
    return failing, holding


def _close_in(
    fails: Callable[[float], object], failing: float, holding: float, exact: float
) -> tuple[float, float]:
    """The two sizes narrowed by bisection, one still failing and one still holding."""
    if not fails(failing):
        return failing, failing
    while holding - failing > exact * holding:
        middle = (failing + holding) / 2
        if fails(middle):
            failing = middle
        else:
            holding = middle
    return failing, holding


class SizeProbe:
    """A motif on a card, tested at one size after another."""

    def __init__(self, motif: Motif, card: Card, least_reach: float = MIN_REACH) -> None:
        self.motif = motif
        self.card = card
        self.least_reach = least_reach
        self.at = cache(partial(Resized, motif, card))
        """The motif at a given size (cached)."""
        self.weakness = cache(self._weakness)
        self._narrow = cache(self._narrow_at)
        self._foldable = cache(self._foldable_at)

    def cut(self, size: float) -> Cuts:
        """The cuts at a size, bridges subtracted."""
        return self.at(size).cuts

    def count(self, size: float) -> int:
        """The number of windows at a size."""
        return int(shapely.get_num_geometries(self.cut(size).windows))

    def holds_along(self, sizes: Sequence[float]) -> bool:
        """Whether a motif that holds at the first of falling sizes does so at all of them.

        Windows may get narrow between two bridges and then vanish, so they are tried at each size.
        Paper tears or comes loose only at smaller sizes, unless a window vanishes.
        """
        return (
            not any(map(self._narrow, sizes[1:]))
            and self.count(sizes[0]) == self.count(sizes[-1])
            and not self.weakness(sizes[-1])
        )

    def failure(self, size: float) -> FailureMode | None:
        """What fails at a size, if anything."""
        return self.weakness(size) or (FailureMode.FLAP if self.flaps_lost(size) else None)

    def main_flaps(self, size: float) -> list[Hinge]:
        """The flaps at a size, without details."""
        hinges = self.at(size).hinges.hinges
        largest = max((hinge.flap.area for hinge in hinges), default=0.0)
        return [hinge for hinge in hinges if hinge.flap.area >= MIN_PART_SHARE * largest]

    def reason(self, failing: float, smallest: float | None = None) -> Reason:
        """Why the motif does not hold at `failing`, described at the smallest size that does."""
        failure, reported = self.failure(failing) or FailureMode.SIZE, smallest or failing
        place, at_size = None, failing
        if failure is FailureMode.LOOSE:
            place = loose_part(self.cut(failing))
        elif failure is FailureMode.WEB:
            neck = next(iter(find_necks(self.cut(failing), widest=self.card.least_web)), None)
            place = neck.at if neck else narrow_web(self.cut(failing), self.card.least_web)
        elif failure is FailureMode.WINDOW:
            place = narrow_window(self.cut(failing).windows, self.card.least_window)
        elif failure is FailureMode.FLAP:
            flaps, at_size = self.main_flaps(reported), reported
            place = min(flaps, key=lambda flap: flap.reach).middle if flaps else None
        scale = self.motif.size / at_size
        message = REASONS[failure].format(
            size=format_mm(reported),
            web=format_mm(self.card.least_web),
            window=format_mm(self.card.least_window),
            least=format_mm(MIN_SIZE),
        )
        at = (place[0] * scale, place[1] * scale) if place else None
        return Reason(failure, message, at)

    def findings(self, smallest: float | None) -> tuple[Finding, ...]:
        """Findings about the motif as drawn, about the card, and about tips that may fray."""
        artwork, bridges = at_size(self.motif, self.motif.size, self.card)
        cuts, findings = clean(artwork)
        size = max(self.motif.size, smallest or 0.0)
        return (
            *findings,
            *check_bridges(cuts, bridges),
            *_check_card(self.card),
            *thin_tip(self.cut(size), self.card, self.motif.size / size),
        )

    def _weakness(self, size: float) -> FailureMode | None:
        """What fails at a size, apart from flaps."""
        cuts = self.cut(size)
        if loose_part(cuts):
            return FailureMode.LOOSE
        if self._narrow(size):
            return FailureMode.WINDOW
        return FailureMode.WEB if narrow_web(cuts, self.card.least_web) else None

    def _narrow_at(self, size: float) -> bool:
        return narrow_window(self.cut(size).windows, self.card.least_window) is not None

    def flaps_lost(self, size: float) -> bool:
        """Whether fewer flaps can be folded at a size below the drawn one than as drawn."""
        if not self.motif.hold.lifts or size >= self.motif.size:
            return False
        return self._foldable(size) < self._foldable(self.motif.size)

    def _foldable_at(self, size: float) -> int:
        return sum(flap.reach >= self.least_reach for flap in self.main_flaps(size))


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
