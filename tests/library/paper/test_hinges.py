import math

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Polygon

from hingeleaf.model import Bridge, Cuts, HoldStyle, Motif, Severity
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.hinges import Hinge, find_hinges
from hingeleaf.paper.planning import plan_motif
from hingeleaf.paper.resized import Resized, cuts_at_size
from support.icon_windows import icon_windows
from support.icons import sample_icons
from support.paper_shapes import disc, ngon, ring, star, windows

SQUARE = windows(shapely.box(-25, -25, 25, 25).difference(shapely.box(-20, -20, 20, 20)))
"""A square part of 40 mm in a window 5 mm wide."""


def across(x, y, direction, width=5.0, reach=8.0):
    return Bridge((x, y), direction, reach, width)


def lower_side(x, width=5.0):
    return across(x, 22.5, 90, width)


def band(shape, width=4.0):
    return windows(shape.buffer(width, join_style="mitre").difference(shape))


def test_two_bridges_on_one_side_make_a_door():
    (flap,) = find_hinges(
        Cuts(SQUARE), (lower_side(-12), lower_side(12)), hold=HoldStyle.DOOR
    ).hinges
    assert sorted(flap.line) == [pytest.approx((-14.5, 20)), pytest.approx((14.5, 20))]
    assert flap.reach == pytest.approx(40)
    assert flap.flap.area == pytest.approx(1600)


def test_bridges_at_both_ends_of_an_axis_leave_a_flat_body_between_two_wings():
    ends = (across(0, -22.5, 90), across(0, 22.5, 90))
    left, right = sorted(
        find_hinges(Cuts(SQUARE), ends, hold=HoldStyle.SPINE).hinges,
        key=lambda flap: flap.flap.centroid.x,
    )
    for wing, x in ((left, -2.5), (right, 2.5)):
        assert [end[0] for end in wing.line] == pytest.approx([x, x])
        assert wing.length == pytest.approx(40)
        assert wing.reach == pytest.approx(17.5)
    assert not left.flap.intersects(right.flap)


def test_a_bridge_at_every_reentrant_corner_frees_every_arm():
    figure = star(5, 30, 14)
    corners = [xy for xy in figure.exterior.coords[:-1] if math.hypot(*xy) < 20]
    bridges = [
        across(x * 16.4 / 14, y * 16.4 / 14, math.degrees(math.atan2(y, x)), width=3, reach=12)
        for x, y in corners
    ]
    flaps = find_hinges(Cuts(band(figure)), bridges, hold=HoldStyle.POINTS)
    assert not flaps.findings
    assert len(flaps.hinges) == 5
    assert {round(flap.reach, 6) for flap in flaps.hinges} == {round(flaps.hinges[0].reach, 6)}
    # An arm reaches from the chord between its corners, set off by half a bridge, to its point.
    chord = 14 * math.cos(math.pi / 5)
    assert 30 - chord - 2.5 < flaps.hinges[0].reach < 30 - chord


def test_one_bridge_is_hinged_across():
    (flap,) = find_hinges(Cuts(SQUARE), (lower_side(3),)).hinges
    assert sorted(flap.line) == [pytest.approx((0.5, 20)), pytest.approx((5.5, 20))]
    assert flap.flap.area == pytest.approx(1600)


@pytest.mark.parametrize("gap", [12, 3, 0.5])
def test_an_open_slit_hinges_across_its_mouth(gap):
    tongue = LineString([(-gap / 2, 20), (-15, 20), (-15, -20), (15, -20), (15, 20), (gap / 2, 20)])
    (flap,) = find_hinges(Cuts(slits=MultiLineString([tongue]))).hinges
    assert flap.length == pytest.approx(gap, abs=1e-6)
    assert flap.reach == pytest.approx(40, abs=1e-6)
    assert flap.flap.area == pytest.approx(1200, abs=1e-3)


def test_the_inside_of_a_c_hinges_across_its_mouth():
    shape = ring(20, 25).difference(shapely.box(0, -4, 40, 4))
    (flap,) = find_hinges(Cuts(windows(shape)), hold=HoldStyle.TONGUE).hinges
    assert flap.length == pytest.approx(8, abs=0.01)
    assert flap.reach == pytest.approx(20 + math.sqrt(20**2 - 4**2), abs=0.05)


@pytest.mark.parametrize("turned", range(100, 341, 30))
def test_a_round_slit_hinges_across_its_mouth(turned):
    """Circular segment: chord 2·r·sin(φ/2), and beyond it r·(1 − cos(φ/2)), φ the arc's angle."""
    turns = np.radians(np.linspace(0, turned, 400))
    slit = LineString(20 * np.c_[np.cos(turns), np.sin(turns)])
    (flap,) = find_hinges(Cuts(slits=MultiLineString([slit]))).hinges
    half = math.radians(turned / 2)
    assert flap.length == pytest.approx(40 * math.sin(half), abs=1e-6)
    assert flap.reach == pytest.approx(20 * (1 - math.cos(half)), abs=0.01)


