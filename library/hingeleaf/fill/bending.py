"""Bend motifs into the space around them, by linear programs over cubic maps.

As in `lp_compaction`, each vertex near another outline must keep its distance along their shortest
connection; a vertex's position is linear in the coefficients of its motif's map.
"""

import math
from collections.abc import Callable, Generator, Iterable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
import scipy
from numpy.typing import NDArray

from hingeleaf.fill.bend_shape import MIN_AREA, BendShape
from hingeleaf.fill.contacts import Contacts, Outlines, contacts_of, fixed_outlines
from hingeleaf.fill.container import Container, close_pairs
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.lp_compaction import INFEASIBILITY_COST, groups_of
from hingeleaf.fill.pool import PoolItem, place_items
from hingeleaf.fill.problem import Problem
from hingeleaf.fill.schedule import in_time
from hingeleaf.model import Pose
from hingeleaf.tasks import Progress, Task

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Values found by trial; tests/benchmarks/measure_bending.py measures what comes of them.
STEPS = (0.6, 0.6, 0.6, 0.6, 0.4, 0.4, 0.2, 0.1, 0.1, 0.05, 0.02)
"""Greatest movement of any vertex in each round, mm."""
FINE_STEPS = 3
"""Number of final steps made with fine outlines."""
MAX_GROUP = 8
"""Greatest number of motifs in one program."""
MIN_BEND_SHARE, HALVINGS = 0.9, 4
"""Least share of the bend that remains where a motif is bent too far, and number of bisections to
find that share."""
LIMITED_VERTICES = 24
"""Number of vertices of a motif whose movement is limited to the step."""
MAX_SWEEPS = 60
"""Greatest number of rounds of shrinking to exact distances."""
ASSUMED_EXCESS = 0.005
"""mm: assumed excess of a motif that is not wholly within the field."""
TEST_ROUNDS = (2, 4, 6)
"""Rounds after which all motifs are tested for strength. Those that do not hold go back to their
last tested shape: that is less than the gap away, so that no outlines cross."""
ATTEMPTS = 4
"""Attempts, each without bending the motifs that failed in the one before, until all are left as
they were."""

Holds = Callable[[PoolItem, Pose], bool]
"""Returns whether a bent motif holds on its card."""


def bend_filling(
    problem: Problem, container: Container, filling: Filling, holds: Holds, end: float = math.inf
) -> Task[Filling]:
    """The filling with bendable motifs bent to cover more, all distances exact.

    Fixed motifs stay. A motif that does not hold when bent is made straight again; if that does not
    help, the filling is unchanged. Ends at about `end` by the problem's clock.
    """
    if not any(problem.item(each).stiff for each in filling.placements):
        return filling
    new = [(problem.item(each), each.pose) for each in filling.placements[len(problem.fixed) :]]
    outlines = place_items([item for item, _ in new], [pose for _, pose in new])
    here = container.violation(outlines) <= 0
    shapes = [
        BendShape.at(item, pose, bends=item.stiff is not None)
        for (item, pose), mine in zip(new, here, strict=True)
        if mine
    ]
    start, straight, weak = shapes, set[int](), set[str]()

    def holds_here(item: PoolItem, pose: Pose) -> bool:
        held = holds(item, pose)
        weak.update(() if held else [item.name])
        return held

    for attempt in range(ATTEMPTS):
        if attempt and problem.clock() >= end:
            break
        shapes = [each.fixed() if index in straight else each for index, each in enumerate(start)]
        if not any(shape.bends for shape in shapes):
            break
        due = in_time(STEPS, FINE_STEPS, problem.clock, end)
        shapes = yield from _bent(shapes, container, holds_here, due)
        exact, failing = _shrunk(shapes, container)
        failing |= {index for index, shape in enumerate(exact) if _fails(shape, holds_here)}
        if not failing:
            items, poses = [each.item for each in exact], [each.placed for each in exact]
            bent = problem.evaluate_poses(items, poses, filling.steps)
            filling = bent if bent.coverage > filling.coverage else filling
            break
        straight |= failing
    left = {each.motif for each in filling.placements if each.pose.bend is None}
    return replace(filling, straight=tuple(sorted(weak & left)))


def _fails(shape: BendShape, holds: Holds) -> bool:
    pose = shape.placed
    return pose.bend is not None and not holds(shape.item, pose)


def _bent(
    shapes: list[BendShape], container: Container, holds: Holds, steps: Iterable[float]
) -> Generator[Progress[Any], None, list[BendShape]]:
    """The bent shapes; those that did not hold keep their last shape that did."""
    fixed, held = fixed_outlines(container), shapes
    for number, step in enumerate(steps, 1):
        shapes = [shape.rough(step > STEPS[-FINE_STEPS]) for shape in shapes]
        centres = np.array([shape.mapping[:, 0] for shape in shapes])
        for group in groups_of(centres, MAX_GROUP):
            yield Progress(1000, 1000, "bending")
            outlines = _outlines(shapes, container.gap).joined(fixed)
            contacts = contacts_of(outlines, group, 3 * step)
            changes = _best_change([shapes[index] for index in group], contacts, step)
            for index, change in zip(group, changes, strict=True):
                shapes[index] = _within_bend_limits(shapes[index], change)
        if number in TEST_ROUNDS:
            held = shapes = [
                before.fixed() if shape.bends and _fails(shape, holds) else shape
                for shape, before in zip(shapes, held, strict=True)
            ]
    return shapes


