"""Compaction by linear programs: all motifs grow together to exact contact.

A linear program finds the small change of all poses that adds most area: for each vertex near
another outline, the distance along their shortest connection must stay at least what the rules
require. A vertex's position is linear in its pose (x, y, ax, ay), so only the direction of the
shortest connection is held constant; that error vanishes as the program is solved again with
smaller steps.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import scipy
import shapely
from numpy.typing import NDArray
from shapely import STRtree

from hingeleaf.fill.container import Container, Shapes
from hingeleaf.fill.pool import PoolItem, outline_vertices

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
HASTY_STEPS = (0.3, 0.1, 0.02)
QUICK_STEPS = (0.6, 0.4, 0.2, 0.1, 0.1, 0.02)
LONG_STEPS = (1.0, 1.0, 0.6, 0.3, 0.1, 0.1, 0.02)
"""The largest change of a pose's numbers in each round, in units.

The first round with fine outlines must be able to compensate for what the rough ones left out.
"""
LP_EPS = 2e-6
"""mm added to the least distances, so that rounding breaks none."""
SIZE_RESERVE = 2e-5
"""Share by which motifs stay above their smallest size, as a reserve for the exact check."""
INFEASIBILITY_COST = 1e5
"""Cost of each mm of violation, mm²."""
CORNER = 0.4
"""Least turn of a corner, radians."""
ROUGH, FINE = 1e-3, 5e-5
"""Deviation of outlines from the footprints, in sizes: while steps are long, and at the end."""
GROUP = 64
"""Greatest number of motifs in one program; those around them are fixed meanwhile."""
PIECE = 12
"""Greatest number of segments in a piece of an outline."""
LAST_STEPS = 2
"""Number of final steps made with the fine outlines, which cover the footprints."""


@dataclass(frozen=True, slots=True)
class PoseLimits:
    """Limits of every motif, (motifs,) each. Sizes in mm, turns in radians."""

    smallest: Floats
    largest: Floats
    upright: Floats
    turn: Floats
    """Greatest turn from upright either way; π or more is free."""

    def of(self, group: Ints) -> PoseLimits:
        """The limits of some motifs."""
        return PoseLimits(
            self.smallest[group], self.largest[group], self.upright[group], self.turn[group]
        )

    def clamped(self, numbers: Floats) -> Floats:
        """Poses clamped to the limits, which rounding may have exceeded."""
        numbers = numbers.copy()
        sizes = np.hypot(numbers[:, 2], numbers[:, 3])
        lean = np.arctan2(numbers[:, 3], numbers[:, 2]) - self.upright
        lean -= 2 * math.pi * np.round(lean / (2 * math.pi))
        bent = (np.abs(lean) > self.turn) & (self.turn < math.pi)
        turn = self.upright + np.clip(lean, -self.turn, self.turn)
        numbers[bent, 2] = (sizes * np.cos(turn))[bent]
        numbers[bent, 3] = (sizes * np.sin(turn))[bent]
        numbers[:, 2:4] *= (np.clip(sizes, self.smallest, self.largest) / sizes)[:, None]
        return numbers

    def rows(self, numbers: Floats) -> tuple[scipy.sparse.coo_array, Floats]:
        """The limits as rows A · change ≤ b of a linear program."""
        count = len(numbers)
        sizes = np.hypot(numbers[:, 2], numbers[:, 3])
        along = numbers[:, 2:4] / sizes[:, None]
        low = np.minimum(np.minimum(self.smallest * (1 + SIZE_RESERVE), self.largest), sizes)
        lean = np.arctan2(numbers[:, 3], numbers[:, 2]) - self.upright
        lean -= 2 * math.pi * np.round(lean / (2 * math.pi))
        limited = np.flatnonzero(self.turn < math.pi)
        motif = np.concatenate([np.arange(count), np.arange(count), limited, limited])
        across = np.column_stack([-along[:, 1], along[:, 0]])[limited]
        values = np.vstack([along, -along, across, -across])
        row = np.arange(len(motif))
        matrix = scipy.sparse.coo_array(
            (
                values.T.ravel(),
                (np.tile(row, 2), np.concatenate([4 * motif + 2, 4 * motif + 3])),
            ),
            shape=(len(motif), 4 * count),
        )
        spare = np.maximum(0.0, np.concatenate([self.turn - lean, self.turn + lean]))
        spare = spare.reshape(2, count)[:, limited] * sizes[limited]
        return matrix, np.concatenate([self.largest - sizes, sizes - low, *spare])


@dataclass(frozen=True, slots=True)
class Contacts:
    """Vertices near another outline. Owners are indices of motifs, -1 for fixed outlines."""

    owner: Ints
    place: Floats
    other: Ints
    other_place: Floats
    slack: Floats


class Round(NamedTuple):
    """One round over all motifs."""

    step: float
    """The largest change of a pose's numbers, mm."""
    is_fine: bool
    """Whether the outlines cover the footprints."""


def rounds_of(steps: Sequence[float], unit: float) -> list[Round]:
    """The rounds for steps in the given unit (mm), the last ones fine."""
    rough = len(steps) - LAST_STEPS
    return [Round(step * unit, index >= rough) for index, step in enumerate(steps)]


