"""Small pieces of the geometry of plans, each against figures worked out by hand."""

from __future__ import annotations

import math
from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from shapely import Point, Polygon, box

from hingeleaf.model import NO_LINES, Bridge, Cuts, HoldStyle, Motif
from hingeleaf.panel import bent_motif
from hingeleaf.paper import erosion, flap_choice, necks, open_flaps, placing
from hingeleaf.paper.arrangement import CutArrangement
from hingeleaf.paper.bridge_candidates import (
    NIB_COST,
    SHALLOW_COST,
    BridgeCandidates,
    find_candidates,
)
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.footprints import find_footprint
from hingeleaf.paper.parts import blade_cuts
from hingeleaf.paper.plan_state import PlanState
from hingeleaf.paper.plan_tables import PlanTables
from hingeleaf.paper.planning import plan_motif
from support.paper_shapes import windows

UP = np.array([[0.0, 1.0]])


def across(
    *shapes: Polygon, width: float = 2.0, at: tuple[float, float] = (20, 2)
) -> BridgeCandidates:
    """The strip straight up through a point in a window."""
    cuts = CutArrangement.of(windows(*shapes), NO_LINES, DEFAULT, symmetric=False)
    return find_candidates(cuts, placing._aims(cuts, np.array([at]), UP, width), width)


def wedge(slope: float) -> Polygon:
    """A window that narrows to the right, both edges at this slope; 6 mm high at x = 20."""
    return Polygon([(0, 3 + 20 * slope), (0, -3 - 20 * slope), (20 + 3 / slope, 0)])


def test_a_strip_costs_its_length_and_more_where_it_leans_or_lands_on_little() -> None:
    (plain,) = across(box(0, 0, 40, 4)).cost
    assert plain == pytest.approx(4.0)
    (nib,) = across(box(0, 0, 21.05, 4)).cost
    assert nib == pytest.approx(4.0 * (1 + NIB_COST)) and NIB_COST > 0
    web = across(box(0, 0, 40, 4), box(0, 5.2, 40, 60), width=2.4)
    assert web.cost[0] == pytest.approx(4.0 * (1 + SHALLOW_COST * 0.5))
    assert (web.low[0], web.high[0]) == pytest.approx((-1.0, 4.6))


def test_strips_that_run_too_steeply_out_of_their_window_are_not_clean() -> None:
    assert [len(across(wedge(slope), at=(20, 0))) for slope in (0.2, 2.4, 2.8)] == [1, 1, 0]
    (skew,) = across(wedge(0.2), at=(20, 0)).skew
    assert skew == pytest.approx(2 * 0.2, rel=0.05)


def test_a_bridge_moved_round_a_circle_stays_square_to_it() -> None:
    edge = shapely.LinearRing(Point(0, 0).buffer(20, 256).exterior.coords)
    places = np.linspace(0, edge.length, 7)
    points, square = placing._square_off(edge, places, 5.0)
    assert np.abs(points[:, 0] * square[:, 1] - points[:, 1] * square[:, 0]).max() < 0.05


def test_a_bridge_that_ends_in_no_part_joins_none() -> None:
    cuts = CutArrangement.of(windows(box(0, 0, 40, 20)), NO_LINES, DEFAULT)
    hanging, tie = (Bridge((20, y), 90, reach, 3) for y, reach in ((2, 8), (10, 24)))
    state = PlanState(PlanTables(cuts, 3.0), (hanging, tie))
    assert (len(cuts.polygons), state.joins) == (1, [(-1, -1), (-1, -1)])


def test_paper_that_hangs_on_one_way_is_measured_away_from_the_edge() -> None:
    basins = SimpleNamespace(radius=np.array([1.0, 5.0, 3.0]), area=np.array([10.0, 50.0, 30.0]))
    passes = SimpleNamespace(pairs=np.array([[0, 1], [1, 2]]), closes_loop=np.zeros(2, dtype=bool))
    hanging = necks._hanging(basins, passes, passes.pairs, np.array([0, -1]))
    assert hanging.tolist() == [80.0, 30.0]
    inner = necks._hanging(basins, passes, passes.pairs, np.array([-1]))
    assert inner.tolist() == [10.0, 30.0]


