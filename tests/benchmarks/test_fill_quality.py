"""How well the filler fills a fixed set of problems, beside the plain way and a nesting solver."""

from __future__ import annotations

import math
import random
import time

import numpy as np
import pytest
import shapely
import spyrrow
from shapely import Polygon, STRtree, box

from disc_packings import CONTAINERS, best_radius, packed
from fill_problems import GAP, SIZES, faults, figures, placed, pool, problems, tell
from fill_shapes import plain_field
from hingeleaf.fill.filler import fill
from hingeleaf.fill.rules import Rules
from hingeleaf.model import Field, Pose
from hingeleaf.tasks import finish

SEEDS = range(5)
STEPS_DOWN = 12
"""Sizes that the plain way goes through, largest first."""


@pytest.fixture(scope="module", autouse=True)
def compiled() -> None:
    """Times count from when the compiled code is loaded."""
    finish(fill(plain_field(box(0, 0, 60, 60)), pool(), Rules(seconds=0.1)))


def darts(field: Field, seconds: float, seed: int) -> float:
    """The coverage of the plain way: random places, biggest first, kept where they are free."""
    started, chance, items = time.perf_counter(), random.Random(seed), pool()
    inner = field.area.buffer(-GAP)
    shapely.prepare(inner)
    left, top, right, bottom = inner.bounds
    sizes = np.geomspace(SIZES.largest, SIZES.smallest, STEPS_DOWN)
    shapes: list[Polygon] = []
    tree = STRtree(shapes)
    while (share := (time.perf_counter() - started) / seconds) < 1:
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


@pytest.mark.parametrize("seconds", [1.0, 5.0, 30.0])
@pytest.mark.parametrize("name", problems())
def test_fillings_cover_far_more_than_darts(
    name: str, seconds: float, capsys: pytest.CaptureFixture[str]
) -> None:
    field, items, rows, plain = problems()[name], pool(), [], []
    for seed in SEEDS:
        filling = finish(fill(field, items, Rules(gap=GAP, seed=seed, seconds=seconds)))
        assert faults(field, placed(filling.placements, items), GAP, GAP) == []
        rows.append({**figures(field, filling, items), "seconds": filling.seconds})
        if seconds < 30 or seed == 0:
            plain.append(darts(field, seconds, seed))
    medians = {key: float(np.median([row[key] for row in rows])) for key in rows[0]}
    ratio = medians["coverage"] / float(np.median(plain))
    told = ", ".join(f"{key} {value:.4g}" for key, value in medians.items())
    tell(capsys, f"{name} in {seconds:g} s: {told}; {ratio:.2f} x darts")
    assert ratio >= 1.4


LENGTH, HEIGHT = 250.0, 200.0
FEWER = 0.02
"""How far from the pieces those may be that spyrrow gets, mm, so that it has less to reckon."""


def spyrrow_density(shapes: list[Polygon], seconds: int, seed: int) -> float:
    """The share of the strip that spyrrow needs for the same pieces, as far apart, turned freely.

    It keeps the gap from the strip's edges too, so it gets a strip that is wider by that.
    """
    pieces = [
        spyrrow.Item(str(index), list(shape.simplify(FEWER).exterior.coords[:-1]), 1, None)
        for index, shape in enumerate(shapes)
    ]
    strip = spyrrow.StripPackingInstance("strip", HEIGHT + 2 * GAP, pieces)
    settings = spyrrow.StripPackingConfig(
        early_termination=False, min_items_separation=GAP, total_computation_time=seconds,
        num_workers=1, seed=seed,
    )  # fmt: skip
    width = strip.solve(settings).width - 2 * GAP
    return sum(shape.area for shape in shapes) / (HEIGHT * width)


def test_a_rectangle_is_filled_more_densely_than_by_a_nesting_solver(
    capsys: pytest.CaptureFixture[str],
) -> None:
    field, items, seconds, ours, theirs = plain_field(box(0, 0, LENGTH, HEIGHT)), pool(), 5, [], []
    for seed in SEEDS:
        rules = Rules(gap=GAP, edge=0.0, seed=seed, seconds=seconds)
        shapes = placed(finish(fill(field, items, rules)).placements, items)
        left, _, right, _ = shapely.total_bounds(shapes)
        ours.append(sum(shape.area for shape in shapes) / (HEIGHT * (right - left)))
        theirs.append(spyrrow_density(shapes, seconds, seed))
    tell(capsys, f"rectangle: {np.median(ours):.4f}; spyrrow {np.median(theirs):.4f}")
    assert np.median(ours) > np.median(theirs)


@pytest.mark.parametrize("container", CONTAINERS)
@pytest.mark.parametrize("count", [7, 12, 19])
def test_how_near_discs_come_to_the_best_known(
    container: str, count: int, capsys: pytest.CaptureFixture[str]
) -> None:
    best = best_radius(container, count)

    def fits(share: float) -> bool:
        return any(packed(container, share * best, seed) >= count for seed in SEEDS)

    found = next((float(share) for share in np.arange(1.0, 0.95, -0.0025) if fits(share)), math.nan)
    tell(capsys, f"{count} discs in a {container}: {found:.2%} of the best known radius")
    assert found >= 0.97