def compact(
    numbers: Floats,
    kinds: Ints,
    pool: Sequence[PoolItem],
    container: Container,
    limits: PoseLimits,
    rounds: Iterable[Round],
) -> Iterator[Floats]:
    """Poses (n, 5) with increasing coverage, group by group of motifs.

    After two rounds with fine outlines they keep all distances to about LP_EPS.
    """
    fixed = fixed_outlines(container)
    rough = [outline_vertices(item, ROUGH, covers=False) for item in pool]
    fine = [outline_vertices(item, FINE, covers=True) for item in pool]
    areas = np.array([item.footprint.area / item.drawn_size**2 for item in pool])[kinds]
    numbers = numbers.copy()
    for step, is_fine in rounds:
        outlines = fine if is_fine else rough
        for group in groups_of(numbers[:, :2]):
            lines = _placed(numbers, kinds, outlines, container.gap).joined(fixed)
            contacts = contacts_of(lines.near(group, 3 * step), group, 3 * step)
            change = _best_change(numbers[group], areas[group], limits.of(group), contacts, step)
            if change is not None:
                numbers[group, :4] += change
                numbers[group] = limits.of(group).clamped(numbers[group])
            yield numbers.copy()


def groups_of(centres: Floats, most: int = GROUP) -> list[Ints]:
    """Motifs in groups of at most `most` that are close together, by repeated halving."""
    groups = [np.arange(len(centres))]
    while len(groups[-1]) > most:
        halves = []
        for group in groups:
            places = centres[group]
            longer = int(np.ptp(places, axis=0).argmax())
            order = group[np.argsort(places[:, longer], kind="stable")]
            halves += np.array_split(order, 2)
        groups = halves
    return groups


@dataclass(frozen=True, slots=True)
class Lines:
    """Closed outlines as vertices, the owner of each, and the distance to keep from outlines."""

    vertices: Floats
    owner: Ints
    keep: Floats

    def near(self, group: Ints, reach: float) -> Lines:
        """The outlines, reduced to vertices that may come within `reach` mm of a violation.

        Outlines of the group's far neighbours have no vertices left; all keep their index.
        """
        mine = np.isin(self.owner, group)
        wide = self.keep.max() + reach
        low = self.vertices[mine].min(axis=0) - wide
        high = self.vertices[mine].max(axis=0) + wide
        starts, ends = self.vertices[:-1], self.vertices[1:]
        within = (np.maximum(starts, ends) >= low) & (np.minimum(starts, ends) <= high)
        within = within.all(axis=1) & (self.owner[:-1] == self.owner[1:])
        kept = np.isin(self.owner, np.unique(self.owner[:-1][within]))
        return Lines(self.vertices[kept], self.owner[kept], self.keep)

    def joined(self, others: Lines) -> Lines:
        """These and others, whose indices are continued."""
        return Lines(
            np.vstack([self.vertices, others.vertices]),
            np.concatenate([self.owner, others.owner + len(self.keep)]),
            np.concatenate([self.keep, others.keep]),
        )


def _placed(
    numbers: Floats, kinds: Ints, outlines: Sequence[NDArray[np.complex128]], gap: float
) -> Lines:
    """The outlines of motifs at their places."""
    lengths = [len(outlines[kind]) for kind in kinds]
    owner = np.repeat(np.arange(len(kinds)), lengths)
    probes = np.concatenate([outlines[kind] for kind in kinds])
    probes = np.where(numbers[owner, 4] < 0, -probes.conj(), probes)
    places = numbers[:, 0] + 1j * numbers[:, 1]
    places = places[owner] + (numbers[:, 2] + 1j * numbers[:, 3])[owner] * probes
    vertices = np.column_stack([places.real, places.imag])
    return Lines(vertices, owner, np.full(len(kinds), gap))


def fixed_outlines(container: Container) -> Lines:
    """Outlines that are fixed, ring by ring."""
    rings = list(shapely.get_rings(shapely.get_parts(container.area)))
    wanted = [container.margin] * len(rings)
    if container.region is not None:
        limits = list(shapely.get_rings(shapely.get_parts(container.region)))
        rings += limits
        wanted += [0.0] * len(limits)
    rings += [shape.exterior for shape in container.taken]
    wanted += [container.gap] * len(container.taken)
    vertices, owner = shapely.get_coordinates(rings, return_index=True)
    return Lines(vertices, owner, np.array(wanted))