def test_a_slit_with_parallel_sides_hinges_across_its_mouth():
    slit = LineString([(-15, 20), (-15, -20), (15, -20), (15, 20)])
    (flap,) = find_hinges(Cuts(slits=MultiLineString([slit]))).hinges
    assert flap.length == pytest.approx(30)
    assert flap.flap.area == pytest.approx(1200)


def test_a_half_round_window_hinges_across_its_mouth():
    shape = ring(20, 25).difference(shapely.box(-40, 0, 40, 40))
    (flap,) = find_hinges(Cuts(windows(shape)), hold=HoldStyle.TONGUE).hinges
    assert flap.length == pytest.approx(40, abs=0.01)
    assert flap.reach == pytest.approx(20, abs=0.01)


@pytest.mark.parametrize(
    "slits",
    [
        [[(0, 0), (30, 0)]],
        [[(0, 0), (15, 3), (30, 0)]],
        [[(0, 0), (0, 30), (30, 30), (30, 0), (0, 0)]],
        [[(0, 0), (0, 30), (30, 30), (30, 0)], [(15, -5), (15, 5)]],
    ],
    ids=["straight", "bent", "closed", "mouth cut"],
)
def test_slits_without_a_tongue(slits):
    assert find_hinges(Cuts(slits=MultiLineString(slits))).hinges == ()


def test_a_star_shaped_window_has_no_tongues_between_its_arms():
    assert find_hinges(Cuts(windows(star(5, 30, 12)))).hinges == ()


@pytest.mark.parametrize("hold", [HoldStyle.RIGID, HoldStyle.FLAT])
def test_nothing_lifts_that_should_stay_flat(hold):
    assert find_hinges(Cuts(SQUARE), (lower_side(-12), lower_side(12)), hold=hold).hinges == ()


@pytest.mark.parametrize(
    ("opening", "share"), [(0, 0), (30, 0.5), (45, math.sqrt(0.5)), (60, math.sqrt(0.75)), (90, 1)]
)
def test_lift_is_reach_times_the_sine_of_the_opening(opening, share):
    (flap,) = find_hinges(
        Cuts(SQUARE), (lower_side(-12), lower_side(12)), hold=HoldStyle.DOOR
    ).hinges
    assert flap.lift(opening) == pytest.approx(40 * share)


def test_past_upright_a_flap_has_been_at_its_highest():
    (flap,) = find_hinges(Cuts(SQUARE), (lower_side(0),)).hinges
    assert flap.lift(120) == flap.lift(90) == flap.reach


@pytest.mark.parametrize("sides", range(3, 13))
def test_a_polygon_hinged_along_one_side_reaches_as_the_formula_says(sides):
    shape = ngon(sides, 20)
    side = 2 * 20 * math.sin(math.pi / sides)
    turn = 180 / sides
    inner = 20 * math.cos(math.pi / sides)
    outward = (math.cos(math.radians(turn)), math.sin(math.radians(turn)))
    along = (-outward[1], outward[0])
    bridges = [
        across(
            outward[0] * (inner + 2) + along[0] * shift,
            outward[1] * (inner + 2) + along[1] * shift,
            turn,
            width=side / 8,
        )
        for shift in (-side / 4, side / 4)
    ]
    (flap,) = find_hinges(Cuts(band(shape)), bridges, hold=HoldStyle.DOOR).hinges
    # Regular polygon: apothem r·cos(π/n) to a side, and beyond the middle the apothem again for
    # an even number of sides, the radius for an odd one.
    beyond = inner if sides % 2 == 0 else 20
    assert flap.reach == pytest.approx(inner + beyond, abs=1e-6)
    assert flap.flap.area == pytest.approx(sides * 20**2 * math.sin(2 * math.pi / sides) / 2)


def test_a_hinge_across_a_window_is_told_and_not_drawn():
    holed = windows(*SQUARE.geoms, disc(0, 0, 6))
    flaps = find_hinges(
        Cuts(holed), (across(0, -22.5, 90), across(0, 22.5, 90)), hold=HoldStyle.SPINE
    )
    assert flaps.hinges == ()
    assert {finding.kind for finding in flaps.findings} == {"blocked-hinge"}
    assert all("across a window" in finding.message for finding in flaps.findings)
    assert all(math.hypot(*finding.at) < 6 for finding in flaps.findings)


