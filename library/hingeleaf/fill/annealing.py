"""Place motifs greedily, then improve the packing by simulated annealing."""

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from hingeleaf.fill.objective import Objective
from hingeleaf.fill.packing import Packing, Window
from hingeleaf.fill.table_columns import AREA, LARGEST

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
FIRST_TRIES, KEPT_PLACES = 2000, 6
"""Random poses tested for each motif, and how many of them are improved."""
NAMED_SHARE = 0.5
"""Share of the field that motifs requested by name may take at first, all together."""
FOCAL_SHARE, FOCAL_APART = 0.25, 0.45
"""Greatest share of the field for focal motifs, and their initial distance from each other, as a
share of their least size."""
MISSES = 3
"""Number of misses in a row, each with twice the tries, after which the field counts as full."""
OUT = (0.1, 0.4, 0.35, 0.15)
"""Probabilities that none, one, two or three motifs are taken out."""
TRIES, TRIES_PER_KIND, MORE_TRIES, KEEP = 400, 15, 0.5, 6
"""Random poses tested for the first motif put in: least number, and number per kind; share of these
for every further motif; how many poses are improved."""
TEMPERATURE = 35.0
"""Score loss accepted at first, in square units."""
PRUNE_SCORE, PRUNE_SCORE_HOT = 10.0, 30.0
"""Score loss beyond what relaxation makes up for, in square units: at the end, added at first."""
EXTRA = 150.0
"""Area that small motifs next to a new one may add, in square units."""
SPOT_CANDIDATES = 10
"""Number of random free places of which the roomiest becomes the spot of a change."""
OVERLAP = 0.6
"""Mean initial overlap of a new motif with others, before relaxation, in units."""
AROUND, ALONG = 40.0, 16
"""Distance within which neighbours relax along, in units, and their greatest number."""
JIGGLE, SHAKEN = 1.5, 0.7
"""Random displacement before relaxation, in units, and its probability if no motif is out."""
GROWTH, ROUNDS = 0.012, 12
"""Growth per round, and number of rounds of a relaxation."""
ENOUGH, TOO_MUCH = 0.015, 0.06
"""Violation at which relaxing ends, and above which it has failed, in units."""
ROOMY, EMPTY = 2.3, 10.0
"""Clearance above which a place counts as empty, in units, and the weight of its cost."""
VARIETY = 0.2
"""Standard deviation of the random factor in choosing a kind."""
NEIGHBOURS, SHY = 5, 0.5
"""Number of motifs around a spot whose kinds are disfavoured, and the factor on their weight."""


def place_greedily(
    packing: Packing, objective: Objective, state: NDArray[np.uint64], most: int
) -> Iterator[int]:
    """Add motifs until nothing fits or there are `most`; yields their number.

    First the motifs requested by name; then, in a varied filling, a few focal motifs well apart;
    then the best motif for the best place, in a varied filling none as large as the focal ones.
    """
    focal = objective.focal_size
    yield from _place_missing(packing, objective, state)
    if math.isfinite(focal):
        yield from _place_focal(packing, objective, state)
    yield from place_more(packing, objective, state, most)


def place_more(
    packing: Packing, objective: Objective, state: NDArray[np.uint64], most: int
) -> Iterator[int]:
    """Add the best motif for the best place until nothing fits; yields the number of motifs."""
    focal, misses = objective.focal_size, 0
    while misses < MISSES and len(packing.kinds) < most:
        weights = objective.weights(packing.kinds)
        if _place_one(packing, weights, state, tries=FIRST_TRIES << misses, largest=focal):
            misses = 0
            yield len(packing.kinds)
        else:
            misses += 1


def _place_missing(
    packing: Packing, objective: Objective, state: NDArray[np.uint64]
) -> Iterator[int]:
    """Place requested motifs, none so large that it leaves too little room for the others."""
    missing = objective.missing(packing.kinds)
    areas = packing.tables.traits[:, AREA]
    while missing.any():
        share = NAMED_SHARE * objective.field_area / max(1, objective.least.sum())
        largest = math.sqrt(share / float(areas[missing > 0].mean()))
        if not _place_one(packing, (missing > 0).astype(float), state, largest=largest):
            break
        missing = objective.missing(packing.kinds)
        yield len(packing.kinds)


def _place_focal(
    packing: Packing, objective: Objective, state: NDArray[np.uint64]
) -> Iterator[int]:
    """Place a few large motifs, with room for a middle-sized one between any two."""
    traits = packing.tables.traits
    largest = float((traits[:, AREA] * traits[:, LARGEST] ** 2)[objective.shares > 0].max())
    for _ in range(int(FOCAL_SHARE * objective.field_area / largest)):
        weights = objective.weights(packing.kinds)
        apart = FOCAL_APART * objective.focal_size
        if not _place_one(packing, weights, state, apart=apart):
            break
        yield len(packing.kinds)
    packing.renew(packing.whole)


