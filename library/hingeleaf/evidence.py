"""Evidence: what a library's test cuts teach about a card, and from which size a motif holds."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from hingeleaf.model import Card, Motif
from hingeleaf.panel.ladder import A4, as_many_as_fit, usual_sizes
from hingeleaf.paper.mechanics.learning import Cut, HoldModel, Prior
from hingeleaf.paper.resized import Resized
from hingeleaf.paper.size_limits import find_limits

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library

SURE = 0.97
"""How probable it has to be that a motif holds at a size that is called sure."""
HALF_HOLD = 0.8
"""Share of a card's least web at which half of the webs are taken to hold before any cut, so that
nearly all hold at the least web itself."""
SMALLEST, MOST_GROWTH = 3.0, 4.0
"""Sizes that are looked at: from so many mm up to so many times the drawn size."""
RUNGS = 3
"""How many sizes a ladder tries once there is evidence."""
STEPS = 24
"""Halvings of the range of sizes; they come to less than 0.01 mm."""


@dataclass(frozen=True, slots=True)
class SureSize:
    """From which size on a motif surely holds on a card, and on how many cuts that rests."""

    size: float | None
    """mm; None where no size is sure."""
    own_held: int
    own_failed: int
    """Cuts of this motif."""
    others: int
    """Cuts of other motifs on the same card."""

    @property
    def words(self) -> str:
        """`97 % sure from 24 mm (4 held, 1 failed; 12 cuts of others)`."""
        if not self.own_held + self.own_failed + self.others:
            return "no test cuts on this card yet"
        counts = f"{self.own_held} held, {self.own_failed} failed"
        if self.others:
            counts += f"; {self.others} cut{'s' * (self.others > 1)} of others"
        if self.size is None:
            return f"sure at no size ({counts})"
        return f"{SURE:.0%} sure from {self.size:.1f} mm ({counts})".replace("%", " %", 1)


def narrowest_web(motif: Motif, size: float, card: Card) -> float | None:
    """Width in mm of the narrowest paper of a motif at a size, its bridges re-cut; None if none."""
    neck = Resized(motif, card, size).narrowest
    return None if neck is None else neck.width


def hold_model(library: Library, card: Card) -> HoldModel:
    """What all trials on a card teach; a trial whose motif has no web teaches nothing.

    Trials of the same motif, revision and size are measured once.
    """
    widths: dict[tuple[str, int, float], float | None] = {}
    cuts = []
    for trial in library.trials(card=card.name):
        key = (trial.motif, trial.revision, trial.size)
        if key not in widths:
            motif = library.motif(trial.motif, trial.revision)
            widths[key] = narrowest_web(motif, trial.size, card)
        width = widths[key]
        if width:
            cuts.append(Cut(_name(trial.motif, trial.revision), width, trial.outcome == "held"))
    return HoldModel(cuts, prior_of(card))


def prior_of(card: Card) -> Prior:
    """What is believed of a card before its first cut: its least web."""
    return Prior(HALF_HOLD * card.least_web)


def sure_size(model: HoldModel, motif: Motif, card: Card) -> SureSize:
    """From which size on a motif holds with probability `SURE`."""
    name = _name(motif.name, motif.revision)
    held, failed = model.counts(name)
    others = sum(model.counts(None)) - held - failed
    size = size_of_width(motif, model.safe_width(SURE, name), card)
    return SureSize(size, held, failed, others)


def ladder_sizes(
    library: Library, motif: Motif, card: Card, sheet: tuple[float, float] = A4
) -> list[float]:
    """The sizes that the next ladder should try, in whole mm, small to large.

    Without any trial of the motif they lie about the smallest size that geometry allows (the drawn
    one where none is). After that they are those whose cuts teach most.
    """
    name = _name(motif.name, motif.revision)
    model = hold_model(library, card)
    if not sum(model.counts(name)):
        sizes = find_limits(motif, card, largest=max(sheet), points=0).sizes
        return usual_sizes(motif, motif.size if sizes is None else sizes.smallest, sheet)
    widths = model.next_widths(RUNGS, name)
    sizes_found = [size_of_width(motif, width, card) for width in widths]
    whole = {float(max(1, round(size))) for size in sizes_found if size is not None}
    return as_many_as_fit(motif, sorted(whole or {motif.size}), sheet)


def size_of_width(motif: Motif, width: float, card: Card) -> float | None:
    """The smallest size at which a motif's narrowest web reaches a width; None if none does.

    Webs get wider with the size, or stay as wide as a bridge.
    """

    def enough(size: float) -> bool:
        found = narrowest_web(motif, size, card)
        return found is None or found >= width

    low, high = SMALLEST, MOST_GROWTH * motif.size
    if not math.isfinite(width) or not enough(high):
        return None
    for _ in range(STEPS):
        middle = (low + high) / 2
        low, high = (low, middle) if enough(middle) else (middle, high)
        if high - low < 0.01:
            break
    return high


def _name(motif: str, revision: int) -> str:
    """Another revision is another drawing."""
    return f"{motif}@{revision}"
