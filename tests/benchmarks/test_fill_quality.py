"""How well the filler fills a fixed set of problems, beside the plain way and a nesting solver.

Beside the plain way seconds are those of the processor, so that other work on the machine weighs
on neither; the solver knows only the clock on the wall.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
import shapely
import spyrrow
from shapely import Polygon, STRtree, box
from shapely.geometry.polygon import orient

from figures import Figure
from hingeleaf.fill.filler import fill
from hingeleaf.fill.options import FillOptions, Spread
from hingeleaf.model import Field, Pose
from hingeleaf.tasks import finish
from support.disc_packings import CONTAINERS, best_radius, packed
from support.fill_problems import GAP, SIZES, faults, measures, placed, pool, problems
from support.fill_shapes import plain_field

Tell = Callable[[Figure], Figure]
SEEDS = range(5)
WANTED = {1.0: (0.68, 0.80, 13.0), 5.0: (0.70, 0.825, 10.0), 30.0: (0.72, 0.84, 9.0)}
"""By seconds: what is wished for of coverage, dilated coverage and the largest empty circle, mm."""
STEPS_DOWN = 12
"""Sizes that the plain way goes through, largest first."""


def test_a_time_limit_is_kept(tell: Tell) -> None:
    """By the clock of the processor, with so many shapes that the exact finish alone is long."""
    field = plain_field(box(0, 0, 400, 400))
    taken = finish(fill(field, pool(), FillOptions(seconds=4.0), clock=time.process_time)).seconds
    told = Figure("fill a field in 4 s", taken, "s", "asked", 4.0, most=1.15 * 4.0)
    assert tell(told).reached


@pytest.fixture(scope="module", autouse=True)
def compiled() -> None:
    """Times count from when the compiled code is loaded."""
    finish(fill(plain_field(box(0, 0, 60, 60)), pool(), FillOptions(seconds=0.1)))


PLAIN = FillOptions(gap=GAP, spread=Spread.FREE, avoid_neighbours=False)
"""The problem and no wish beside it, as for darts, which know of none either."""


def measured(field: Field, rules: FillOptions) -> dict[str, float]:
    """What a filling comes to, after a look that it breaks no rule."""
    items = pool()
    filling = finish(fill(field, items, rules, clock=time.process_time))
    assert faults(field, placed(filling.placements, items), GAP, GAP) == []
    return measures(field, filling, items)


def medians(rows: list[dict[str, float]]) -> dict[str, float]:
    return {key: float(np.median([row[key] for row in rows])) for key in rows[0]}


def darts(field: Field, seconds: float, seed: int) -> float:
    """The coverage of the plain way: random places, biggest first, kept where they are free."""
    started, chance, items = time.process_time(), random.Random(seed), pool()
    inner = field.area.buffer(-GAP)
    shapely.prepare(inner)
    left, top, right, bottom = inner.bounds
    sizes = np.geomspace(SIZES.largest, SIZES.smallest, STEPS_DOWN)
    shapes: list[Polygon] = []
    tree = STRtree(shapes)
    while (share := (time.process_time() - started) / seconds) < 1:
        item = chance.choice(items)
        pose = Pose(
            chance.uniform(left, right),
            chance.uniform(top, bottom),
            chance.uniform(-180, 180),
            float(sizes[int(share * STEPS_DOWN)]),
            chance.random() < 0.5,
        )
        if not shapely.contains_xy(inner, pose.x, pose.y):
            continue
        shape = pose.place(item.footprint, item.drawn_size)
        if inner.contains(shape) and not len(tree.query(shape, "dwithin", GAP)):
            shapes.append(shape)
            tree = STRtree(shapes)
    return sum(shape.area for shape in shapes) / field.area.area


@pytest.mark.parametrize("seconds", WANTED)
@pytest.mark.parametrize("name", problems())
def test_fillings_cover_far_more_than_darts(name: str, seconds: float, tell: Tell) -> None:
    field, rows, plain = problems()[name], [], []
    for seed in SEEDS:
        rows.append(measured(field, replace(PLAIN, seed=seed, seconds=seconds)))
        if seconds < 30 or seed == 0:
            plain.append(darts(field, seconds, seed))
    found = medians(rows)
    title, (coverage, dilated, circle) = f"{name} in {seconds:g} s, ", WANTED[seconds]
    beside = ("darts", float(np.median(plain)))
    ours = tell(Figure(f"{title}coverage", found["coverage"], "share", *beside, least=coverage))
    tell(Figure(f"{title}dilated", found["dilated"], "share", least=dilated))
    tell(Figure(f"{title}empty circle", found["empty circle"], "mm", most=circle))
    tell(Figure(f"{title}balance", found["balance"], "share", least=0.85))
    assert ours.ratio >= 1.4


@pytest.mark.parametrize("name", problems())
def test_wishes_cost_little_coverage(name: str, tell: Tell) -> None:
    """Sizes varied and no kind beside itself, as it is where nothing is said."""
    field, seconds = problems()[name], 5.0
    usual, plain = (
        medians([measured(field, replace(rules, seed=s, seconds=seconds)) for s in SEEDS])
        for rules in (FillOptions(gap=GAP), PLAIN)
    )
    peer = ("without objective", plain["coverage"])
    title = f"{name} with the usual objective in {seconds:g} s, "
    ours = tell(Figure(f"{title}coverage", usual["coverage"], "share", *peer))
    tell(Figure(f"{title}dilated", usual["dilated"], "share"))
    tell(Figure(f"{title}empty circle", usual["empty circle"], "mm"))
    assert ours.ratio >= 0.97


LENGTH, HEIGHT = 250.0, 200.0
FEWER = 0.02
"""How far from the pieces those may be that spyrrow gets, mm, so that it has less to compute."""


def spyrrow_density(shapes: list[Polygon], seconds: int, seed: int) -> float:
    """The share of the strip that spyrrow needs for the same pieces, as far apart, turned freely.

    It keeps the gap from the strip's edges too, so it gets a strip that is wider by that, and it
    wants outlines anticlockwise.
    """
    pieces = [
        spyrrow.Item(str(index), list(orient(shape.simplify(FEWER)).exterior.coords[:-1]), 1, None)
        for index, shape in enumerate(shapes)
    ]
    strip = spyrrow.StripPackingInstance("strip", HEIGHT + 2 * GAP, pieces)
    settings = spyrrow.StripPackingConfig(
        early_termination=False, min_items_separation=GAP, total_computation_time=seconds,
        num_workers=1, seed=seed,
    )  # fmt: skip
    width = strip.solve(settings).width - 2 * GAP
    return sum(shape.area for shape in shapes) / (HEIGHT * width)


def test_a_rectangle_is_filled_more_densely_than_by_a_nesting_solver(tell: Tell) -> None:
    field, items, seconds, ours, theirs = plain_field(box(0, 0, LENGTH, HEIGHT)), pool(), 5, [], []
    for seed in SEEDS:
        rules = replace(PLAIN, edge=0.0, seed=seed, seconds=seconds)
        filling = finish(fill(field, items, rules, clock=time.process_time))
        shapes = placed(filling.placements, items)
        left, _, right, _ = shapely.total_bounds(shapes)
        ours.append(sum(shape.area for shape in shapes) / (HEIGHT * (right - left)))
        theirs.append(spyrrow_density(shapes, seconds, seed))
    mine, peer = float(np.median(ours)), float(np.median(theirs))
    assert tell(Figure("rectangle in 5 s", mine, "share", "spyrrow", peer, least=peer)).reached


@pytest.mark.parametrize("container", CONTAINERS)
@pytest.mark.parametrize("count", [7, 12, 19])
def test_how_near_discs_come_to_the_best_known(container: str, count: int, tell: Tell) -> None:
    best = best_radius(container, count)

    def fits(share: float) -> bool:
        return any(packed(container, share * best, seed) >= count for seed in SEEDS)

    found = next((float(share) for share in np.arange(1.0, 0.95, -0.0025) if fits(share)), math.nan)
    title = f"{count} discs in a {container}, of the best known radius"
    assert tell(Figure(title, found, "share", least=0.97)).reached
