"""Edit bridges one by one, reporting how each edit changes the paper.

An `Editor` is an immutable motif on a card. Every operation returns the result together with a new
editor, so keeping the old editor gives undo.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Unpack

import numpy as np

from hingeleaf.errors import BridgeError
from hingeleaf.model import XY, Bridge, Card, Cuts, Finding, HoldStyle, Motif
from hingeleaf.paper.arrangement import CutArrangement
from hingeleaf.paper.bridges import check_bridges, is_same
from hingeleaf.paper.placing import bridge_at, moved, refitted
from hingeleaf.paper.planning import PlanOptions, default_width, plan_for
from hingeleaf.paper.size_limits import Limits, find_limits
from hingeleaf.units import format_mm

EXACT = 0.01
"""Relative precision of the smallest size while editing."""


@dataclass(frozen=True)
class Editor:
    """Editor for a motif's bridges on a card; its artwork is analysed only once."""

    motif: Motif
    card: Card
    largest: float = 300.0
    """mm: longest side that the cutting area allows, for the size limits."""
    hint: float | None = None
    """mm: smallest size before a small change, tested first."""

    @cached_property
    def arrangement(self) -> CutArrangement:
        """The artwork without bridges."""
        return CutArrangement.of(self.motif.windows, self.motif.slits, self.card)

    @cached_property
    def limits(self) -> Limits:
        """Smallest and largest safe size with the current bridges; computed on first use."""
        return find_limits(self.motif, self.card, largest=self.largest, hint=self.hint, exact=EXACT)

    def add(
        self, at: XY, *, width: float | None = None, direction: float | None = None
    ) -> BridgeEdit:
        """Add a bridge across the cut at or near a point, the shortest way or as directed.

        Raises BridgeError where no bridge of that width crosses cleanly.
        """
        width = default_width(self.motif.size, self.card) if width is None else width
        new = bridge_at(self.arrangement, at, self._wide_enough(width), direction)
        bridges = (*self.motif.bridges, replace(new, pinned=True))
        return self._edited(bridges, len(bridges) - 1)

    def move(self, index: int, by: float) -> BridgeEdit:
        """Move a bridge `by` mm along its starting edge, square to it, to a clean place."""
        return self._changed(index, lambda bridge: moved(self.arrangement, bridge, by))

    def turn(self, index: int, by: float) -> BridgeEdit:
        """Rotate a bridge `by` degrees about its middle, clockwise as seen."""

        def turned(bridge: Bridge) -> Bridge:
            return refitted(self.arrangement, replace(bridge, direction=bridge.direction + by))

        return self._changed(index, turned)

    def widen(self, index: int, by: float) -> BridgeEdit:
        """Make a bridge `by` mm wider (or narrower, down to the card's least web)."""

        def widened(bridge: Bridge) -> Bridge:
            width = self._wide_enough(bridge.width + by)
            return refitted(self.arrangement, replace(bridge, width=width))

        return self._changed(index, widened)

    def pin(self, index: int, pinned: bool = True) -> BridgeEdit:
        """Pin a bridge so that planning leaves it alone, or unpin it."""
        return self._changed(index, lambda bridge: replace(bridge, pinned=pinned), pinned=pinned)

    def delete(self, index: int) -> BridgeEdit:
        """Remove a bridge."""
        self._bridge(index)
        bridges = self.motif.bridges
        return self._edited((*bridges[:index], *bridges[index + 1 :]), None)

    def mirror(self, index: int) -> BridgeEdit:
        """Add the mirror image of a bridge about the artwork's axis.

        Raises BridgeError if the artwork has no mirror axis, or that bridge exists already.
        """
        bridge = self._bridge(index)
        axis = self.arrangement.axis
        if axis is None:
            raise BridgeError(
                "The artwork has no mirror axis.", "Add the other bridge where it should be."
            )
        x, y = axis.mirror(np.array(bridge.at))
        image = replace(
            bridge,
            at=(float(x), float(y)),
            direction=2 * axis.direction - bridge.direction,
            pinned=True,
        )
        if any(is_same(image, other) for other in self.motif.bridges):
            raise BridgeError("The bridge has its mirror image already.")
        bridges = (*self.motif.bridges, refitted(self.arrangement, image))
        return self._edited(bridges, len(bridges) - 1)

    def replan(
        self, *, hold: HoldStyle | None = None, **options: Unpack[PlanOptions]
    ) -> BridgeEdit:
        """Plan all bridges again except the pinned ones."""
        made = plan_for(self.motif, self.card, hold=hold, **options)
        return self._edited(made.bridges, None, hold=made.hold, findings=made.findings)

    def _changed(
        self, index: int, change: Callable[[Bridge], Bridge], *, pinned: bool = True
    ) -> BridgeEdit:
        bridges = list(self.motif.bridges)
        bridges[index] = replace(change(self._bridge(index)), pinned=pinned)
        return self._edited(tuple(bridges), index)

    def _bridge(self, index: int) -> Bridge:
        count = len(self.motif.bridges)
        if not 0 <= index < count:
            raise BridgeError(f"There is no bridge {index}.", f"The motif has {count}.")
        return self.motif.bridges[index]

    def _wide_enough(self, width: float) -> float:
        least = self.card.least_web
        if not width >= least:
            raise BridgeError(
                f"A bridge of {format_mm(width)} is narrower than the card's least web.",
                f"Give it {format_mm(least)} at least.",
            )
        return width

    def _edited(
        self,
        bridges: tuple[Bridge, ...],
        index: int | None,
        *,
        hold: HoldStyle | None = None,
        findings: tuple[Finding, ...] = (),
    ) -> BridgeEdit:
        hold = hold or self.motif.hold
        motif = replace(self.motif, windows=self.arrangement.windows, bridges=bridges, hold=hold)
        known = self.__dict__.get("limits")
        hint = known.sizes.smallest if known and known.sizes else self.hint
        editor = Editor(motif, self.card, self.largest, hint)
        editor.__dict__["arrangement"] = self.arrangement  # the artwork is unchanged
        idle = check_bridges(Cuts(self.arrangement.windows, self.arrangement.slits), bridges)
        return BridgeEdit(editor, index, (*findings, *idle))


@dataclass(frozen=True)
class BridgeEdit:
    """The result of one edit: bridges, and parts and necks before and after."""

    editor: Editor
    """The editor with this edit applied."""
    index: int | None
    """Index of the bridge added or changed; None if it was removed or all bridges may have
    changed."""
    findings: tuple[Finding, ...] = ()

    @property
    def bridges(self) -> tuple[Bridge, ...]:
        """All bridges after the edit."""
        return self.editor.motif.bridges
