"""Plans for shapes that anyone folds without thinking: what lifts, on which side, what stays."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
import shapely
from shapely import MultiPolygon, Point, Polygon, affinity, box

from hingeleaf.geometry.symmetry import find_rotation
from hingeleaf.model import NO_LINES, Cuts, HingeSide, HoldStyle, Severity
from hingeleaf.paper.bridges import strip
from hingeleaf.paper.candidate_seeds import concave_corners
from hingeleaf.paper.card_stock import DEFAULT, PRESETS
from hingeleaf.paper.hinges import MIN_REACH, Hinge, find_hinges
from hingeleaf.paper.planning import PartRequest, Plan, default_width, plan
from support.fold_judge import depth_behind
from support.plan_measures import band, loose_after, ring, star


def made(windows: MultiPolygon, hold: HoldStyle, **wishes: object) -> tuple[Plan, list[Hinge]]:
    planned = plan(windows, NO_LINES, DEFAULT, hold=hold, **wishes)  # type: ignore[arg-type]
    assert loose_after(windows, planned.bridges) == 0
    found = find_hinges(Cuts(windows), planned.bridges, planned.hold)
    assert not [finding for finding in found.findings if finding.severity is Severity.FAULT]
    for hinge in found.hinges:
        assert hinge.reach >= MIN_REACH and hinge.length >= hinge.reach / 8
    return planned, list(found.hinges)


def cat() -> MultiPolygon:
    face = affinity.scale(Point(0, 0).buffer(1, 48), 21, 18)
    ears = [Polygon([(s * 5, -15), (s * 18, -8), (s * 17, -29)]) for s in (-1, 1)]
    return band(shapely.union_all([face, *ears]), 2.2)


def flower(petals: int) -> MultiPolygon:
    turns = np.linspace(0, 2 * np.pi, 60, endpoint=False)
    petal = Polygon(np.c_[5 * np.sin(turns), -9 * np.cos(turns) - 10 - 1.8 * petals])
    shapes = [affinity.rotate(petal, 360 * k / petals, origin=(0, 0)) for k in range(petals)]
    return MultiPolygon([window for shape in shapes for window in band(shape, 1.8).geoms])


def turned_off(planned: Plan, turns: int) -> float:
    """mm: how far strips are at the worst from the images of others under one turn."""
    strips = [strip(bridge) for bridge in planned.bridges]
    images = [affinity.rotate(each, 360 / turns, origin=(0, 0)) for each in strips]
    return max(min(image.hausdorff_distance(each) for each in strips) for image in images)


def test_a_cat_folds_its_ears_and_keeps_its_face_flat() -> None:
    planned, hinges = made(cat(), HoldStyle.POINTS)
    assert planned.hold is HoldStyle.POINTS
    assert len(hinges) == 2 and all(hinge.flap.centroid.y < -12 for hinge in hinges)
    assert any(bridge.at[1] > 15 for bridge in planned.bridges), "the chin is tied"


@pytest.mark.parametrize("hold", [HoldStyle.RIGID, HoldStyle.DOOR, HoldStyle.TONGUE])
@pytest.mark.parametrize("petals", [5, 6, 8])
def test_the_petals_of_a_flower_are_planned_alike_and_hinge_inwards(
    petals: int, hold: HoldStyle
) -> None:
    windows = flower(petals)
    assert find_rotation(windows) == petals
    planned, hinges = made(windows, hold)
    assert turned_off(planned, petals) < 0.1
    assert len(hinges) == (petals if hold.lifts else 0)
    for hinge in hinges:
        middle = np.mean(hinge.line, axis=0)
        assert np.hypot(*middle) < np.hypot(*hinge.flap.centroid.coords[0])


@pytest.mark.parametrize("points", [5, 6, 8])
def test_a_rigid_star_is_tied_at_all_its_inner_corners(points: int) -> None:
    windows = band(star(points))
    planned, _ = made(windows, HoldStyle.RIGID)
    assert len(planned.bridges) == points and turned_off(planned, points) < 0.1


@pytest.mark.parametrize(
    ("side", "towards"), [(HingeSide.FOOT, 1), (HingeSide.TOP, -1), ((0.0, -60.0), -1)]
)
def test_a_door_hinges_on_the_side_that_was_wished_for(side: object, towards: int) -> None:
    _, (hinge,) = made(band(box(-20, -20, 20, 20)), HoldStyle.DOOR, hinge=side)
    assert np.mean(hinge.line, axis=0)[1] * towards > 15


def test_one_part_may_have_a_wish_of_its_own() -> None:
    left, right = box(-40, -12, -10, 12), box(10, -12, 40, 14)
    windows = MultiPolygon([*band(left, 3.0).geoms, *band(right, 3.0).geoms])
    wish = PartRequest((25.0, 0.0), HoldStyle.DOOR, HingeSide.TOP)
    _, hinges = made(windows, HoldStyle.SPINE, parts=[wish])
    (door,) = [hinge for hinge in hinges if hinge.flap.centroid.x > 0 and hinge.reach > 20]
    assert np.mean(door.line, axis=0)[1] < -8
    assert len([hinge for hinge in hinges if hinge.flap.centroid.x < 0]) == 2
    flat, _ = made(windows, HoldStyle.SPINE, parts=[PartRequest((25.0, 0.0), HoldStyle.RIGID)])
    rigid = [bridge for bridge in flat.bridges if bridge.at[0] > 0]
    assert len(rigid) == 2 and all(bridge.folds == (False, False) for bridge in rigid)


def test_widths_come_from_size_and_card() -> None:
    assert default_width(40, DEFAULT) == pytest.approx(2.5)
    assert default_width(10, DEFAULT) == 2 * DEFAULT.least_web
    assert default_width(500, DEFAULT) == 6.0
    planned, _ = made(ring(20, 17), HoldStyle.RIGID)
    assert {bridge.width for bridge in planned.bridges} == {default_width(40, DEFAULT)}


def test_ties_get_narrower_before_a_part_gets_too_few() -> None:
    small = band(box(-2, -2, 2, 2), 3.0)
    planned, _ = made(small, HoldStyle.RIGID, width=3.8)
    assert len(planned.bridges) >= 2 and all(bridge.width < 3.8 for bridge in planned.bridges)


def test_parts_that_touch_in_a_point_and_hundreds_of_parts_are_planned() -> None:
    squares = [box(0, 0, 12, 12), box(12, 12, 24, 24)]
    inner = [box(3, 3, 9, 9), box(15, 15, 21, 21)]
    touching = [shape.difference(hole) for shape, hole in zip(squares, inner, strict=True)]
    made(MultiPolygon(touching), HoldStyle.DOOR)
    places = [(10 * (k % 20), 10 * (k // 20)) for k in range(120)]
    many = [affinity.translate(ring(4, 3).geoms[0], *place) for place in places]
    planned = plan(MultiPolygon(many), NO_LINES, DEFAULT, hold=HoldStyle.RIGID)
    assert len(planned.bridges) == 240


def test_concave_corners_are_the_inner_points_of_a_star() -> None:
    turns = np.arange(10) * np.pi / 5
    reach = np.where(np.arange(10) % 2, 8.0, 20.0)[:, None]
    points = reach * np.c_[np.sin(turns), -np.cos(turns)]
    corners, outward = concave_corners(Polygon(points), 5.0)
    inner = points[1::2]
    assert len(corners) == 5
    assert shapely.MultiPoint(corners).normalize() == shapely.MultiPoint(inner).normalize()
    assert np.allclose(outward, corners / 8.0, atol=0.05), "straight out of the star"


def test_thicker_card_has_no_narrower_web_and_no_window_wider_than_its_web() -> None:
    stock = sorted(PRESETS.values(), key=lambda card: card.caliper)
    for card, thicker in pairwise(stock):
        assert card.grammage < thicker.grammage
        assert card.least_web <= thicker.least_web
        assert card.least_window <= thicker.least_window
    assert all(card.caliper < card.least_window < card.least_web for card in stock)


def test_no_limb_hinges_where_its_own_arms_would_go_far_behind_the_sheet() -> None:
    arms = [box(x, -4, x + 4, 6) for x in (-15, 11)]
    shape = [box(-15, -10, 15, -4), *arms, box(-3, -4, 3, 2), box(-6, 2, 6, 25)]
    _, hinges = made(band(shapely.union_all(shape), 2.0), HoldStyle.POINTS)
    assert hinges and all(depth_behind(hinge) <= 0.15 * hinge.reach for hinge in hinges)
