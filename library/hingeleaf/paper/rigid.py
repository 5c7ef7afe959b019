"""Rigid hold style: spread the ties of every part so that it can move least."""

import math
from dataclasses import dataclass

import numpy as np
import shapely

from hingeleaf.geometry.ray_casting import Bools, Floats, Ints
from hingeleaf.paper.bridge_candidates import BridgeCandidates
from hingeleaf.paper.plan_state import PlanState, outline_points

MAX_CHOICES = 24
"""Number of places considered for one part: the cheapest, well apart."""

OUTLINE_POINTS = 32
"""Number of points that represent a part's outline."""

LEVER_WEIGHT = 0.8
"""Weight of the ties' centroid being off the part's centre, as a share of the way to the edge; a
part tied on one side only would lift."""

COST_WEIGHT = 0.06
"""Weight of a strip's cost in widths."""

SHALLOW_WEIGHTS = 0.25, 0.5
"""Weights of landing on shallow paper, which would tear: if at all, and by how shallow."""

SPARE_TIE_WEIGHT = 1.5
"""Weight of a tie beyond the number requested, or beyond what symmetry calls for."""

MAX_TRIES = 4
"""Sets of ties tested before a sliver of window next to one is accepted."""

MIN_TIES = 2
"""Least number of ties: one alone, however wide, is a hinge and holds nothing flat."""


def tie_rigidly(state: PlanState, ties: int, widest: float = math.inf) -> None:
    """Tie every pending part, the cheapest first, with `ties` bridges each where they fit.

    If there are too few places, narrower ties are tried, down to the card's least web. A part that
    still has too few gets one more in the end, to a part that was not tied before.
    """
    held = [part for part in state.pending if part in state.tied]
    state.settled |= {
        part for part in held if state.tie_count(part, excluding=state.lifted) >= ties
    }
    least = min(ties, MIN_TIES)
    for enough in dict.fromkeys((ties, least, 1)):
        _tie_pending(state, ties, enough, widest)
    short = parts_lacking_ties(state, least)
    state.settled -= set(short)
    _tie_pending(state, least, least, widest)
    state.settled |= set(short)


def parts_lacking_ties(state: PlanState, ties: int) -> list[int]:
    """The parts that must lie flat and have fewer ties than requested."""
    flat = [part for part in state.arrangement.loose if part in state.tied - state.lifted]
    return [part for part in flat if state.tie_count(part) < ties]


def _tie_pending(state: PlanState, ties: int, enough: int, widest: float) -> None:
    widths = [width for width in state.widths() if width <= widest]
    tried: dict[tuple[int, float], frozenset[int]] = {}
    while state.pending:
        if not any(_tie_next(state, each, ties, enough, tried) for each in widths):
            break


def _tie_next(
    state: PlanState,
    width: float,
    ties: int,
    enough: int,
    tried: dict[tuple[int, float], frozenset[int]],
) -> bool:
    """Tie the pending part that is cheapest to tie at this width; False if there is none.

    A part `tried` in vain at a width is tried again once more of its neighbours are tied.
    """
    candidates = state.candidates(width)
    tied = np.isin(candidates.parts, list(state.tied))
    pending = np.isin(candidates.parts, state.pending)
    able = np.flatnonzero((pending & tied[:, ::-1]).any(axis=1))
    able = able[state.free(candidates, able)]
    first = pending[able, 0] & tied[able, 1]
    part = np.where(first, candidates.parts[able, 0], candidates.parts[able, 1])
    for each in dict.fromkeys(part.tolist()):
        near = state.arrangement.neighbours[each] & state.tied
        if tried.get((each, width)) != near:
            tried[each, width] = near
            if tie_part(state, candidates, each, ties, enough):
                return True
    return False


def tie_part(
    state: PlanState, candidates: BridgeCandidates, part: int, ties: int, enough: int = 1
) -> bool:
    """Tie one part to tied parts with the best set of free, clean strips.

    Nothing is taken if that set has fewer ties than `enough`.
    """
    elements = state.tables.elements(part, one_sided=False)
    fallback: list[int] = []
    for rows in state.rows_by_body(candidates, part):
        tries = 0
        while len(rows):
            choices = state.tables.spread_out(candidates, part, rows, elements, MAX_CHOICES)
            chosen = _TieGroups.of(state, candidates, part, choices).best(ties)
            group = state.with_images(candidates, chosen)
            unclean = [row for row in group if not state.crosses_cleanly(candidates, row)]
            if unclean:
                rows = rows[~np.isin(candidates.images[rows], unclean).any(axis=1)]
                continue
            added = int((candidates.parts[group] == part).any(axis=1).sum())
            if state.tie_count(part) + added < enough or not state.fits(candidates, group):
                break
            if not state.leaves_nibs(candidates, group):
                _take(state, candidates, part, group)
                return True
            fallback = fallback or group
            tries += 1
            if tries == MAX_TRIES:
                break
            nibs = [row for row in group if state.leaves_nibs(candidates, [row])] or group
            rows = rows[~np.isin(candidates.images[rows], nibs).any(axis=1)]
    if fallback:
        _take(state, candidates, part, fallback)
    return bool(fallback)


