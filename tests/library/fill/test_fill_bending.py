"""Bent motifs: valid, within limits, stiff where they must be, put back where they fail."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import LineString, Point, Polygon, box

from hingeleaf.fill.bend_shape import BendShape
from hingeleaf.fill.filler import fill
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.options import Budget, FillOptions
from hingeleaf.fill.pool import PoolItem, StiffParts
from hingeleaf.model import Field, Placement, Pose
from hingeleaf.tasks import finish
from support.fill_problems import faults, placed
from support.fill_shapes import item, plain_field, pool, tile

DRAFT = FillOptions(budget=Budget.DRAFT, gap=2.0)
FOLD = ((-0.3, 0.0), (0.3, 0.1))
LIMP = StiffParts()
TILE = tile(60, 44)
STRETCH, MIN_AREA = 1.25, 0.8


def bending(items: list[PoolItem], stiff: StiffParts = LIMP) -> list[PoolItem]:
    return [replace(each, stiff=stiff) for each in items]


def filled(
    field: Field, items: list[PoolItem], rules: FillOptions = DRAFT, **how: object
) -> Filling:
    return finish(fill(field, items, rules, **how))  # type: ignore[arg-type]


@pytest.fixture(scope="module")
def both() -> tuple[Filling, Filling, list[PoolItem]]:
    """One filling straight and bent; every motif has a fold, and turns by 30° at most."""
    items = pool(low=14, turn_limit=30.0)
    bent = bending(items, StiffParts(folds=(FOLD,)))
    return filled(TILE, items), filled(TILE, bent), items


def test_bent_motifs_cover_more_and_keep_all_distances(
    both: tuple[Filling, Filling, list[PoolItem]],
) -> None:
    straight, bent, items = both
    assert bent.coverage > straight.coverage + 0.01
    shapes = placed(bent.placements, items)
    assert not faults(TILE, shapes, DRAFT.gap, DRAFT.margin)
    assert bent.coverage == pytest.approx(shapely.area(shapes).sum() / TILE.area.area)
    assert [each.motif for each in bent.placements] == [each.motif for each in straight.placements]
    for before, after in zip(straight.placements, bent.placements, strict=True):
        assert 14 <= after.pose.size <= 26 and abs(after.pose.turn) <= 30
        assert after.pose.size**2 >= MIN_AREA * before.pose.size**2 * 0.99


def test_nothing_is_stretched_beyond_the_limit_and_folds_stay_straight(
    both: tuple[Filling, Filling, list[PoolItem]],
) -> None:
    _, bent, items = both
    kinds = {each.name: each for each in items}
    for placement in bent.placements:
        pose, kind = placement.pose, kinds[placement.motif]
        small = 1e-4
        for x, y in shapely.get_coordinates(kind.footprint):
            around = [Point(x, y), Point(x + small, y), Point(x, y + small)]
            here, right, down = (
                np.array(pose.place(point, kind.drawn_size).coords[0]) for point in around
            )
            matrix = np.column_stack([right - here, down - here]) / small
            stretch = np.linalg.svd(matrix * kind.drawn_size / pose.size, compute_uv=False)
            assert 1 / STRETCH - 0.005 <= stretch.min() <= stretch.max() <= STRETCH + 0.005
        fold = pose.place(LineString(np.array(FOLD) * kind.drawn_size), kind.drawn_size)
        chord = LineString([fold.coords[0], fold.coords[-1]])
        assert shapely.hausdorff_distance(fold, chord) < 0.01 * chord.length


def test_round_parts_stay_round() -> None:
    pebble = replace(item("pebble", 14), stiff=StiffParts(rounds=((0.0, 0.0, 0.4),)))
    field = plain_field(Polygon([(0, 0), (50, 0), (40, 26), (0, 30)]))
    for placement in filled(field, [pebble]).placements:
        ring = placement.pose.place(Point(0, 0).buffer(8).exterior, pebble.drawn_size)
        centre = Point(*np.mean(ring.coords[:-1], axis=0))
        radii = [centre.distance(Point(at)) for at in ring.coords]
        assert max(radii) < 1.06 * min(radii)


def test_what_does_not_hold_bent_is_put_back() -> None:
    """The sun may be bent at no time, the others only while they are hardly bent."""
    tried: list[str] = []

    def holds(kind: PoolItem, pose: Pose) -> bool:
        assert pose.bend is not None
        tried.append(kind.name)
        return kind.name != "sun"

    items = bending([item("sun", 14, least=1), *pool(low=14)[1:]])
    filling = filled(TILE, items, replace(DRAFT, seed=2), holds=holds)
    assert "sun" in tried
    bent = {each.motif for each in filling.placements if each.pose.bend is not None}
    assert bent and "sun" not in bent
    assert "sun" in filling.straight
    assert not faults(TILE, placed(filling.placements, items), DRAFT.gap, DRAFT.margin)
    few = plain_field(box(0, 0, 40, 30))
    straight = filled(few, items, holds=lambda kind, pose: False)
    assert not any(each.pose.bend for each in straight.placements)


def test_pinned_motifs_stay_and_a_bent_one_is_kept_clear_of() -> None:
    bend = (0.0, 1.0, 0.0, 0.2, *[0.0] * 8, 1.0, *[0.0] * 7)
    pinned = Placement("plank", 1, Pose(30, 22, 0, 26, bend=bend), pinned=True)
    items = bending(pool(low=14))
    filling = filled(TILE, items, pinned=[pinned])
    assert filling.placements[0] == pinned
    assert not faults(TILE, placed(filling.placements, items), DRAFT.gap, DRAFT.margin)


def test_a_symmetric_filling_is_bent_symmetrically() -> None:
    field = plain_field(box(0, 0, 70, 40), ((35, 0), (35, 40)))
    items = bending([item("sun"), item("clover"), item("kite")])
    rules = replace(DRAFT, symmetric=True)
    filling = filled(field, items, rules)
    shapes = placed(filling.placements, items)
    assert any(each.pose.bend for each in filling.placements)
    assert not faults(field, shapes, rules.gap, rules.margin)
    image = shapely.transform(shapely.union_all(shapes), lambda at: at * [-1, 1] + [70, 0])
    assert shapely.symmetric_difference(image, shapely.union_all(shapes)).area < 0.01


def test_the_same_seed_bends_the_same() -> None:
    items = bending([item("clover", 14), item("plank", 14)])
    one, two = (filled(plain_field(box(0, 0, 40, 30)), items) for _ in range(2))
    assert one.placements == two.placements


def test_a_shape_goes_to_a_pose_and_back() -> None:
    bend = (0.0, 1.1, 0.05, 0.2, 0, 0.1, *[0.0] * 4, 0.0, 0.02, 0.95, *[0.0] * 7)
    for mirrored in (False, True):
        pose = Pose(10, 20, 40, 18, mirrored, bend)
        shape = BendShape.at(replace(item("flag"), stiff=StiffParts()), pose, bends=True)
        there = shape.placed.place(shape.item.footprint, shape.item.drawn_size)
        assert shapely.hausdorff_distance(there, pose.place(shape.item.footprint, 20.0)) < 1e-9
        places = shape.vertices[:-1]
        assert shape.powers_at(places) == pytest.approx(shape.powers[:-1], abs=1e-9)
        longer = shape.changed(1e-6 * shape.area_slope())
        gain = 1e-6 * float(shape.area_slope() @ shape.area_slope())
        assert longer.outline.area - shape.outline.area == pytest.approx(gain, rel=1e-3)
        assert math.isclose(abs(shape.similarity), shape.size, rel_tol=0.1)
