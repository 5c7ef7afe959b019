"""Fill a field with motifs from a pool: check the request, then place, improve and compact."""

from __future__ import annotations

import importlib
import math
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import shapely
from shapely import MultiPolygon

from hingeleaf.errors import FieldTooSmallError, UsageError
from hingeleaf.fill import KERNELS
from hingeleaf.fill.axis_placement import place_on_axis
from hingeleaf.fill.container import Container
from hingeleaf.fill.evenness import evenness
from hingeleaf.fill.feasibility import FINEST, nothing_fits, without_specks
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.mirroring import Axis, common_with_image, may_mirror_about, within_half
from hingeleaf.fill.options import Budget, FillOptions, Spread
from hingeleaf.fill.pool import PoolItem
from hingeleaf.fill.problem import Problem
from hingeleaf.fill.schedule import Schedule, deadline, step_budget
from hingeleaf.model import Field, Placement, SizeRange
from hingeleaf.tasks import Progress, Task, map_results

if TYPE_CHECKING:
    from hingeleaf.fill.bending import Holds
    from hingeleaf.fill.solver import Solver

# Values found by trial; tests/benchmarks/fit_filler.py compares others.
STEPS = {
    Budget.DRAFT: (12, 400),
    Budget.QUICK: (160, 4000),
    Budget.NORMAL: (900, 24_000),
    Budget.THOROUGH: (4000, 120_000),
}
"""Changes tried per motif of the first filling, and their greatest total, by budget."""
MIN_HALF_STEPS = 200
"""Least number of changes if half of a field is filled, which has few motifs."""
SIMILAR_SIZE_FACTOR = 1.15
"""Greatest factor between sizes and the middle one, if all are to be about the same."""
QUICK_FINISH, LONG_FINISH = 12, 24
"""Duration of the exact finish, as a multiple of that of making a filling valid (measured on 24 to
500 motifs)."""
MAX_FINISH_SHARE = 0.4
"""Greatest share of the time left after the first filling that the finish gets."""
LONG_FINISH_SECONDS = 3.0
"""Time limit, in seconds, from which the long finish is worth its time."""
BENDING_SHARE = 0.5
"""Share of a time limit that bending gets."""
MERGE_DISTANCE = 1e-9
"""mm: vertices of the field nearer than this are merged; far less than the tolerance of exact
distances."""


def fill(
    field: Field,
    pool: Sequence[PoolItem],
    rules: FillOptions,
    *,
    pinned: Sequence[Placement] = (),
    holds: Holds = lambda item, pose: True,
    clock: Callable[[], float] = time.perf_counter,
) -> Task[Filling]:
    """Fill a field; every step yields the best complete, valid filling so far.

    Pinned placements stay unchanged, even if they break a rule themselves; their kinds must be in
    the pool (weight 0 keeps a kind from being placed anew). Kinds with `stiff` parts are bent at
    the end if `holds` allows it. `clock` returns seconds.

    Raises UsageError for a pool that cannot be used and FieldTooSmallError if nothing fits.
    """
    started = clock()
    field = replace(field, area=_merge_coincident_vertices(field.area))
    axis = _axis(field, rules)
    problem = Problem(
        field, _usable(field, pool, rules, axis), tuple(pinned), axis, rules, clock, started
    )
    if axis is not None:
        both = _container(problem, whole=True)
        standing = place_on_axis(axis, problem.pool, both, rules)
        problem = replace(problem, fixed=(*problem.fixed, *standing))
    container = _container(problem)
    filling = problem.evaluate(np.empty((0, 5)), np.empty(0, np.int64), 0)
    for done, kernel in enumerate(KERNELS):
        yield Progress(done, len(KERNELS), "getting ready", filling)
        importlib.import_module(kernel)
    if container.open.is_empty:
        raise nothing_fits(container, problem.pool)
    from hingeleaf.fill.solver import Solver

    solver = Solver(problem, container, filling)
    yield from solver.place()
    may_bend = any(item.stiff is not None for item in problem.pool)
    if solver.placed:
        spent = (1 - BENDING_SHARE if may_bend else 1) * (rules.seconds or math.inf)
        end = started + spent
        yield from solver.improve(_schedule(solver, end), long=_is_long(rules))
        yield from solver.finish(long=_is_long(rules), end=end)
    if not solver.filling.count:
        raise nothing_fits(container, problem.pool)
    filling = solver.filling
    if may_bend:
        from hingeleaf.fill.bending import bend_filling

        end = math.inf if rules.seconds is None else started + rules.seconds
        task = bend_filling(problem, container, filling, holds, end)
        filling = yield from map_results(task, lambda _: filling)
    shapes = problem.footprints(filling.placements).tolist()
    even = evenness(field.area, shapes, rules.gap)
    return replace(filling, evenness=even, seconds=clock() - started)