def test_a_hinge_outside_its_part_is_told_and_not_drawn():
    bent = Polygon(
        [(-20, -20), (20, -20), (20, 20), (14, 20), (14, -14), (-14, -14), (-14, 20), (-20, 20)]
    )
    tips = (across(-17, 22, 90, 3), across(17, 22, 90, 3))
    flaps = find_hinges(Cuts(band(bent)), tips, hold=HoldStyle.SPINE)
    assert [finding.message for finding in flaps.findings] != []
    assert all("outside its part" in finding.message for finding in flaps.findings)
    assert all(finding.at is not None for finding in flaps.findings)


def test_a_flap_carries_what_hangs_on_it_and_that_may_fold_on():
    nested = windows(*SQUARE.geoms, ring(7, 11))
    bridges = (lower_side(-12), lower_side(12), across(9, 0, 0, 3, 6), across(-9, 0, 0, 3, 6))
    flaps = find_hinges(Cuts(nested), bridges, hold=HoldStyle.DOOR).hinges
    inner, outer = sorted(flaps, key=lambda flap: flap.reach)
    assert inner.reach == pytest.approx(7 - 1.5, abs=0.01)
    assert outer.reach == pytest.approx(40)
    cut_out = math.pi * (11**2 - 7**2) - 2 * 3 * 4
    assert outer.flap.area == pytest.approx(1600 - cut_out, rel=1e-3)


def test_details_stay_flat_except_as_doors():
    bridges = (across(0, -22.5, 90), across(0, 22.5, 90), across(12, 4, 90, 1, 4))
    eyed = shapely.union_all([SQUARE, shapely.affinity.translate(ring(3, 5), 12, 0)])
    assert len(find_hinges(Cuts(windows(eyed)), bridges, hold=HoldStyle.SPINE).hinges) == 2
    assert len(find_hinges(Cuts(windows(eyed)), bridges, hold=HoldStyle.DOOR).hinges) == 2
    assert len(find_hinges(Cuts(SQUARE), bridges[:2], hold=HoldStyle.DOOR).hinges) == 1


def test_flaps_that_reach_less_than_can_be_folded_do_not_count():
    low = windows(shapely.box(-25, -6, 25, 8).difference(shapely.box(-20, -0.9, 20, 3)))
    bridges = (across(-12, 5.5, 90), across(12, 5.5, 90))
    assert find_hinges(Cuts(low), bridges, hold=HoldStyle.DOOR).hinges == ()
    (flap,) = find_hinges(Cuts(low), bridges, hold=HoldStyle.DOOR, least_reach=3.5).hinges
    assert flap.reach == pytest.approx(3.9)


def test_flaps_joined_by_a_third_part_are_locked_where_it_joins_them():
    """Two doors hinged on far sides, and a bar between them tied to both."""
    doors = [shapely.box(-30, -10, -6, 10), shapely.box(6, -10, 30, 10)]
    bar = shapely.box(-3, -10, 3, 10)
    cut = windows(shapely.box(-33, -13, 33, 13).difference(shapely.union_all([*doors, bar])))
    hinged = [across(x, y, 0, 3, 5) for x in (-31.5, 31.5) for y in (-6, 6)]
    joined = [across(-4.5, 0, 0, 3, 5), across(4.5, 0, 0, 3, 5)]
    hinges = find_hinges(Cuts(cut), [*hinged, *joined], hold=HoldStyle.DOOR)
    locked = [finding for finding in hinges.findings if finding.kind == "locked-flap"]
    assert {finding.at for finding in locked} <= {bridge.at for bridge in joined} and locked
    assert all(finding.severity is Severity.FAULT for finding in locked)
    alone = find_hinges(Cuts(cut), [*hinged, joined[0]], hold=HoldStyle.DOOR)
    assert not alone.findings
    assert sorted(round(hinge.reach) for hinge in alone.hinges) == [6, 24, 33]


@pytest.mark.parametrize("hold", [HoldStyle.DOOR, HoldStyle.SPINE, HoldStyle.TONGUE])
def test_a_slit_flap_lifts_beside_bridges(hold):
    ear = LineString([(-8, -30), (0, -46), (8, -30)])
    bridges = (lower_side(-12), lower_side(12))
    hinges = find_hinges(Cuts(SQUARE, MultiLineString([ear])), bridges, hold=hold).hinges
    (slit,) = [hinge for hinge in hinges if hinge.flap.centroid.y < -30]
    assert sorted(slit.line) == [(-8, -30), (8, -30)]
    assert slit.reach == pytest.approx(16)
    assert len(hinges) == 2