def test_the_mouth_of_a_bay_lies_where_its_banks_come_nearest() -> None:
    keyhole = Polygon(
        [(0, 0), (20, 0), (12, 10), (30, 15), (30, 40), (-10, 40), (-10, 15), (8, 10)]
    )
    solid = box(-20, -0.0, 40, 50) - keyhole
    (x1, y1), (x2, y2) = open_flaps._mouth(keyhole, solid)
    assert {(round(x1), round(y1)), (round(x2), round(y2))} == {(8, 10), (12, 10)}
    bay = box(0, 0, 10, 8)
    ends = open_flaps._mouth(bay, box(-5, 0, 15, 20) - bay)
    assert set(ends) == {(0.0, 0.0), (10.0, 0.0)}


def test_webs_specks_and_slots_are_cut_as_a_blade_does_all_at_once() -> None:
    left, right = box(0, 0, 10, 10), box(10.1, 0, 20, 10)
    cuts, _ = blade_cuts(Cuts(windows(left, right)), 1.0)
    assert cuts.windows.area == pytest.approx(20 * 10, abs=0.01)
    ring = box(30, 0, 70, 40) - box(40, 10, 50, 20) - box(50, 20, 60, 30)
    both, _ = blade_cuts(Cuts(windows(left, right, ring)), 1.0)
    assert len(both.windows.geoms) == 2
    hair = box(30, 0, 70, 40) - box(40, 20, 60, 20.5)
    kept, _ = blade_cuts(Cuts(windows(left, right, hair)), 1.0)
    assert sum(len(window.interiors) for window in kept.windows.geoms) == 1


def test_a_strip_is_long_by_the_least_width() -> None:
    for least in (0.5, 2.0):
        whole = shapely.union(box(0, 0, 40, 40), box(40, 20, 40 + 3.5 * least, 20 + 0.8 * least))
        found = [
            erosion._long_strip(part, box(0, 0, 40, 40), least)
            for part in (whole, box(0, 0, 40, 40))
        ]
        assert found[0] is not None and found[1] is None
        short = shapely.union(box(0, 0, 40, 40), box(40, 20, 40 + 2.5 * least, 20 + 0.8 * least))
        assert erosion._long_strip(short, box(0, 0, 40, 40), least) is None


def test_a_level_lower_edge_is_where_flaps_hinge_if_nothing_is_asked() -> None:
    flat = np.array([[0.0, 1.0], [0.0, -1.0], [1.0, 0.0], [math.sqrt(0.5), math.sqrt(0.5)]])
    asks = SimpleNamespace(request=SimpleNamespace(hinge_towards=None))
    worth = flap_choice.FlapChoice.side_bonus(asks, SimpleNamespace(flat_side=flat))
    level = flap_choice.LEVEL_BONUS
    assert worth[0] + worth[1] == pytest.approx(2 * level)
    assert worth[2] == pytest.approx(level)
    assert worth[3] == pytest.approx(flap_choice.LOWER_EDGE_BONUS * math.sqrt(0.5) + level / 256)


def test_footprints_are_the_same_wherever_a_drawing_lies() -> None:
    turns = np.arange(5) * 2 * math.pi / 5
    arms = windows(*(Point(18 * math.cos(turn), 18 * math.sin(turn)).buffer(9) for turn in turns))
    near = find_footprint(arms, NO_LINES)
    for off in (np.array([700.0, 900.0]), np.array([-700.0, -900.0])):
        far = find_footprint(shapely.transform(arms, lambda xy, off=off: xy + off), NO_LINES)
        back = shapely.transform(far, lambda xy, off=off: xy - off)
        assert back.symmetric_difference(near).area < 1.0


def test_a_bent_motif_that_lost_its_flap_does_not_hold_as_the_straight_one() -> None:
    ring = windows(box(-30, -30, 30, 30) - box(-24, -24, 24, 24))
    drawn = Motif("ring", ring, NO_LINES, box(-30, -30, 30, 30), 60.0, hold=HoldStyle.DOOR)
    door = plan_motif(drawn, DEFAULT)
    plain = replace(door, windows=windows(box(-30, -30, 30, 30)), bridges=())
    assert bent_motif._holds_like(door, door, 60.0, DEFAULT)
    assert not bent_motif._holds_like(door, plain, 60.0, DEFAULT)