def _merge_coincident_vertices(area: MultiPolygon) -> MultiPolygon:
    """The area without nearly coincident vertices.

    GEOS divides by the square of a side's length, which underflows for the very shortest.
    """
    distinct = shapely.remove_repeated_points(area, MERGE_DISTANCE)
    return distinct if distinct.is_valid and isinstance(distinct, MultiPolygon) else area


def _axis(field: Field, rules: FillOptions) -> Axis | None:
    if not rules.symmetric:
        return None
    if field.axis is None:
        raise UsageError(
            f"{field.label} has no mirror axis to fill about.", "Fill it without symmetry."
        )
    return Axis.through(field.axis)


def _usable(
    field: Field, pool: Sequence[PoolItem], rules: FillOptions, axis: Axis | None
) -> list[PoolItem]:
    """The pool as restricted by the options. Raises UsageError if it cannot be used."""
    for item in pool:
        _check(item)
    if field.area.is_empty:
        raise FieldTooSmallError("The field is empty.", "Choose another shape to fill.")
    usable = list(pool)
    if axis is not None:
        alone = [item for item in usable if not may_mirror_about(axis, item, rules.feet)]
        for item in alone:
            if item.least > 0 and item.weight > 0:
                raise UsageError(
                    f"{item.name} is asked for, but it may not stand mirrored, as every motif does "
                    "on one side of the axis.",
                    f"Fill without symmetry, allow {item.name} to be mirrored, or leave it out.",
                )
        usable = [replace(item, weight=0.0) if item in alone else item for item in usable]
    if not any(item.weight > 0 for item in usable):
        if any(item.weight > 0 for item in pool):
            raise UsageError(
                "None of the motifs may be mirrored, so none can be on both sides of the axis.",
                "Allow mirroring, or fill without symmetry.",
            )
        raise UsageError("There is no motif to fill with.", "Choose some motifs first.")
    if rules.spread is Spread.EVEN:
        usable = _with_similar_sizes(usable, field.area)
    return without_specks(field.area, usable)


def _check(item: PoolItem) -> None:
    low, high = item.sizes.smallest, item.sizes.largest
    if not 0 < low <= high or not math.isfinite(low):
        raise UsageError(
            f"{item.name} has no size between {low} and {high} mm.",
            "Give it a smallest size above zero and a largest that is no smaller.",
        )
    if not item.drawn_size > 0 or not item.footprint.area > 0:
        raise UsageError(f"{item.name} takes up no space.", "Take it out of the pool.")


def _with_similar_sizes(pool: Sequence[PoolItem], area: MultiPolygon) -> list[PoolItem]:
    """The pool with size ranges restricted to about the middle of the usable sizes."""
    left, top, right, bottom = area.bounds
    longest = max(right - left, bottom - top)
    placed = [item.sizes for item in pool if item.weight > 0]
    low = max(min(sizes.smallest for sizes in placed), FINEST * longest)
    high = min(max(sizes.largest for sizes in placed), longest)
    middle = math.sqrt(low * max(low, high))
    alike = SizeRange(middle / SIMILAR_SIZE_FACTOR, middle * SIMILAR_SIZE_FACTOR)
    return [replace(item, sizes=_nearest_range(item.sizes, alike)) for item in pool]


def _nearest_range(sizes: SizeRange, wanted: SizeRange) -> SizeRange:
    """The intersection of a range with another, or its nearer end if there is none."""
    end = sizes.smallest if sizes.smallest > wanted.largest else sizes.largest
    return sizes.intersect(wanted) or SizeRange(end, end)


def _container(problem: Problem, *, whole: bool = False) -> Container:
    """The container to fill: the whole field, or with an axis and not `whole` one half of it."""
    rules, area = problem.rules, problem.field.area
    region = rules.region
    taken = tuple(problem.footprints(problem.fixed))
    if problem.axis is not None:
        taken += tuple(problem.axis.image(shape) for shape in taken)
        if not whole:
            region = within_half(problem.axis, region, area, rules.gap)
        area = common_with_image(problem.axis, area)
    return Container(area, rules.margin, rules.gap, taken, region)


def _schedule(solver: Solver, end: float) -> Schedule:
    rules, clock = solver.problem.rules, solver.problem.clock
    if rules.seconds is None:
        each, most = STEPS[rules.budget]
        least = MIN_HALF_STEPS if solver.problem.axis is not None else 0
        return step_budget(max(least, min(each * solver.placed, most)))
    now = clock()
    finish = (LONG_FINISH if _is_long(rules) else QUICK_FINISH) * solver.publishing_time
    return deadline(clock, now, end - min(finish, MAX_FINISH_SHARE * (end - now)))


def _is_long(rules: FillOptions) -> bool:
    if rules.seconds is None:
        return rules.budget in (Budget.NORMAL, Budget.THOROUGH)
    return rules.seconds >= LONG_FINISH_SECONDS