@pytest.mark.parametrize(("share", "flaps"), [(0.45, 2), (0.55, 1)])
def test_a_slit_round_most_of_a_flap_makes_no_second_one(share, flaps):
    top = 15 - share * 40 * 40 / 30
    slit = MultiLineString([[(-15, 15), (-15, top), (15, top), (15, 15)]])
    bridges = (lower_side(-17.5), lower_side(17.5))
    assert len(find_hinges(Cuts(SQUARE, slit), bridges, HoldStyle.DOOR).hinges) == flaps


def test_a_hinge_shorter_than_a_quarter_of_its_reach_is_told():
    hinges = find_hinges(Cuts(SQUARE), (lower_side(3),))
    (finding,) = hinges.findings
    assert finding.kind == "short-hinge" and "5 mm" in finding.message
    assert "40 mm" in finding.message and finding.at == pytest.approx((3, 20))


def test_the_reach_of_a_slanted_rectangle_is_its_other_side():
    hinge = Hinge.of(((0, 0), (3, 4)), shapely.Polygon([(0, 0), (3, 4), (-5, 10), (-8, 6)]))
    assert hinge.reach == pytest.approx(10)


def test_folds_of_a_recut_motif_are_its_hinges_at_that_size():
    motif = Motif(
        "door",
        SQUARE,
        MultiLineString(),
        shapely.box(-25, -25, 25, 25),
        50,
        (lower_side(-12), lower_side(12)),
        HoldStyle.DOOR,
    )
    for size in (25.0, 50.0, 75.0):
        cuts = cuts_at_size(motif, size, DEFAULT)
        (flap,) = Resized(motif, DEFAULT, size).hinges.hinges
        scale = size / 50
        assert cuts.folds.length == pytest.approx(24 * scale + 5)
        assert shapely.equals(cuts.folds, MultiLineString([flap.line]))
        assert all(y == pytest.approx(20 * scale) for _, y in flap.line)


def test_no_bridges_no_flaps():
    assert find_hinges(Cuts(SQUARE), hold=HoldStyle.DOOR).hinges == ()
    assert find_hinges(Cuts(MultiPolygon())).hinges == ()


@pytest.mark.parametrize("by", [0.4, 1.7])
def test_flaps_of_cuts_without_bridges_only_scale(by: float):
    u_slit = Cuts(slits=MultiLineString([[(-10, 12), (-8, -9), (9, -11), (11, 12)]]))
    larger = Cuts(slits=shapely.transform(u_slit.slits, lambda points: points * by))
    (scaled,) = find_hinges(u_slit).scaled(by).hinges
    (found,) = find_hinges(larger).hinges
    assert scaled.flap.symmetric_difference(found.flap).area < 1e-9
    assert np.allclose(scaled.line, found.line)
    assert scaled.reach == pytest.approx(found.reach)


@pytest.mark.parametrize("bulge", [-1e-3, 1e-5, 3e-4, 1e-3, 1.5e-3, 4e-3])
def test_an_edge_that_is_not_quite_straight_does_not_lock_its_flap(bulge):
    part = Polygon([(-20, -20), (20, -20), (20, 20), (0, 20 + bulge), (-20, 20)])
    cuts = Cuts(windows(shapely.box(-25, -25, 25, 25).difference(part)))
    found = find_hinges(cuts, (lower_side(-12), lower_side(12)), hold=HoldStyle.DOOR)
    assert [flap.flap.area for flap in found.hinges] == [pytest.approx(1600, abs=0.2)]
    assert not found.findings


def test_a_tip_that_a_bridge_s_edge_only_grazes_folds_at_every_size():
    drawing = icon_windows(sample_icons(60)[32])
    motif = Motif("icon", drawing, MultiLineString(), shapely.box(0, 0, 80, 80), 80)
    planned = plan_motif(motif, DEFAULT, hold=HoldStyle.POINTS)
    flaps = [len(Resized(planned, DEFAULT, size).hinges.hinges) for size in range(60, 81)]
    assert flaps == [2] * 21


@pytest.mark.parametrize("turn", [0, 20, 45, 70])
def test_a_fold_along_a_window_s_edge_carries_its_flap(turn):
    def turned(shape):
        return shapely.set_precision(shapely.affinity.rotate(shape, turn, origin=(0, 0)), 1e-6)

    places = [np.array(turned(shapely.Point(x, 22.5)).coords[0]) for x in (-12, 0, 12)]
    bridges = [across(*place, 90 + turn) for place in places[::2]]
    cuts = Cuts(windows(turned(SQUARE)))
    (flap,) = find_hinges(cuts, bridges, hold=HoldStyle.DOOR).hinges
    assert flap.length == pytest.approx(29, abs=1e-3)
    assert flap.flap.area == pytest.approx(1600, abs=0.01)
