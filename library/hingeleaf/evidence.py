"""Estimate from test cuts the smallest size at which a motif holds on a card."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from hingeleaf.catalogue.trial_status import State, TrialOutcome, trial_status
from hingeleaf.model import Card, Motif
from hingeleaf.panel.ladder import as_many_as_fit, default_sizes
from hingeleaf.paper.erosion import narrow_window
from hingeleaf.paper.mechanics.learning import (
    CardModel,
    Detail,
    ObservedCut,
    Prior,
    quantile_levels,
    smallest_from,
)
from hingeleaf.paper.mechanics.starting_values import material_of
from hingeleaf.paper.resized import Resized
from hingeleaf.paper.size_limits import find_limits
from hingeleaf.text import plural
from hingeleaf.units import A4

if TYPE_CHECKING:
    from hingeleaf.catalogue.store import Library
    from hingeleaf.material import MeasuredValue

CONFIDENCE = 0.97
"""Probability of holding from which on a size is called sure."""
HALF_HOLD = 0.8
"""Share of a card's least web or window at which half are assumed to hold before any cut, so that
nearly all hold at the least width itself."""
HALF_HINGES, HINGE_UNCERTAINTY = 1.5, 0.5
"""The same for hinges, in least webs, and its uncertainty (common practice, no source)."""
STRIP_TO_MOTIF = 0.17
"""Standard deviation of the logarithmic difference between the limits of a motif's details and of a
test sheet's straight ones: the chance in one cut of each width (.15), and the reading."""
MIN_SIZE, MAX_GROWTH = 3.0, 4.0
"""Range of sizes considered: from MIN_SIZE mm up to MAX_GROWTH times the drawn size."""
LADDER_SIZES = 3
"""How many sizes a ladder has once there is evidence."""
POINTS = 10
"""Sizes at which a motif's details are measured; linear interpolation is accurate between them."""
MIN_WIDTH, MAX_WIDTH, HALVINGS = 0.05, 20.0, 8
"""mm: search range for the narrowest window, and number of bisections, for a precision of 1 %."""
CURVES_VERSION = "details 1"
"""Changed when details are measured differently, so that stored measurements are redone."""


@dataclass(frozen=True, slots=True)
class SafeSize:
    """The size from which a motif surely holds on a card, and the number of cuts behind it."""

    size: float | None
    """mm; None if no size is sure."""
    own_held: int
    own_failed: int
    """Cuts of this motif, held and failed."""
    others: int
    """Cuts of other motifs on the same card."""

    @property
    def words(self) -> str:
        """`97 % sure from 24 mm (5 cuts: 4 held, 1 failed; 12 cuts of others)`."""
        own = self.own_held + self.own_failed
        if not own + self.others:
            return "no test cuts on this card yet"
        counts = plural(own, "cut")
        if own:
            counts += f": {self.own_held} held, {self.own_failed} failed"
        if self.others:
            counts += f"; {plural(self.others, 'cut')} of others"
        if self.size is None:
            return f"sure at no size ({counts})"
        return f"{CONFIDENCE:.0%} sure from {self.size:.1f} mm ({counts})".replace("%", " %", 1)


@dataclass(frozen=True, slots=True)
class DetailCurves:
    """The narrowest web, window and hinge of a motif by its size on a card, bridges re-cut; mm.

    Interpolated linearly between sizes, constant beyond them. A width is infinite if the motif has
    no such detail at that size.
    """

    sizes: tuple[float, ...]
    widths: Mapping[Detail, tuple[float, ...]]

    @classmethod
    def of(cls, motif: Motif, card: Card) -> DetailCurves:
        """Measured at `POINTS` geometrically spaced sizes."""
        sizes = np.geomspace(MIN_SIZE, MAX_GROWTH * motif.size, POINTS).tolist()
        found = [_narrowest(Resized(motif, card, size)) for size in sizes]
        return cls(tuple(sizes), {each: tuple(row[each] for row in found) for each in Detail})

    def at(self, size: float) -> dict[Detail, float]:
        """The widths at a size, for all details that exist."""
        found = {
            detail: float(np.interp(size, self.sizes, widths))
            for detail, widths in self.widths.items()
        }
        return {detail: width for detail, width in found.items() if math.isfinite(width)}

    def to_data(self) -> dict[str, list[float | None]]:
        """The curves as JSON data."""
        rows = {"size": self.sizes} | {detail.value: row for detail, row in self.widths.items()}
        return {name: [x if math.isfinite(x) else None for x in row] for name, row in rows.items()}

    @classmethod
    def from_data(cls, data: object) -> DetailCurves | None:
        """The curves from the data of `to_data`; None for anything else."""
        if not isinstance(data, dict) or set(data) != {"size", *Detail}:
            return None
        rows = {
            name: tuple(math.inf if x is None else x for x in row if x is None or _is_width(x))
            for name, row in data.items()
            if isinstance(row, list)
        }
        if len({len(row) for row in rows.values()}) != 1 or len(rows) != len(data):
            return None
        return cls(rows["size"], {detail: rows[detail] for detail in Detail})


def _is_width(value: object) -> bool:
    return isinstance(value, float) and 0 < value < 1e6


