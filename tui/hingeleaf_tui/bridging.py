"""Bridges edited by hand: quick answers first, what takes longer after them.

An edit answers with the new bridges, their picture and what falls out, in a few milliseconds.
Necks, flaps and the smallest safe size follow from a job that a newer edit replaces.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from hingeleaf.errors import BridgeError
from hingeleaf.model import XY, Bridge, Card, Cuts, HoldStyle, Motif
from hingeleaf.paper.bridges import lay_bridges
from hingeleaf.paper.flaps import Flaps, find_flaps
from hingeleaf.paper.ground import Ground
from hingeleaf.paper.limits import Limits, find_limits
from hingeleaf.paper.necks import Neck, find_necks
from hingeleaf.paper.parts import Parts, find_parts
from hingeleaf.paper.placing import bridge_at, moved, refitted
from hingeleaf.paper.planning import plan_motif
from hingeleaf.paper.sheets import clean
from hingeleaf.paper.strips import at_size
from hingeleaf.tasks import Progress, Task
from hingeleaf.units import format_mm
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.drawing.ink import Ink
from hingeleaf_tui.drawing.motif import draw_motif
from hingeleaf_tui.drawing.view import View, bounds_of

LARGEST = 300.0
"""mm: up to here sizes are reckoned."""
USUAL_WIDTH = 5.0
SAME_PLACE = 0.1
"""mm: bridges whose middles lie this near to each other are the same."""


@dataclass(frozen=True)
class Bridging:
    """A motif on a card with its bridges as they are now. Every edit gives another one."""

    motif: Motif
    card: Card
    ground: Ground
    chosen: int = 0

    @classmethod
    def begin(cls, motif: Motif, card: Card) -> Bridging:
        """Reckon the artwork once, for all edits."""
        return cls(motif, card, Ground.of(motif.windows, motif.slits, card))

    def move(self, by: float) -> Bridging:
        """The chosen bridge `by` mm farther along its edge."""
        return self._changed(lambda bridge: moved(self.ground, bridge, by))

    def turn(self, by: float) -> Bridging:
        """The chosen bridge turned by degrees, clockwise as seen."""
        return self._changed(
            lambda bridge: refitted(self.ground, replace(bridge, direction=bridge.direction + by))
        )

    def widen(self, by: float) -> Bridging:
        """The chosen bridge `by` mm wider, or narrower down to the card's least web."""

        def change(bridge: Bridge) -> Bridge:
            width = bridge.width + by
            if width < self.card.least_web:
                raise BridgeError(
                    f"{self.card.name} needs bridges of {format_mm(self.card.least_web)} at least.",
                    "It stays as it is.",
                )
            return refitted(self.ground, replace(bridge, width=width))

        return self._changed(change)

    def pin(self) -> Bridging:
        """The chosen bridge pinned, so that planning keeps it, or let go."""
        bridge = self._bridge
        return self._with_chosen(replace(bridge, pinned=not bridge.pinned))

    def add(self, at: XY) -> Bridging:
        """One more bridge, across the cut at or next to a place."""
        new = replace(bridge_at(self.ground, at, self._width), pinned=True)
        return self._with((*self.motif.bridges, new), len(self.motif.bridges))

    def delete(self) -> Bridging:
        """Without the chosen bridge."""
        gone = self._bridge
        left = tuple(bridge for bridge in self.motif.bridges if bridge is not gone)
        return self._with(left, min(self.chosen, max(len(left) - 1, 0)))

    def mirror(self) -> Bridging:
        """One more bridge, the chosen one's mirror image about the artwork's axis."""
        bridge, axis = self._bridge, self.ground.axis
        if axis is None:
            raise BridgeError("The artwork has no mirror axis.", "Add the other bridge by hand.")
        x, y = axis.mirror(np.array(bridge.at))
        turned = 2 * axis.direction - bridge.direction
        image = replace(bridge, at=(float(x), float(y)), direction=turned, pinned=True)
        if any(np.hypot(x - b.at[0], y - b.at[1]) < SAME_PLACE for b in self.motif.bridges):
            raise BridgeError("The bridge has its mirror image already.")
        bridges = (*self.motif.bridges, refitted(self.ground, image))
        return self._with(bridges, len(bridges) - 1)

    def plan(self, hold: HoldStyle) -> Bridging:
        """All bridges planned anew in a hold style, but for the pinned ones."""
        planned = plan_motif(self.motif, self.card, hold=hold, width=USUAL_WIDTH)
        return replace(self, motif=planned, chosen=0)

    def choose(self, number: int) -> Bridging:
        """Another bridge chosen."""
        return replace(self, chosen=number)

    @property
    def _bridge(self) -> Bridge:
        if not self.motif.bridges:
            raise BridgeError("The motif has no bridge.", "Add one, or plan them all.")
        return self.motif.bridges[self.chosen]

    @property
    def _width(self) -> float:
        return self.motif.bridges[self.chosen].width if self.motif.bridges else USUAL_WIDTH

    def _changed(self, change: Callable[[Bridge], Bridge]) -> Bridging:
        return self._with_chosen(replace(change(self._bridge), pinned=True))

    def _with_chosen(self, bridge: Bridge) -> Bridging:
        bridges = list(self.motif.bridges)
        bridges[self.chosen] = bridge
        return self._with(tuple(bridges), self.chosen)

    def _with(self, bridges: tuple[Bridge, ...], chosen: int) -> Bridging:
        return replace(self, motif=replace(self.motif, bridges=bridges), chosen=chosen)


