"""Rigid hold: every part tied where it can move least, with its ties spread about it."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from hingeleaf.paper.casting import Bools, Floats, Ints
from hingeleaf.paper.crossings import Crossings, strips
from hingeleaf.paper.draft import Draft, outline_points

MOST_CHOICES = 24
"""Places looked at for one part: the cheapest, well apart."""

OUTLINE = 32
"""Points of a part's outline that stand for the whole of it."""

LEVER = 0.5
"""Weight of the part's centre lying off the line between its ties."""

PRICE = 0.06
"""Weight of a strip's cost in widths."""


def tie_rigidly(draft: Draft, width: float, ties: int) -> None:
    """Tie every pending part, the cheapest first, each with `ties` bridges where they fit."""
    while draft.pending:
        if not any(_tie_next(draft, each, ties) for each in draft.widths(width)):
            return


def _tie_next(draft: Draft, width: float, ties: int) -> bool:
    """Tie the pending part that is cheapest to tie at this width; False if there is none."""
    crossings = draft.crossings(width)
    tied = np.isin(crossings.parts, list(draft.tied))
    able = np.flatnonzero(tied[:, 0] != tied[:, 1])
    able = able[draft.free(crossings, able)]
    for row in able:
        part = int(crossings.parts[row, 0 if tied[row, 1] else 1])
        if tie_part(draft, crossings, part, ties):
            return True
    return False


def tie_part(draft: Draft, crossings: Crossings, part: int, ties: int) -> bool:
    """Tie one part to parts that are tied, with the best set of free and sound strips."""
    rows = draft.rows_to_tied(crossings, part)
    wanted = ties - draft.ties_of(part)
    while len(rows):
        choices = spread_out(crossings, part, rows, MOST_CHOICES)
        chosen = _Choice.of(draft, crossings, part, choices).best(wanted)
        unsound = [row for row in chosen if not draft.sound(crossings, row)]
        if not unsound:
            draft.take(crossings, draft.with_images(crossings, chosen))
            return True
        rows = rows[~np.isin(rows, unsound)]
    return False


def spread_out(crossings: Crossings, part: int, rows: Ints, most: int) -> Ints:
    """The cheapest rows whose mouths on the part are a good width apart, one of each mirror pair."""
    mouth = crossings.mouth(part)
    left = rows[np.argsort(crossings.cost[rows], kind="stable")]
    chosen: list[int] = []
    while len(left) and len(chosen) < most:
        row = int(left[0])
        chosen.append(row)
        far = np.ones(len(left), dtype=bool)
        for one in {row, int(crossings.twin[row])} - {-1}:
            away = np.hypot(*(mouth[left] - mouth[one]).T)
            far &= ~(away < 0.8 * crossings.width[one])
        far[0] = False
        left = left[far]
    return np.array(chosen, dtype=np.intp)


@dataclass(frozen=True)
class _Choice:
    """Groups of strips for one part (a strip, or a mirror pair), and how they go together."""

    rows: Ints
    count: Ints
    """(g,): ties of the part that each group gives."""
    reach: Floats
    """(g, p): from each point of the outline to the group's nearest mouth, over the radius."""
    mouths: list[Floats]
    centre: Floats
    radius: float
    price: Floats
    clash: Bools

    @classmethod
    def of(cls, draft: Draft, crossings: Crossings, part: int, rows: Ints) -> _Choice:
        """The groups of these rows."""
        mouth = crossings.mouth(part)
        twins = crossings.twin[rows]
        pairs = [[row] if twin in (-1, row) else [row, twin] for row, twin in zip(rows, twins)]
        mouths = [mouth[pair][np.isfinite(mouth[pair]).all(axis=1)] for pair in pairs]
        outline = outline_points(draft.ground.part(part), OUTLINE)
        centre = outline.mean(axis=0)
        radius = float(np.hypot(*(outline - centre).T).max())
        reach = np.array(
            [
                np.linalg.norm(outline[None] - points[:, None], axis=2).min(axis=0)
                for points in mouths
            ]
        )
        price = PRICE * crossings.cost[rows] / crossings.width[rows]
        count = np.array([len(points) for points in mouths])
        return cls(
            rows,
            count,
            reach / radius,
            mouths,
            centre,
            radius,
            price,
            _clashes(draft, crossings, pairs),
        )

    def best(self, wanted: int) -> list[int]:
        """The rows of the best set that gives at least `wanted` ties, or as many as there are."""
        chosen = self._greedy(wanted)
        improved = True
        while improved:
            improved = False
            for place in range(len(chosen)):
                rest = chosen[:place] + chosen[place + 1 :]
                better = self._next(rest, self.count[chosen].sum())
                if better is not None and self.score([*rest, better]) < self.score(chosen) - 1e-9:
                    chosen, improved = [*rest, better], True
                    break
        return [int(self.rows[group]) for group in chosen]

    def _greedy(self, wanted: int) -> list[int]:
        chosen: list[int] = []
        while not chosen or self.count[chosen].sum() < wanted:
            group = self._next(chosen, wanted)
            if group is None:
                break
            chosen.append(group)
        return chosen

    def _next(self, chosen: list[int], wanted: int) -> int | None:
        """The group that goes best with those chosen."""
        open_ = [
            group
            for group in range(len(self.rows))
            if group not in chosen and not self.clash[group, chosen].any()
        ]
        if not open_:
            return None
        return min(open_, key=lambda group: self.score([*chosen, group]))

    def score(self, chosen: list[int]) -> float:
        """How badly a set holds: how far it leaves the outline alone, off balance, and dear."""
        alone = self.reach[chosen].min(axis=0).max()
        mouths = np.concatenate([self.mouths[group] for group in chosen])
        off = _off_hull(mouths - self.centre) / self.radius
        return float(alone + LEVER * off + self.price[chosen].mean())


def _off_hull(mouths: Floats) -> float:
    """How far the origin lies from the hull of some points."""
    if len(mouths) == 1:
        return float(np.hypot(*mouths[0]))
    if len(mouths) > 2 and _surround(mouths):
        return 0.0
    return min(_off_segment(mouths[i], mouths[j]) for i, j in combinations(range(len(mouths)), 2))


def _surround(mouths: Floats) -> bool:
    """Whether no half plane through the origin holds all the points."""
    angles = np.sort(np.arctan2(mouths[:, 1], mouths[:, 0]))
    gaps = np.diff(np.append(angles, angles[0] + 2 * np.pi))
    return bool(gaps.max() <= np.pi)


def _off_segment(one: Floats, two: Floats) -> float:
    step = two - one
    share = np.clip(-(one @ step) / max(float(step @ step), 1e-12), 0, 1)
    return float(np.hypot(*(one + step * share)))


def _clashes(draft: Draft, crossings: Crossings, pairs: list[list[int]]) -> Bools:
    """(g, g): which groups come too near to each other."""
    import shapely

    groups: NDArray[np.object_] = np.array(
        [shapely.union_all(strips(crossings.take(np.array(pair)))) for pair in pairs], dtype=object
    )
    near: Bools = shapely.dwithin(groups[:, None], groups[None, :], draft.gap)
    np.fill_diagonal(near, False)
    return near
