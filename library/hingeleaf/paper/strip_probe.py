"""Test strips by seven parallel lines, which must all cross one cut from part to part.

Five lines run within the strip and must cross the same cut as its centre line. One more on either
side is offset by the least window width: if it does not cross the same window, a nib of window too
narrow to be cut would be left there.
"""

from dataclasses import dataclass

import numpy as np

from hingeleaf.geometry.ray_casting import Bools, Floats, Hits, Ints
from hingeleaf.paper.arrangement import NO_FACE, CutArrangement

TOUCH = 1e-7
"""mm: an origin this near to a cut counts as on it."""

GRAZE = 0.02
"""mm outside a strip at which its sides are tested, since a side must not graze a cut."""

MIN_HOLD = 0.1
"""mm: least depth of paper behind either end."""

LEFT, MIDDLE, RIGHT = 1, 3, 5
"""Indices of the lines at the sides and middle of the strip; lines 0 and 6 are outside it."""

INNER = slice(LEFT, RIGHT + 1)


@dataclass(frozen=True)
class Aims:
    """Centre lines of n strips to be tested, one from each of many seeds.

    `origin` and `along` are (n, 2); `half_way` (n,) is the distance along the line to the middle of
    the cut, 0 if the cut is a slit through the origin.
    """

    origin: Floats
    along: Floats
    half_way: Floats

    def take(self, rows: Ints | Bools) -> "Aims":
        """The given rows."""
        return Aims(self.origin[rows], self.along[rows], self.half_way[rows])


@dataclass(frozen=True)
class Sweep:
    """Positions (n, 7) where the lines of strips enter and leave the cut, and what lies beyond."""

    enter: Floats
    leave: Floats
    back: Floats
    """Position of the last cut before the line enters, where the paper ends."""
    ahead: Floats
    """Position of the next cut after the line has left."""
    from_part: Ints
    to_part: Ints
    window: Ints
    same_window: Bools

    @property
    def clean(self) -> Bools:
        """(n,): whether the five inner lines all cross the same cut, from part to part."""
        one, two, window = self.from_part, self.to_part, self.window
        same = (one == one[:, [MIDDLE]]) & (two == two[:, [MIDDLE]])
        same &= (window == window[:, [MIDDLE]]) & self.same_window
        same &= (one != NO_FACE) & (two != NO_FACE)
        clean: Bools = same[:, INNER].all(axis=1)
        clean &= np.minimum(self.start_depth, self.end_depth) > MIN_HOLD
        return clean

    @property
    def start_depth(self) -> Floats:
        """(n,): depth of the paper behind the strip's start, least across its width."""
        return _difference(self.enter[:, INNER].min(axis=1), self.back[:, INNER].max(axis=1))

    @property
    def end_depth(self) -> Floats:
        """(n,): depth of the paper behind the strip's end, least across its width."""
        return _difference(self.ahead[:, INNER].min(axis=1), self.leave[:, INNER].max(axis=1))

    @property
    def depth(self) -> Floats:
        """(n,): least depth of paper behind either end, on any line that lands there."""
        lands = (self.from_part == self.from_part[:, [MIDDLE]]) & self.same_window
        before = np.where(lands, _difference(self.enter, self.back), np.inf).min(axis=1)
        lands = (self.to_part == self.to_part[:, [MIDDLE]]) & self.same_window
        behind = np.where(lands, _difference(self.ahead, self.leave), np.inf).min(axis=1)
        depth: Floats = np.minimum(before, behind)
        return depth

    @property
    def beside(self) -> Bools:
        """(n,): whether the window extends far enough on both sides of the strip."""
        same = (self.window == self.window[:, [MIDDLE]]) & self.same_window
        beside: Bools = same[:, [0, -1]].all(axis=1)
        return beside


def aim(
    arrangement: CutArrangement, points: Floats, directions: Floats, longest: float
) -> tuple[Aims, Ints]:
    """The lines from points on cuts across the cut to another part, and the two parts (n, 2).

    Lines longer than `longest` mm over the cut are left out.
    """
    parts, length = _lead(arrangement, points, directions)
    leads = (parts[:, 0] != parts[:, 1]) & (parts != NO_FACE).all(axis=1) & (length < longest)
    return Aims(points[leads], directions[leads], length[leads] / 2), parts[leads]


def _lead(arrangement: CutArrangement, points: Floats, directions: Floats) -> tuple[Ints, Floats]:
    """The parts on both sides of the cut that lines cross, (n, 2), and the width of the cut."""
    hits = arrangement.cut.cast(points, directions)
    here = hits.beyond(np.full(len(points), TOUCH)) - 1
    leaving = hits.edge_of(here)
    there = np.where(arrangement.window_of[leaving] == NO_FACE, here, here + 1)
    landing = hits.edge_of(there)
    parts = np.stack(_parts_of(arrangement, leaving, landing, directions), axis=1)
    parts[np.abs(hits.distance(here)) >= TOUCH] = NO_FACE
    return parts, _difference(hits.distance(there), hits.distance(here))