@dataclass(frozen=True)
class AtSize:
    """A motif re-cut at a size: what is quick to know of it."""

    bridging: Bridging
    size: float

    def is_like(self, other: AtSize) -> bool:
        """Whether the paper does the same: only the choice among the bridges may differ."""
        return (self.size, self.bridging.motif) == (other.size, other.bridging.motif)

    @cached_property
    def artwork(self) -> Cuts:
        """Windows and slits without bridges."""
        cuts, _ = clean(self._resized[0])
        return cuts

    @property
    def bridges(self) -> tuple[Bridge, ...]:
        """The bridges as they are at this size."""
        return self._resized[1]

    @cached_property
    def cuts(self) -> Cuts:
        """What is cut."""
        return lay_bridges(self.artwork, self.bridges)

    @cached_property
    def parts(self) -> Parts:
        """What holds and what falls out."""
        return find_parts(self.artwork, bridges=self.bridges)

    @cached_property
    def _resized(self) -> tuple[Cuts, tuple[Bridge, ...]]:
        return at_size(self.bridging.motif, self.size, self.bridging.card)

    def whole_view(self, columns: int, rows: int, ink: Ink) -> View:
        """The view of all of it."""
        across, down = ink.dots
        bounds = bounds_of((self.artwork.windows, self.artwork.slits))
        return View.fit(bounds, columns * across, rows * down, margin=3)

    def paint(
        self, columns: int, rows: int, ink: Ink, view: View | None, aim: XY | None, flaps: Flaps
    ) -> Picture:
        """The picture, with bridges numbered, loose parts hatched and flaps with their hinges."""
        folded = replace(self.cuts, folds=flaps.folds)
        return draw_motif(
            folded,
            self.bridges,
            columns,
            rows,
            ink,
            view=view or self.whole_view(columns, rows, ink),
            loose=[part.polygon for part in self.parts.loose],
            flaps=[flap.region for flap in flaps.flaps],
            chosen=self.bridging.chosen,
            aim=aim,
        )


@dataclass(frozen=True, slots=True)
class Standing:
    """What is known of a motif at a size so far; None is not reckoned yet."""

    at: AtSize
    narrowest: Neck | None = None
    flaps: Flaps | None = None
    limits: Limits | None = None


def reckon(at: AtSize, after: float = 0.0) -> Task[Standing]:
    """Necks and flaps at a size, then the sizes that are safe.

    Begins `after` so many seconds: a newer edit within them stops it before it has cost a key
    anything.
    """
    time.sleep(after)
    yield Progress(0, 3, "")
    bridging = at.bridging
    flaps = find_flaps(at.artwork, at.bridges, bridging.motif.hold)
    yield Progress(1, 3, "", Standing(at, None, flaps))
    narrowest = next(iter(find_necks(at.cuts)), None)
    yield Progress(2, 3, "", Standing(at, narrowest, flaps))
    limits = find_limits(bridging.motif, bridging.card, largest=LARGEST, points=0)
    return Standing(at, narrowest, flaps, limits)


class Hand:
    """The edits made so far. Used on one thread only, one call at a time."""

    def __init__(self, now: Bridging) -> None:
        self.now = now
        self._before: list[Bridging] = []
        self._after: list[Bridging] = []

    def edit(self, change: Callable[[Bridging], Bridging]) -> Bridging:
        """Make an edit. Raises BridgeError, and leaves everything as it was then."""
        edited = change(self.now)
        if edited.motif != self.now.motif:
            self._before.append(self.now)
            self._after.clear()
        self.now = edited
        return edited

    def undo(self) -> Bridging:
        """Take the last edit back. Raises BridgeError where there is none."""
        return self._step(self._before, self._after, "There is nothing to take back.")

    def redo(self) -> Bridging:
        """Make the edit again that was taken back. Raises BridgeError where there is none."""
        return self._step(self._after, self._before, "There is nothing to do again.")

    def _step(self, source: list[Bridging], target: list[Bridging], nothing: str) -> Bridging:
        if not source:
            raise BridgeError(nothing)
        target.append(self.now)
        self.now = source.pop()
        return self.now


def next_style(hold: HoldStyle) -> HoldStyle:
    """The hold style after this one, round and round."""
    styles: Sequence[HoldStyle] = list(HoldStyle)
    return styles[(styles.index(hold) + 1) % len(styles)]
