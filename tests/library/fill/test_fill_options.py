"""Every wish of the crafter, looked at alone."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, box

from hingeleaf.errors import FieldTooSmallError, UsageError
from hingeleaf.fill.filler import fill
from hingeleaf.fill.filling import Filling
from hingeleaf.fill.options import Budget, Feet, FillOptions, Spread
from hingeleaf.fill.pool import PoolItem
from hingeleaf.model import Field, Placement, Pose, SizeRange
from hingeleaf.tasks import finish
from support.fill_problems import faults, placed
from support.fill_shapes import feet_direction, item, mirror_image, plain_field, pool, tile


def filled(
    field: Field,
    items: list[PoolItem],
    pinned: tuple[Placement, ...] = (),
    **wanted: object,
) -> Filling:
    rules = FillOptions(**{"budget": Budget.DRAFT, **wanted})  # type: ignore[arg-type]
    return finish(fill(field, items, rules, pinned=pinned))


@pytest.mark.parametrize("limit", [0.0, 20.0])
def test_no_motif_turns_farther_than_it_may(limit: float) -> None:
    filling = filled(tile(), pool(turn_limit=limit))
    assert filling.count > 10
    assert all(abs(each.pose.turn) <= limit for each in filling.placements)


def test_free_motifs_turn_all_ways() -> None:
    turns = [each.pose.turn for each in filled(tile(), pool()).placements]
    quarters = np.floor(np.array(turns) / 90).astype(int)
    assert set(quarters) == {-2, -1, 0, 1}


def test_only_motifs_that_may_are_mirrored() -> None:
    items = [item("flag", may_mirror=False), item("kite", may_mirror=False), item("clover")]
    mirrored = {each.motif for each in filled(tile(), items).placements if each.pose.mirrored}
    assert mirrored == {"clover"}


@pytest.mark.parametrize(("gap", "edge"), [(0.5, None), (4.0, None), (1.0, 6.0), (3.0, 0.0)])
def test_the_gap_and_the_margin_are_kept_and_used(gap: float, edge: float | None) -> None:
    field, items = tile(), pool()
    filling = filled(field, items, gap=gap, edge=edge)
    shapes = placed(filling.placements, items)
    margin = gap if edge is None else edge
    assert faults(field, shapes, gap, margin) == []
    assert gap <= filling.least_gap <= gap + 0.1
    closest = shapely.distance(field.area.boundary, shapes).min()
    assert margin <= closest <= margin + 0.1


@pytest.mark.parametrize("share", [0.2, 0.5, 0.8])
def test_the_lifting_share_is_kept_near(share: float) -> None:
    items = [item(name, lifts=name in ("sun", "flag", "kite")) for name in pool_names()]
    filling = filled(tile(), items, lifting_share=share)
    assert filling.lifting_share == pytest.approx(share, abs=0.12)
    lifting = sum(each.motif in ("sun", "flag", "kite") for each in filling.placements)
    assert filling.lifting_share == lifting / filling.count


def pool_names() -> list[str]:
    return [each.name for each in pool()]


def test_a_single_kind_fills_although_all_are_neighbours() -> None:
    assert filled(tile(), [item("clover")]).count > 10


def test_sizes_vary_or_are_even() -> None:
    varied = filled(tile(), pool(8, 28), spread=Spread.VARIED)
    even = filled(tile(), pool(8, 28), spread=Spread.EVEN)
    sizes = np.array([each.pose.size for each in varied.placements])
    thirds = 8 * 3.5 ** np.array([1 / 3, 2 / 3])
    parts = np.bincount(np.searchsorted(thirds, sizes), minlength=3) / len(sizes)
    assert parts.min() >= 0.1
    middle = math.sqrt(8 * 28)
    assert all(middle / 1.16 <= each.pose.size <= middle * 1.16 for each in even.placements)


def test_both_halves_are_mirror_images() -> None:
    field = plain_field(box(0, 0, 120, 80) - box(40, 25, 80, 55), axis=((60, 0), (60, 80)))
    items = pool()
    filling = filled(field, items, symmetric=True)
    shapes = placed(filling.placements, items)
    assert faults(field, shapes, 2.0, 2.0) == []
    right = [shape for shape in shapes if shape.bounds[0] > 60]
    astride = [shape for shape in shapes if shape.bounds[0] <= 60 <= shape.bounds[2]]
    assert 2 * len(right) + len(astride) == len(shapes)
    for shape in right:
        image = mirror_image(shape, 60)
        nearest = min(shapes, key=lambda other: other.hausdorff_distance(image))
        assert nearest.hausdorff_distance(image) < 1e-6
    for shape in astride:
        unlike = shapely.symmetric_difference(shape, mirror_image(shape, 60)).area
        assert unlike < 0.04 * shape.area
    ends = {shape.centroid.y < 40 for shape in astride}
    assert ends == {True, False}, "above the opening and below it"


def standing_on_axis(angle: float, **rest: Any) -> set[tuple[str, float]]:
    """The motifs on an axis at some angle through a disc, and their turns from along it."""
    x, y = math.cos(math.radians(angle)), math.sin(math.radians(angle))
    field = plain_field(Point(0, 0).buffer(50), axis=((-x, -y), (x, y)))
    filling = filled(field, [item("kite", **rest), item("flag", **rest)], symmetric=True)
    return {
        (each.motif, round(math.remainder(each.pose.turn - angle, 180), 6))
        for each in filling.placements
        if abs(each.pose.x * y - each.pose.y * x) < 1e-9
    }


@pytest.mark.parametrize("angle", [90.0, 0.0, 35.0])
def test_only_motifs_that_are_their_own_mirror_images_stand_on_the_axis(angle: float) -> None:
    """A kite mirrors about both its diagonals, a flag about nothing."""
    found = standing_on_axis(angle)
    assert found
    assert found <= {("kite", 0.0), ("kite", 90.0), ("kite", -90.0)}


def test_turn_limits_hold_to_the_last_bit_though_turns_are_computed() -> None:
    upright = item("sun", turn_limit=0.0)
    assert upright.unrounded(-1.6e-15) == 0 and upright.unrounded(0.01) == 0.01
    fixed = PoolItem("fixed", 1, upright.footprint, upright.drawn_size, upright.sizes, 15.0)
    assert fixed.unrounded(15.0 + 3e-14) == 15.0 and fixed.unrounded(-16.0) == -16.0


def test_motifs_on_the_axis_keep_their_turn_limit() -> None:
    assert standing_on_axis(90.0, turn_limit=20.0) in ({("kite", 90.0)}, {("kite", -90.0)})
    field = plain_field(box(0, 0, 60, 90), axis=((30, 0), (30, 90)))
    filling = filled(field, [item("clover", turn_limit=20.0)], symmetric=True)
    astride = [each.pose for each in filling.placements if each.pose.x == 30]
    assert astride and {pose.turn for pose in astride} == {0.0}


@pytest.mark.parametrize("feet", list(Feet))
def test_motifs_on_the_axis_have_their_feet_as_asked(feet: Feet) -> None:
    field = plain_field(box(0, 0, 150, 130) - box(35, 35, 115, 95), axis=((75, 0), (75, 130)))
    filling = filled(field, [item("clover", turn_limit=0.0)], symmetric=True, feet=feet)
    astride = [each.pose for each in filling.placements if abs(each.pose.x - 75) < 1e-9]
    assert {pose.y < 65 for pose in astride} == {True, False}
    for pose in astride:
        outwards = -1 if pose.y < 65 else 1
        assert feet_direction(pose)[1] * outwards == pytest.approx(
            1 if feet is Feet.OUTWARDS else -1
        )


def test_only_the_region_of_a_symmetric_field_is_filled_on_the_axis_too() -> None:
    field = plain_field(box(0, 0, 120, 80), axis=((60, 0), (60, 80)))
    region = Point(60, 30).buffer(25)
    items = pool()
    filling = filled(field, items, symmetric=True, region=region)
    assert filling.count
    assert all(region.covers(shape) for shape in placed(filling.placements, items))


def test_symmetry_needs_an_axis_and_motifs_that_may_be_mirrored() -> None:
    with pytest.raises(UsageError, match="no mirror axis"):
        filled(tile(), pool(), symmetric=True)
    field = plain_field(box(0, 0, 120, 80), axis=((60, 0), (60, 80)))
    with pytest.raises(UsageError, match="may be mirrored"):
        filled(field, pool(may_mirror=False), symmetric=True)
    named = [item("flag", may_mirror=False, least=1), item("kite")]
    with pytest.raises(UsageError, match="flag is asked for, but it may not stand mirrored"):
        filled(field, named, symmetric=True)


@pytest.mark.parametrize("feet", list(Feet))
def test_feet_point_across_the_border(feet: Feet) -> None:
    field = plain_field(box(0, 0, 150, 130) - box(35, 35, 115, 95))
    filling = filled(field, pool(turn_limit=0.0), feet=feet, feet_sway=10.0)
    straight = 0
    for each in filling.placements:
        x, y = each.pose.x, each.pose.y
        sides = {(-1, 0): x, (1, 0): 150 - x, (0, -1): y, (0, 1): 130 - y}
        nearest, second = sorted(sides.values())[:2]
        if second < nearest + 25:
            continue  # Near a corner, where the direction turns.
        straight += 1
        outwards = min(sides, key=sides.__getitem__)
        wanted = np.array(outwards) * (1 if feet is Feet.OUTWARDS else -1)
        lean = math.degrees(math.acos(np.clip(wanted @ feet_direction(each.pose), -1, 1)))
        assert lean <= 20
    assert straight > 8


PIN = Placement("sun", 1, Pose(50, 33, 12.0, 26.0), pinned=True)


def test_a_pinned_motif_stays_and_all_keep_clear_of_it() -> None:
    field, items = tile(), pool()
    filling = filled(field, items, (PIN,))
    assert filling.placements[0] == PIN
    assert faults(field, placed(filling.placements, items), 2.0, 2.0) == []


def test_a_pinned_motif_must_be_in_the_pool() -> None:
    with pytest.raises(UsageError, match="pinned motif sun"):
        filled(tile(), [item("kite")], (PIN,))


def test_only_the_region_is_filled_anew() -> None:
    field, items = tile(), pool()
    region = Point(40, 33).buffer(31)
    filling = filled(field, items, (PIN,), region=region)
    new = placed(filling.placements[1:], items)
    assert len(new) >= 3
    assert all(region.covers(shape) for shape in new)
    assert faults(field, placed(filling.placements, items), 2.0, 2.0) == []


def test_pins_alone_are_a_filling_where_nothing_else_fits() -> None:
    filling = filled(tile(), pool(120, 130), (PIN,))
    assert filling.placements == (PIN,)


def test_thin_parts_islands_and_holes_are_filled_within() -> None:
    area = shapely.union_all([box(0, 0, 60, 60) - box(20, 20, 40, 40), box(60, 28, 110, 40)])
    field = plain_field(MultiPolygon([area, box(70, 50, 100, 80)]))
    items = pool(6, 20)
    filling = filled(field, items)
    shapes = placed(filling.placements, items)
    assert faults(field, shapes, 2.0, 2.0) == []
    assert any(box(70, 50, 100, 80).covers(shape) for shape in shapes)
    assert any(box(62, 28, 110, 40).covers(shape) for shape in shapes)


@pytest.mark.parametrize("width", [9.0, 25.0])
def test_what_the_smallest_would_need_is_told_where_nothing_fits(width: float) -> None:
    field = plain_field(box(0, 0, 200, width))
    with pytest.raises(FieldTooSmallError) as caught:
        filled(field, [item("pebble", 30, 60), item("sun", 50, 60)])
    message = caught.value.message
    assert "pebble" in message
    assert "30 mm long" in message
    # 30 mm of pebble and twice the margin of 2 mm; the circle is a polygon with 32 sides.
    needed = float(message.split("a place ")[1].split(" mm")[0])
    assert needed == pytest.approx(34.0, abs=0.3)
    widest = float(message.split("widest place is ")[1].split(" mm")[0])
    assert widest == pytest.approx(width, abs=0.06)
    assert "not long enough" not in message
    assert "smaller" in caught.value.remedy


def test_a_place_that_is_wide_enough_but_too_short_is_told_so() -> None:
    with pytest.raises(FieldTooSmallError, match="wide, but not long enough"):
        oar = MultiPolygon([box(-30, -4, 30, 4)])
        filled(plain_field(box(0, 0, 30, 30)), [PoolItem("oar", 1, oar, 60, SizeRange(50, 60))])


def test_a_pool_without_use_is_refused() -> None:
    with pytest.raises(UsageError, match="no motif to fill with"):
        filled(tile(), [])
    with pytest.raises(UsageError, match="has no size"):
        filled(tile(), [item("sun", 20, 10)])
    with pytest.raises(UsageError, match="too many"):
        filled(tile(1000, 1000), pool(1, 2))


def test_long_motifs_lie_along_the_stroke_and_limited_ones_stay_upright() -> None:
    """In an upright ring planks follow its strokes; a flag that hardly turns does not."""
    ring = box(0, 0, 90, 90).difference(box(24, 24, 66, 66))
    items = [item("plank", 10, 30), item("flag", 10, 20, turn_limit=5.0)]
    rules = FillOptions(budget=Budget.DRAFT, along=True)
    filling = finish(fill(plain_field(ring), items, rules))
    planks = [each.pose for each in filling.placements if each.motif == "plank"]
    assert len(planks) > 3
    for pose in planks:
        if 30 < pose.x < 60:  # above and below the opening; no corner is near
            assert abs(math.sin(math.radians(pose.turn))) < math.sin(math.radians(25))
        if 30 < pose.y < 60:
            assert abs(math.cos(math.radians(pose.turn))) < math.sin(math.radians(25))
    flags = [each.pose for each in filling.placements if each.motif == "flag"]
    assert flags and all(abs(pose.turn) <= 5 for pose in flags)
    with pytest.raises(UsageError, match="across the border"):
        FillOptions(along=True, feet=Feet.INWARDS)