def sweep(arrangement: CutArrangement, aims: Aims, width: Floats) -> Sweep:
    """Cast the seven lines of every strip; `width` is (n,)."""
    offsets = _offsets(width, arrangement.card.least_window)
    lines = offsets.shape[1]
    across = np.stack([-aims.along[:, 1], aims.along[:, 0]], axis=1)
    origins = (aims.origin[:, None] + across[:, None] * offsets[..., None]).reshape(-1, 2)
    along = np.repeat(aims.along, lines, axis=0)
    hits = arrangement.cut.cast(origins, along, bundle=lines)
    enter, leave = _follow(hits, aims.half_way, offsets.shape)
    return _faces_met(arrangement, hits, enter, leave, along, offsets.shape)


def _follow(hits: Hits, half_way: Floats, shape: tuple[int, ...]) -> tuple[Ints, Ints]:
    """The hits where each line enters and leaves the cut, traced from the middle line outwards.

    Each line's crossing is taken nearest to that of its inner neighbour, however steep the edges.
    """
    place = np.repeat(half_way, shape[1]).reshape(shape)
    on_slit = np.repeat(half_way == 0, shape[1])
    enter, leave = _crossing(hits, place.ravel(), on_slit)
    for step in (1, 2, 3):
        with np.errstate(invalid="ignore"):
            middle = ((hits.distance(enter) + hits.distance(leave)) / 2).reshape(shape)
        for line, inner in ((MIDDLE - step, MIDDLE - step + 1), (MIDDLE + step, MIDDLE + step - 1)):
            known = np.isfinite(middle[:, inner])
            place[known, line] = middle[known, inner]
        enter, leave = _crossing(hits, place.ravel(), on_slit)
    return enter, leave


def _crossing(hits: Hits, place: Floats, on_slit: Bools) -> tuple[Ints, Ints]:
    """The hits before and beyond a position on each line; on slits, twice the nearer of the two."""
    leave = hits.beyond(place + TOUCH / 2)
    enter = leave - 1
    if not on_slit.any():
        return enter, leave
    behind, ahead = (
        _difference(place, hits.distance(enter)),
        _difference(hits.distance(leave), place),
    )
    nearer = np.where(ahead < behind, leave, enter)
    return np.where(on_slit, nearer, enter), np.where(on_slit, nearer, leave)


def _offsets(width: Floats, least_window: float) -> Floats:
    """(n, 7): offsets of each strip's lines from its centre line."""
    half = width[:, None] / 2 + GRAZE
    inner = half * np.array([-1.0, -0.5, 0.0, 0.5, 1.0])
    beside = width[:, None] / 2 + least_window
    return np.hstack([-beside, inner, beside])


def _faces_met(
    arrangement: CutArrangement,
    hits: Hits,
    enter: Ints,
    leave: Ints,
    along: Floats,
    shape: tuple[int, ...],
) -> Sweep:
    leaving, landing = hits.edge_of(enter), hits.edge_of(leave)
    from_part, to_part = _parts_of(arrangement, leaving, landing, along)
    window, other = arrangement.window_of[leaving], arrangement.window_of[landing]
    met = (leaving >= 0) & (landing >= 0) & (window == other)
    return Sweep(
        enter=hits.distance(enter).reshape(shape),
        leave=hits.distance(leave).reshape(shape),
        back=hits.distance(enter - 1).reshape(shape),
        ahead=hits.distance(leave + 1).reshape(shape),
        from_part=from_part.reshape(shape),
        to_part=to_part.reshape(shape),
        window=window.reshape(shape),
        same_window=met.reshape(shape),
    )


def _parts_of(
    arrangement: CutArrangement, leaving: Ints, landing: Ints, along: Floats
) -> tuple[Ints, Ints]:
    """The part before the edge where each line leaves, and behind the edge where it lands."""
    return _side(arrangement, leaving, -along), _side(arrangement, landing, along)


def _side(arrangement: CutArrangement, edge: Ints, towards: Floats) -> Ints:
    """The part next to each edge on the side that a direction points to."""
    left, right = arrangement.edge_faces
    points = arrangement.cut.points
    step = points[(edge + 1) % len(points)] - points[edge]
    leftward = step[:, 0] * towards[:, 1] - step[:, 1] * towards[:, 0] > 0
    return np.where(edge < 0, NO_FACE, np.where(leftward, left[edge], right[edge]))


def _difference(more: Floats, less: Floats) -> Floats:
    """The difference of two positions, 0 where it is NaN."""
    with np.errstate(invalid="ignore"):
        difference = more - less
    return np.where(np.isnan(difference), 0.0, difference)