def _place_one(
    packing: Packing,
    weights: Floats,
    state: NDArray[np.uint64],
    *,
    tries: int = FIRST_TRIES,
    largest: float = math.inf,
    apart: float = 0.0,
) -> bool:
    place = packing.find(
        weights, state, packing.whole, least=0.0, tries=tries, keep=KEPT_PLACES, largest=largest
    )
    if place is not None:
        packing.add(*place, apart=apart)
    return place is not None


@dataclass(frozen=True, slots=True)
class _Before:
    """State to restore if a change is rejected."""

    poses: Floats
    kinds: Ints
    window: Window
    clearance: NDArray[np.float32]


class Annealer:
    """Tries one change after another and keeps those that are better, or by chance a bit worse.

    The accepted loss falls with the temperature set by the caller. `poses` and `kinds` are the best
    so far. The same random numbers make the same changes.
    """

    def __init__(self, packing: Packing, objective: Objective, random: np.random.Generator) -> None:
        self.packing = packing
        self.objective = objective
        self.random = random
        self.state = random.integers(0, 2**63, 1, np.uint64)
        self.area_unit = packing.unit**2
        self.fills_empty = False
        self.area_score = self.score = self.best = self._score(packing.poses)
        self.poses, self.kinds = packing.poses, packing.kinds

    def fill_empty(self) -> None:
        """From now on count large empty places too; the previous best score is void."""
        self.fills_empty = True
        self.score = self.best = self.area_score - self._emptiness(self.packing.whole)
        self.poses, self.kinds = self.packing.poses, self.packing.kinds

    def step(self, temperature: float) -> None:
        """Make one change; `temperature` goes from 1 (bold) to 0 (only improvements are kept)."""
        may_cost = (
            -temperature * TEMPERATURE * self.area_unit * math.log(max(1e-9, self.random.random()))
        )
        lenience = (PRUNE_SCORE + PRUNE_SCORE_HOT * temperature) * self.area_unit
        spot = self._spot()
        out = self._choose(spot)
        before = self._take_out(spot, out)
        taken = before.poses[out], before.kinds[out]
        self._put_in(spot, taken, may_cost + lenience)
        if not len(self.packing.kinds):
            self._go_back(before)
            return
        bar = self.score - may_cost
        needed = bar - self._score(self.packing.poses)
        if len(out) and needed > lenience:
            self._go_back(before)
            return
        old = len(before.kinds) - len(out)
        poses = self._relaxed(spot, taken[0], old, needed, shake=not len(out))
        score = -math.inf if poses is None else self._score(poses)
        if poses is None or score < bar:
            self._go_back(before)
            return
        self._accept(poses, score, bar, before)

    def _score(self, poses: Floats) -> float:
        return self.objective.score(self.packing.tables, poses, self.packing.kinds)

    def _spot(self) -> Floats:
        """A random free point (x, y), or a random motif's origin if there is hardly any."""
        packing = self.packing
        rows, columns = packing.clearance.shape
        cells = self.random.random((64, 2)) * (rows, columns)
        cells = cells.astype(int)
        roomy = packing.clearance[cells[:, 0], cells[:, 1]]
        free = cells[roomy > 0.2 * packing.unit][:SPOT_CANDIDATES]
        if len(free):
            row, column = free[packing.clearance[free[:, 0], free[:, 1]].argmax()]
            spot: Floats = packing.frame[:2] + packing.frame[2] * np.array([column, row])
            return spot
        return packing.poses[self.random.integers(len(packing.kinds)), :2]

    def _choose(self, spot: Floats) -> Ints:
        """The motifs to take out: those nearest to the spot, or a random choice of these."""
        packing = self.packing
        drawn = np.searchsorted(np.cumsum(OUT), self.random.random())
        count = min(int(drawn), len(OUT) - 1, len(packing.kinds))
        away = np.hypot(*(packing.poses[:, :2] - spot).T) - 0.35 * packing.sizes
        nearest = np.argsort(away, kind="stable")
        if count == 0 or self.random.random() < 0.7:
            return nearest[:count]
        return self.random.choice(nearest[: 2 * count], count, replace=False)

    def _take_out(self, spot: Floats, out: Ints) -> _Before:
        packing = self.packing
        reach = packing.reaches[out].max(initial=0.0) + packing.farthest
        window = packing.window(np.vstack([spot, packing.poses[out, :2]]), reach)
        rows, columns = slice(*window[:2]), slice(*window[2:])
        before = _Before(
            packing.poses, packing.kinds, window, packing.clearance[rows, columns].copy()
        )
        if len(out):
            stays = np.ones(len(packing.kinds), bool)
            stays[out] = False
            gone = packing.window_of(packing.poses[out], packing.kinds[out])
            packing.poses, packing.kinds = packing.poses[stays], packing.kinds[stays]
            packing.renew(gone)
        return before

    def _put_in(self, spot: Floats, taken: tuple[Floats, Ints], slack: float) -> None:
        """Put motifs in where others were taken out, until nothing more fits."""
        packing = self.packing
        reaches, areas = packing.measure(*taken)
        centres = np.vstack([spot, taken[0][:, :2]])
        window = packing.window(centres, np.append(8 * packing.unit, reaches))
        floor = 0.5 * areas.max(initial=0.0)
        if len(areas) == 1:
            floor = max(0.0, areas[0] - slack - EXTRA * self.area_unit)
        tries = max(TRIES, TRIES_PER_KIND * int((self.objective.shares > 0).sum()))
        overlap = OVERLAP * packing.unit * self.random.exponential()
        for count in range(2 * len(areas) + 2):
            weights = self.objective.weights(packing.kinds)
            weights = weights * np.exp(VARIETY * self.random.normal(size=len(weights)))
            if self.objective.avoid_neighbours:
                weights[self._kinds_about(spot)] *= SHY
            place = packing.find(
                weights / max(weights.max(), 1e-9),
                self.state,
                window,
                least=(1.2 if len(areas) else 0.2) * packing.unit,
                tries=int(MORE_TRIES * tries) if count else tries,
                keep=KEEP,
                overlap=overlap,
                floor=0.0 if count else floor,
            )
            if place is None:
                break
            packing.add(*place)

    def _kinds_about(self, spot: Floats) -> Ints:
        packing = self.packing
        away = np.hypot(*(packing.poses[:, :2] - spot).T) - 0.35 * packing.sizes
        return packing.kinds[np.argsort(away, kind="stable")[:NEIGHBOURS]]

    def _relaxed(
        self, spot: Floats, taken: Floats, old: int, needed: float, *, shake: bool
    ) -> Floats | None:
        """All poses after those around the change have relaxed; None if they cannot.

        Also None if growing gains less than the area `needed`, mm².
        """
        packing = self.packing
        centres = np.vstack([spot, taken[:, :2]])
        away = np.hypot(
            packing.poses[:, None, 0] - centres[:, 0], packing.poses[:, None, 1] - centres[:, 1]
        ).min(axis=1)
        free = away < AROUND * packing.unit + 0.3 * packing.sizes
        nearest = np.argsort(away - 0.3 * packing.sizes, kind="stable")
        free[nearest[ALONG:]] = False
        free[old:] = True
        farthest = (away + packing.reaches)[free].max(initial=0.0) + packing.gap
        some = np.flatnonzero(away - packing.reaches < farthest)
        free = free[some]
        start = packing.poses
        if shake and self.random.random() < SHAKEN:
            packing.poses = self._shaken(some[free])
        relaxed, violation = packing.relax(
            some, free, GROWTH, ROUNDS, ENOUGH * packing.unit, needed=needed
        )
        packing.poses = start
        if violation > TOO_MUCH * packing.unit:
            return None
        poses = packing.poses.copy()
        poses[some] = relaxed
        return poses

    def _shaken(self, motifs: Ints) -> Floats:
        poses = self.packing.poses.copy()
        noise = self.random.normal(size=(len(motifs), 3)) * JIGGLE
        poses[motifs, :2] += noise[:, :2] * self.packing.unit
        turned = (poses[motifs, 2] + 1j * poses[motifs, 3]) * np.exp(0.1j * noise[:, 2])
        poses[motifs, 2], poses[motifs, 3] = turned.real, turned.imag
        return poses

    def _go_back(self, before: _Before) -> None:
        packing = self.packing
        packing.poses, packing.kinds = before.poses, before.kinds
        rows, columns = slice(*before.window[:2]), slice(*before.window[2:])
        packing.clearance[rows, columns] = before.clearance

    def _emptiness(self, window: Window) -> float:
        """Cost of the empty places in a window, mm²."""
        if not self.fills_empty:
            return 0.0
        packing = self.packing
        clearance = packing.clearance[slice(*window[:2]), slice(*window[2:])]
        beyond = clearance[clearance > ROOMY * packing.unit] / packing.unit - ROOMY
        total = float(np.square(beyond).sum(dtype=np.float64))
        return EMPTY * total * float(packing.frame[2]) ** 2

    def _accept(self, poses: Floats, area_score: float, bar: float, before: _Before) -> None:
        """Accept a change, unless the cost of the empty places it leaves outweighs its gain."""
        packing = self.packing
        kinds = packing.kinds
        moved = np.flatnonzero((poses != packing.poses).any(axis=1))
        there = np.vstack([packing.poses[moved], poses[moved]])
        self._go_back(before)
        window = before.window
        if len(moved):
            window = _spanning(window, packing.window_of(there, np.tile(kinds[moved], 2)))
        rows, columns = slice(*window[:2]), slice(*window[2:])
        before = replace(before, window=window, clearance=packing.clearance[rows, columns].copy())
        gain = self._emptiness(window)
        packing.poses, packing.kinds = poses, kinds
        packing.renew(window)
        gain += area_score - self.area_score - self._emptiness(window)
        if self.score + gain < bar:
            self._go_back(before)
            return
        self.score += gain
        self.area_score = area_score
        if self.score > self.best:
            self.best = self.score
            self.poses, self.kinds = poses, kinds


def _spanning(one: Window, other: Window) -> Window:
    """The smallest window that contains both."""
    return (
        min(one[0], other[0]), max(one[1], other[1]),
        min(one[2], other[2]), max(one[3], other[3]),
    )  # fmt: skip