def _take(state: PlanState, candidates: BridgeCandidates, part: int, group: list[int]) -> None:
    state.take(candidates, group)
    state.settled.add(part)


@dataclass(frozen=True)
class _TieGroups:
    """Groups of strips for one part (a strip or a mirror pair), with tables for scoring sets."""

    rows: Ints
    count: Ints
    """(g,): number of ties that each group gives the part."""
    reach: Floats
    """(g, p): distance from each outline point to the group's nearest mouth, in radii."""
    pull: Floats
    """(g, 2): sum of the group's mouth positions relative to the part's centre, in radii."""
    cost: Floats
    clashes: Bools
    """(g, g): which groups are too near to each other."""
    pinned: Floats
    """(m, 2): mouths of the part's pinned bridges relative to its centre, in radii."""
    outline: Floats
    """(p, 2): points of the part's outline relative to its centre, in radii."""

    @classmethod
    def of(
        cls, state: PlanState, candidates: BridgeCandidates, part: int, rows: Ints
    ) -> "_TieGroups":
        """The groups of these rows."""
        mouth = candidates.mouth(part)
        outline = outline_points(state.arrangement.part(part), OUTLINE_POINTS)
        centre = outline.mean(axis=0)
        radius = max(float(np.hypot(*(outline - centre).T).max()), 1e-9)
        images = [state.with_images(candidates, [int(row)]) for row in rows]
        groups = [[row for row in group if part in candidates.parts[row]] for group in images]
        mouths = [mouth[group][~np.isnan(mouth[group][:, 0])] for group in groups]
        reach = [
            np.hypot(*(outline[:, None] - points).transpose(2, 0, 1)).min(axis=1)
            for points in mouths
        ]
        shallow = candidates.shallow[rows]
        cost = COST_WEIGHT * candidates.cost[rows] / candidates.width[rows]
        cost += SHALLOW_WEIGHTS[0] * (shallow > 0.01) + SHALLOW_WEIGHTS[1] * shallow
        return cls(
            rows,
            np.array([len(points) for points in mouths]),
            np.array(reach) / radius,
            np.array([(points - centre).sum(axis=0) for points in mouths]) / radius,
            cost,
            _find_clashes(state, candidates, groups),
            (state.mouths_of(part) - centre) / radius,
            (outline - centre) / radius,
        )

    def best(self, wanted: int) -> list[int]:
        """The rows of the best set with `wanted` ties, or as many as there are."""
        sets = [self._grown_set(first, wanted) for first in range(len(self.rows))]
        ties = np.array([min(self._ties(chosen), wanted) for chosen, _ in sets])
        scores = np.where(ties == ties.max(), [score for _, score in sets], np.inf)
        chosen, _ = sets[int(scores.argmin())]
        return [int(self.rows[group]) for group in chosen]

    def _ties(self, chosen: list[int]) -> int:
        return int(self.count[chosen].sum()) + len(self.pinned)

    def _grown_set(self, first: int, wanted: int) -> tuple[list[int], float]:
        """A set grown from one group by adding the best-scoring group each time, and its score."""
        chosen = [first]
        score = float(self._scores([], wanted)[first])
        while self._ties(chosen) < wanted:
            scores = self._scores(chosen, wanted)
            scores[chosen] = np.inf
            scores[self.clashes[chosen].any(axis=0)] = np.inf
            group = int(scores.argmin())
            if not np.isfinite(scores[group]):
                break
            chosen.append(group)
            score = float(scores[group])
        return chosen, score

    def _scores(self, chosen: list[int], wanted: int) -> Floats:
        """(g,): penalty of the pinned and chosen groups together with each group.

        It adds the outline's distance from the ties, their pull off the centre, and their cost.
        """
        already = self.reach[chosen].min(axis=0, initial=np.inf)
        for mouth in self.pinned:
            already = np.minimum(already, np.hypot(*(self.outline - mouth).T))
        alone = np.minimum(self.reach, already).max(axis=1)
        count = self.count + self._ties(chosen)
        pull = self.pull + self.pull[chosen].sum(axis=0) + self.pinned.sum(axis=0)
        off = pull / count[:, None]
        lever = (off**2).sum(axis=1) / np.maximum((self.outline @ off.T).max(axis=0), 1e-9)
        cost = (self.cost + self.cost[chosen].sum()) / (1 + len(chosen))
        spare = np.maximum(0, count - max(wanted, int(self.count.min())))
        scores: Floats = alone + LEVER_WEIGHT * lever + cost + SPARE_TIE_WEIGHT * spare
        return scores


def _find_clashes(state: PlanState, candidates: BridgeCandidates, groups: list[list[int]]) -> Bools:
    every = candidates.crossings(np.concatenate(groups))
    group = np.repeat(np.arange(len(groups)), [len(rows) for rows in groups])
    one, two = shapely.STRtree(every).query(every, predicate="dwithin", distance=state.gap)
    clashes: Bools = np.zeros((len(groups), len(groups)), dtype=bool)
    clashes[group[one], group[two]] = True
    np.fill_diagonal(clashes, False)
    return clashes