def _outlines(shapes: Sequence[BendShape], gap: float) -> Outlines:
    vertices = [shape.vertices for shape in shapes]
    owner = np.repeat(np.arange(len(shapes)), [len(each) for each in vertices])
    return Outlines(np.vstack(vertices), owner, np.full(len(shapes), gap))


def _within_bend_limits(shape: BendShape, change: Floats) -> BendShape:
    """The changed shape, made straighter if it is bent too far; unchanged if that does not help."""
    changed = shape.changed(change)
    if changed.is_sound:
        return changed
    low, high = MIN_BEND_SHARE, 1.0
    if not changed.straighter(low).is_sound:
        return shape
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if changed.straighter(middle).is_sound else (low, middle)
    return changed.straighter(low)


def _best_change(shapes: Sequence[BendShape], contacts: Contacts, step: float) -> list[Floats]:
    """The change of each shape along its basis that adds most area."""
    counts = [shape.basis.shape[1] for shape in shapes]
    starts = np.concatenate([[0], np.cumsum(counts)])
    gain = np.concatenate([shape.area_slope() @ shape.basis for shape in shapes])
    limits = [shape.limits(step) for shape in shapes]
    derivatives = [_vertex_derivatives(shape) for shape in shapes]
    movement = scipy.sparse.block_diag([scipy.sparse.coo_array(each) for each in derivatives])
    matrix = scipy.sparse.vstack(
        [
            _contact_derivatives(shapes, contacts, starts),
            scipy.sparse.block_diag([scipy.sparse.coo_array(rows) for rows, _ in limits]),
            movement,
            -movement,
        ]
    )
    moving = np.full(2 * sum(map(len, derivatives)), step)
    spare = np.concatenate([contacts.slack, *(bound for _, bound in limits), moving])
    broken = np.flatnonzero(contacts.slack < 0)
    yielding = scipy.sparse.coo_array(
        (-np.ones(len(broken)), (broken, np.arange(len(broken)))), shape=(len(spare), len(broken))
    )
    answer = scipy.optimize.linprog(
        np.concatenate([-gain, np.full(len(broken), INFEASIBILITY_COST)]),
        A_ub=scipy.sparse.hstack([matrix, yielding]),
        b_ub=spare,
        bounds=[*[(None, None)] * len(gain), *[(0, None)] * len(broken)],
        method="highs-ds",
    )
    if answer.x is None:
        return [np.zeros(count) for count in counts]
    return [answer.x[start : start + count] for start, count in zip(starts, counts, strict=False)]


def _vertex_derivatives(shape: BendShape) -> Floats:
    """The derivative of some vertices' positions by the basis: rows for x, then for y."""
    some = np.unique(np.linspace(0, len(shape.base) - 2, LIMITED_VERTICES).astype(int))
    powers = shape.powers[some]
    zero = np.zeros_like(powers)
    return np.vstack([np.hstack([powers, zero]), np.hstack([zero, powers])]) @ shape.basis


def _contact_derivatives(
    shapes: Sequence[BendShape], contacts: Contacts, starts: Ints
) -> scipy.sparse.coo_array:
    """The derivative of each contact's closing by all changes: (contacts, changes)."""
    away = contacts.place - contacts.other_place
    away /= np.hypot(away[:, 0], away[:, 1])[:, None]
    values, rows, columns = [], [], []
    for owners, places, sign in (
        (contacts.owner, contacts.place, -1.0),
        (contacts.other, contacts.other_place, 1.0),
    ):
        for index, shape in enumerate(shapes):
            row = np.flatnonzero(owners == index)
            if not len(row):
                continue
            powers = shape.powers_at(places[row])
            toward = sign * away[row]
            closing = np.hstack([toward[:, :1] * powers, toward[:, 1:] * powers]) @ shape.basis
            values.append(closing.ravel())
            rows.append(np.repeat(row, closing.shape[1]))
            columns.append(np.tile(starts[index] + np.arange(closing.shape[1]), len(row)))
    if not values:
        return scipy.sparse.coo_array((len(away), int(starts[-1])))
    return scipy.sparse.coo_array(
        (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns))),
        shape=(len(away), int(starts[-1])),
    )


def _shrunk(shapes: list[BendShape], container: Container) -> tuple[list[BendShape], set[int]]:
    """The shapes shrunk until all distances are exact, and the indices of those that failed."""
    items = [shape.item for shape in shapes]
    smallest = np.array([item.sizes.smallest for item in items])
    for sweep in range(MAX_SWEEPS):
        outlines = place_items(items, [shape.placed for shape in shapes])
        radii = np.array([shape.size for shape in shapes]) / 2
        violation = np.maximum(container.violation(outlines), 0)
        lack = np.where(np.isinf(violation), ASSUMED_EXCESS * (1 + sweep), violation)
        for first, second, overlap in close_pairs(outlines, container.gap):
            lack[first], lack[second] = max(lack[first], overlap), max(lack[second], overlap)
        if (lack <= 0).all():
            return shapes, set()
        factor = 1 - np.minimum(0.2, (1.1 + 0.15 * sweep) * lack / radii)
        factor = np.maximum(factor, np.minimum(1, smallest / (2 * radii)))
        shapes = [
            shape.scaled(by) if by < 1 else shape
            for shape, by in zip(shapes, factor.tolist(), strict=True)
        ]
        if any(shape.outline.area < MIN_AREA * shape.area for shape in shapes):
            break
    return [], set(np.flatnonzero(lack > 0).tolist())