def _narrowest(motif: Resized) -> dict[Detail, float]:
    web = motif.narrowest
    lengths = [hinge.length for hinge in motif.hinges.hinges if hinge.length > 0]
    return {
        Detail.WEB: math.inf if web is None else web.width,
        Detail.WINDOW: _narrowest_window(motif),
        Detail.HINGE: min(lengths, default=math.inf),
    }


def _narrowest_window(motif: Resized) -> float:
    windows = motif.cuts.windows
    if windows.is_empty:
        return math.inf
    low, high = MIN_WIDTH, MAX_WIDTH
    for _ in range(HALVINGS):
        middle = math.sqrt(low * high)
        low, high = (low, middle) if narrow_window(windows, middle) else (middle, high)
    return math.sqrt(low * high)


def detail_curves(
    library: Library, motifs: Iterable[tuple[str, int]], card: Card
) -> dict[tuple[str, int], DetailCurves]:
    """The curves of motifs by name and revision; measured once and stored in the library."""
    settings = f"{CURVES_VERSION} web {card.least_web:g} window {card.least_window:g}"
    known = {key: DetailCurves.from_data(value) for key, value in library.limits(settings).items()}
    curves, measured = {}, {}
    for key in motifs:
        curve = known.get(key)
        if curve is None:
            curve = DetailCurves.of(library.motif(*key), card)
            measured[key] = curve.to_data()
        curves[key] = curve
    if measured and library.writable:
        library.set_limits(settings, measured)
    return curves


class Evidence:
    """What all trials on a card show about it and its motifs."""

    def __init__(self, library: Library, card: Card) -> None:
        self._library = library
        self._card = card
        self._trials = library.trials.all(card=card.name)
        keys = sorted({(trial.motif, trial.revision) for trial in self._trials})
        self._curves = detail_curves(library, keys, card)
        cuts = [
            ObservedCut(
                _name(trial.motif, trial.revision),
                self._curves[trial.motif, trial.revision].at(trial.size),
                trial.outcome == TrialOutcome.HELD,
            )
            for trial in self._trials
        ]
        self.model = CardModel(cuts, priors_of(card))

    def sure_size(self, motif: Motif) -> SafeSize:
        """The size from which on a motif holds with probability `CONFIDENCE`."""
        name, curves = _name(motif.name, motif.revision), self._curves_of(motif)
        held, failed = self.model.counts(name)
        others = sum(self.model.counts(None)) - held - failed
        size = smallest_from(
            lambda size: self.model.probability(curves.at(size), name), curves.sizes, CONFIDENCE
        )
        return SafeSize(size, held, failed, others)

    def least_size(self, motif: Motif) -> float | None:
        """The smallest size to use a motif at by its own test cuts; None if there is none.

        It is the smaller of its sure size and the least size of its proven range; 0 for a motif
        never cut, which leaves the limit to geometry.
        """
        key = (motif.name, motif.revision)
        own = [each for each in self._trials if (each.motif, each.revision) == key]
        status = trial_status((each.size, each.outcome) for each in own)
        if status.state is State.UNTRIED:
            return 0.0
        held = [status.proven[0]] if status.state is State.PROVEN and status.proven else []
        size = self.sure_size(motif).size
        return min([*held, *([] if size is None else [size])], default=None)

    def ladder_sizes(self, motif: Motif, sheet: tuple[float, float] = A4) -> list[float]:
        """The sizes that the next ladder should try, in whole mm, ascending.

        Without any trial on the card these are around the smallest size that geometry allows (or
        the drawn size, if none is). Otherwise they are the sizes whose cuts are most informative.
        """
        name = _name(motif.name, motif.revision)
        if not self._trials:
            sizes = find_limits(motif, self._card, largest=max(sheet)).sizes
            return default_sizes(motif, motif.size if sizes is None else sizes.smallest, sheet)
        curves = self._curves_of(motif)
        found = [
            smallest_from(
                lambda size: self.model.exceeds_limits(curves.at(size), name), curves.sizes, share
            )
            for share in quantile_levels(LADDER_SIZES)
        ]
        whole = {float(max(1, round(size))) for size in found if size is not None}
        return as_many_as_fit(motif, sorted(whole or {motif.size}), sheet)

    def _curves_of(self, motif: Motif) -> DetailCurves:
        key = (motif.name, motif.revision)
        if key not in self._curves:
            self._curves |= detail_curves(self._library, [key], self._card)
        return self._curves[key]


def priors_of(card: Card) -> dict[Detail, Prior]:
    """The prior of a card's least widths before its first motif is cut.

    Readings from its test sheet are used with their uncertainty, else its least web and window.
    """
    material = material_of(card)
    return {
        Detail.WEB: _prior(card.least_web, material.least_web),
        Detail.WINDOW: _prior(card.least_window, material.least_window),
        Detail.HINGE: Prior(HALF_HINGES * card.least_web, HINGE_UNCERTAINTY),
    }


def _prior(least: float, read: MeasuredValue | None) -> Prior:
    """The prior of a card's least web or window, whose reading is an upper bound."""
    if read is None or read.value != least:
        return Prior(HALF_HOLD * least)
    middle = 1 - math.sqrt(3) * read.uncertainty  # mean of a limit spread evenly below the reading
    return Prior(middle * read.value, math.hypot(read.uncertainty / middle, STRIP_TO_MOTIF))


def _name(motif: str, revision: int) -> str:
    """A key for a motif's revision, since another revision is another drawing."""
    return f"{motif}@{revision}"