def contacts_of(lines: Lines, group: Ints, reach: float) -> Contacts:
    """All vertices within `reach` mm of a violation that involves one of the group.

    Owners are indices within the group; all others are fixed.
    """
    owner, keep = lines.owner, lines.keep
    member = np.full(len(keep), -1)
    member[group] = np.arange(len(group))
    points = shapely.points(lines.vertices)
    pieces, side_of, owner_of = _pieces(lines.vertices, owner)
    vertex, piece = STRtree(pieces).query(
        points, predicate="dwithin", distance=np.full(len(points), keep.max() + reach)
    )
    other = owner_of[piece]
    fine = (owner[vertex] != other) & ((member[owner[vertex]] >= 0) | (member[other] >= 0))
    vertex, other, piece = vertex[fine], other[fine], piece[fine]
    ends = shapely.get_coordinates(shapely.shortest_line(points[vertex], pieces[piece]))
    ends = ends.reshape(-1, 2, 2)
    distance = np.hypot(*(ends[:, 0] - ends[:, 1]).T)
    nearest = _nearest(vertex, side_of[piece], distance)
    vertex, other, ends, distance = (each[nearest] for each in (vertex, other, ends, distance))
    # Two motifs both keep the gap; fixed outlines have their own distance.
    wanted = np.where(member[other] >= 0, keep[owner[vertex]], keep[other])
    slack = distance - wanted - LP_EPS
    near = (distance > 1e-9) & (slack < reach)
    owners, others = member[owner[vertex]][near], member[other][near]
    return Contacts(owners, ends[near, 0], others, ends[near, 1], slack[near])


def _pieces(vertices: Floats, owner: Ints) -> tuple[Shapes, Ints, Ints]:
    """Outlines in short pieces, with the side and the outline of each.

    Sides end at corners, since a vertex in a notch has to keep its distance from both sides of it.
    Pieces are short because GEOS measures the distance from a line by all its vertices.
    """
    ahead = np.diff(vertices, axis=0)
    turn = np.arctan2(
        ahead[:-1, 0] * ahead[1:, 1] - ahead[:-1, 1] * ahead[1:, 0],
        (ahead[:-1] * ahead[1:]).sum(axis=1),
    )
    is_corner, ends = np.zeros((2, len(vertices)), bool)
    is_corner[1:-1] = (owner[:-2] == owner[2:]) & (np.abs(turn) > CORNER)
    ends[:-1] = is_corner[1:] | (owner[1:] != owner[:-1])
    first = np.append(True, owner[1:] != owner[:-1])
    side = np.cumsum(is_corner | first) - 1
    along = np.arange(len(vertices)) - np.flatnonzero(is_corner | first)[side]
    is_joint = is_corner | ((along > 0) & (along % PIECE == 0) & ~ends & ~first)
    is_joint[-1] = False
    piece = np.cumsum(is_joint | first) - 1
    joints = np.flatnonzero(is_joint)
    doubled = np.insert(vertices, joints, vertices[joints], axis=0)
    pieces = shapely.linestrings(doubled, indices=np.insert(piece, joints, piece[joints] - 1))
    begins = np.unique(piece, return_index=True)[1]
    return pieces, side[begins], owner[begins]


def _nearest(vertex: Ints, side: Ints, distance: Floats) -> Ints:
    """The index of the nearest piece of each side, among all pieces near each vertex."""
    order = np.lexsort((distance, side, vertex))
    vertex, side = vertex[order], side[order]
    first = np.append(True, (np.diff(vertex) != 0) | (np.diff(side) != 0))
    nearest: Ints = order[first[: len(order)]]
    return nearest


def _best_change(
    numbers: Floats,
    areas: Floats,
    limits: PoseLimits,
    contacts: Contacts,
    step: float,
) -> Floats | None:
    """Change (n, 4) of (x, y, ax, ay), none more than `step`, that adds most area."""
    gain = np.zeros((len(numbers), 4))
    gain[:, 2:4] = 2 * areas[:, None] * numbers[:, 2:4]
    matrix, spare = limits.rows(numbers)
    broken = np.concatenate([contacts.slack < 0, np.zeros(len(spare), bool)])
    answer = scipy.optimize.linprog(
        np.append(-gain.ravel(), INFEASIBILITY_COST),
        A_ub=scipy.sparse.hstack(
            [
                scipy.sparse.vstack([_approach(numbers, contacts), matrix]),
                -broken[:, None].astype(float),
            ]
        ),
        b_ub=np.concatenate([contacts.slack, spare]),
        bounds=np.vstack([np.tile([-step, step], (gain.size, 1)), [0, np.inf]]),
        method="highs-ds",
    )
    return None if answer.x is None else answer.x[:-1].reshape(-1, 4)


def _approach(numbers: Floats, contacts: Contacts) -> scipy.sparse.coo_array:
    """The derivative of each contact's closing by each number: (contacts, 4 · motifs)."""
    away = contacts.place - contacts.other_place
    away /= np.hypot(away[:, 0], away[:, 1])[:, None]
    values, rows, columns = [], [], []
    for owner, place, sign in (
        (contacts.owner, contacts.place, -1.0),
        (contacts.other, contacts.other_place, 1.0),
    ):
        row = np.flatnonzero(owner >= 0)
        motif = owner[row]
        a = numbers[motif, 2] + 1j * numbers[motif, 3]
        from_origin = place[row] - numbers[motif, :2]
        probe = (from_origin[:, 0] + 1j * from_origin[:, 1]) / a
        x, y = sign * away[row, 0], sign * away[row, 1]
        values += [x, y, x * probe.real + y * probe.imag, y * probe.real - x * probe.imag]
        rows += [row] * 4
        columns += [4 * motif + number for number in range(4)]
    return scipy.sparse.coo_array(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
        shape=(len(away), 4 * len(numbers)),
    )
