"""Evidence: what test cuts show about a card, and from which size on a motif holds."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from hingeleaf.model import Card, Motif
from hingeleaf.panel.ladder import A4, as_many_as_fit, usual_sizes
from hingeleaf.paper.mechanics.learning import HoldModel, ObservedWeb, Prior
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
POINTS = 20
"""Sizes at which a motif's narrowest web is measured; the curve between them is nearly straight."""
MEASURING = "webs 1"
"""Goes up when webs are measured in another way, so that what was kept is measured again."""


@dataclass(frozen=True, slots=True)
class SafeSize:
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


@dataclass(frozen=True, slots=True)
class WebCurve:
    """The narrowest web of a motif by its size on a card, both in mm, bridges re-cut; rising sizes.

    Between its points it is taken as straight, outside as level. Empty where a motif has no web.
    """

    sizes: tuple[float, ...]
    widths: tuple[float, ...]

    @classmethod
    def of(cls, motif: Motif, card: Card) -> WebCurve:
        """Measured at `POINTS` sizes, evenly apart as ratios."""
        sizes = np.geomspace(SMALLEST, MOST_GROWTH * motif.size, POINTS).tolist()
        necks = [(size, Resized(motif, card, size).narrowest) for size in sizes]
        found = [(size, neck.width) for size, neck in necks if neck is not None]
        return cls(tuple(size for size, _ in found), tuple(width for _, width in found))

    def width(self, size: float) -> float | None:
        """The narrowest web at a size."""
        return float(np.interp(size, self.sizes, self.widths)) if self.sizes else None

    def size(self, width: float) -> float | None:
        """The smallest size from which on no web is narrower than `width`; None if there is none.

        A motif without any web holds at every size.
        """
        if not self.sizes:
            return SMALLEST
        enough = np.array(self.widths) >= width
        if not enough[-1]:
            return None
        below = np.flatnonzero(~enough)
        if not len(below):
            return self.sizes[0]
        last = int(below[-1])
        pair = slice(last, last + 2)
        return float(np.interp(width, self.widths[pair], self.sizes[pair]))


def web_curves(
    library: Library, motifs: Iterable[tuple[str, int]], card: Card
) -> dict[tuple[str, int], WebCurve]:
    """The curves of motifs by name and revision; measured once and kept in the library."""
    settings = f"{MEASURING} web {card.least_web:g} window {card.least_window:g}"
    known = {key: _curve(value) for key, value in library.limits(settings).items()}
    curves, measured = {}, {}
    for key in motifs:
        curve = known.get(key)
        if curve is None:
            curve = WebCurve.of(library.motif(*key), card)
            measured[key] = [list(curve.sizes), list(curve.widths)]
        curves[key] = curve
    if measured and library.writable:
        library.set_limits(settings, measured)
    return curves


def _curve(value: object) -> WebCurve | None:
    """A curve as it was kept; None for what is none."""
    match value:
        case [list(sizes), list(widths)] if len(sizes) == len(widths):
            if all(isinstance(each, float) and 0 < each < 1e6 for each in [*sizes, *widths]):
                return WebCurve(tuple(sizes), tuple(widths))
    return None


class Evidence:
    """What all trials on a card show about it and its motifs."""

    def __init__(self, library: Library, card: Card) -> None:
        self._library = library
        self._card = card
        trials = library.trials.all(card=card.name)
        keys = sorted({(trial.motif, trial.revision) for trial in trials})
        self._curves = web_curves(library, keys, card)
        cuts = []
        for trial in trials:
            width = self._curves[trial.motif, trial.revision].width(trial.size)
            if width:
                cuts.append(
                    ObservedWeb(_name(trial.motif, trial.revision), width, trial.outcome == "held")
                )
        self.model = HoldModel(cuts, prior_of(card))

    def sure_size(self, motif: Motif) -> SafeSize:
        """From which size on a motif holds with probability `SURE`."""
        name = _name(motif.name, motif.revision)
        held, failed = self.model.counts(name)
        others = sum(self.model.counts(None)) - held - failed
        size = self._curve(motif).size(self.model.safe_width(SURE, name))
        return SafeSize(size, held, failed, others)

    def ladder_sizes(self, motif: Motif, sheet: tuple[float, float] = A4) -> list[float]:
        """The sizes that the next ladder should try, in whole mm, small to large.

        Without any trial of the motif they lie about the smallest size that geometry allows (the
        drawn one where none is). After that they are those whose cuts teach most.
        """
        name = _name(motif.name, motif.revision)
        if not sum(self.model.counts(name)):
            sizes = find_limits(motif, self._card, largest=max(sheet), points=0).sizes
            return usual_sizes(motif, motif.size if sizes is None else sizes.smallest, sheet)
        curve = self._curve(motif)
        found = [curve.size(width) for width in self.model.next_widths(RUNGS, name)]
        whole = {float(max(1, round(size))) for size in found if size is not None}
        return as_many_as_fit(motif, sorted(whole or {motif.size}), sheet)

    def _curve(self, motif: Motif) -> WebCurve:
        key = (motif.name, motif.revision)
        if key not in self._curves:
            self._curves |= web_curves(self._library, [key], self._card)
        return self._curves[key]


def prior_of(card: Card) -> Prior:
    """The prior for a card's least web, before its first test cut."""
    return Prior(HALF_HOLD * card.least_web)


def _name(motif: str, revision: int) -> str:
    """Another revision is another drawing."""
    return f"{motif}@{revision}"
