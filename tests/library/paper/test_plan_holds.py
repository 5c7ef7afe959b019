"""The six hold styles on shapes where a person knows where the bridges belong."""

from __future__ import annotations

import itertools

import numpy as np
import pytest
import shapely
from material_design_icons_pack import get_icon
from shapely import LineString, MultiLineString, MultiPolygon, Point, Polygon, affinity, box

from hingeleaf.errors import UsageError
from hingeleaf.geometry.symmetry import find_axis
from hingeleaf.model import NO_LINES, NO_WINDOWS, Bridge, Card, Cuts, HoldStyle, Motif, Severity
from hingeleaf.paper.arrangement import CutArrangement
from hingeleaf.paper.bridges import lay_bridges, strip
from hingeleaf.paper.card_stock import DEFAULT, PRESETS
from hingeleaf.paper.hinges import find_hinges
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.placing import strips_through
from hingeleaf.paper.plan_state import PlanState
from hingeleaf.paper.plan_tables import PlanTables
from hingeleaf.paper.planning import Plan, plan, plan_motif
from support.icon_windows import icon_windows
from support.plan_measures import band, heart, loose_after, nibs, off_mirror, ring, star

SQUARE = band(box(-25, -25, 25, 25))
LEAF = band(
    Polygon(
        [
            (12 * np.sin(t) ** 2 * np.sign(t), -30 * np.cos(t))
            for t in np.linspace(-np.pi, np.pi, 121)[:-1]
        ]
    )
)


def planned(windows: MultiPolygon, hold: HoldStyle, **wishes: object) -> Plan:
    made = plan(windows, NO_LINES, DEFAULT, hold=hold, **wishes)  # type: ignore[arg-type]
    assert loose_after(windows, made.bridges) == 0
    assert not nibs(windows, made.bridges)
    return made


def nested(count: int) -> MultiPolygon:
    """Round windows in each other, 2 mm wide and 2 mm apart."""
    rings = [ring(4.0 * number + 2, 4.0 * number) for number in range(1, count + 1)]
    return MultiPolygon([window for one in rings for window in one.geoms])


def places(made: Plan) -> np.ndarray:
    return np.array([bridge.at for bridge in made.bridges])


@pytest.mark.parametrize("ties", [1, 2, 3, 4, 6])
def test_rigid_ties_are_as_many_as_asked_for_and_spread(ties: int) -> None:
    made = planned(ring(), HoldStyle.RIGID, ties=ties)
    assert made.hold is HoldStyle.RIGID and not made.findings
    turns = np.sort(np.degrees(np.arctan2(*places(made).T)))
    gaps = np.diff(np.append(turns, turns[0] + 360))
    assert len(gaps) == ties
    assert gaps.min() > 0.55 * 360 / ties


def test_rigid_ties_of_a_long_part_do_not_let_it_tip() -> None:
    made = planned(band(box(-35, -5, 35, 5)), HoldStyle.RIGID)
    assert np.hypot(*places(made).mean(axis=0)) < 1.0


def test_flat_is_planned_like_rigid() -> None:
    flat, rigid = planned(ring(), HoldStyle.FLAT), planned(ring(), HoldStyle.RIGID)
    assert flat.hold is HoldStyle.FLAT
    assert flat.bridges == rigid.bridges


def test_a_door_hangs_on_two_bridges_on_one_side() -> None:
    made = planned(SQUARE, HoldStyle.DOOR)
    assert made.hold is HoldStyle.DOOR
    at = places(made)
    assert len(at) == 2 and (at[:, 1] > 25).all()
    assert abs(at[0, 0] + at[1, 0]) < 0.1
    (flap,) = find_hinges(Cuts(SQUARE), made.bridges, made.hold).hinges
    assert flap.flap.area == pytest.approx(50 * 50, rel=0.02)


def test_a_door_has_its_hinge_inside_the_part() -> None:
    crescent = Point(0, 0).buffer(28).difference(Point(0, 14).buffer(24))
    windows = band(crescent)
    made = planned(windows, HoldStyle.DOOR)
    flaps = find_hinges(Cuts(windows), made.bridges, made.hold)
    assert len(flaps.hinges) == 1 and not flaps.findings
    assert crescent.buffer(0.15).covers(LineString(flaps.hinges[0].line))


def test_a_door_does_not_hinge_across_a_window() -> None:
    windows = shapely.union_all([SQUARE, box(-20, -22, 20, 22)])
    made = planned(MultiPolygon(list(windows.geoms)), HoldStyle.DOOR)
    flaps = find_hinges(Cuts(MultiPolygon(list(windows.geoms))), made.bridges, made.hold)
    assert all(not LineString(flap.line).crosses(box(-19, -21, 19, 21)) for flap in flaps.hinges)
    assert not flaps.findings


def test_a_spine_is_bridged_at_both_ends_and_both_wings_lift() -> None:
    made = planned(LEAF, HoldStyle.SPINE)
    assert made.hold is HoldStyle.SPINE
    at = places(made)
    assert len(at) == 2
    assert np.abs(at[:, 0]).max() < 1e-6
    assert at[:, 1].min() < -28 and at[:, 1].max() > 28
    flaps = find_hinges(Cuts(LEAF), made.bridges, made.hold).hinges
    assert len(flaps) == 2
    areas = [flap.flap.area for flap in flaps]
    assert areas[0] == pytest.approx(areas[1], rel=0.01)


@pytest.mark.parametrize("turn", [0.0, 30.0, 77.0])
def test_a_heart_folds_along_its_notch_and_tip_at_any_turn(turn: float) -> None:
    windows = affinity.rotate(band(heart()), turn, origin=(0, 0))
    made = planned(windows, HoldStyle.SPINE)
    assert made.hold is HoldStyle.SPINE and len(made.bridges) == 2
    for bridge in made.bridges:
        assert abs((bridge.direction - 90 - turn + 90) % 180 - 90) < 0.1


def test_points_are_bridged_at_every_notch_and_each_arm_lifts() -> None:
    windows = band(star())
    made = planned(windows, HoldStyle.POINTS)
    assert made.hold is HoldStyle.POINTS and len(made.bridges) == 5
    notches = star()[1:-1:2]
    for bridge in made.bridges:
        assert np.hypot(*(notches - bridge.at).T).min() < 4.0
    assert len(find_hinges(Cuts(windows), made.bridges, made.hold).hinges) == 5
    axis = find_axis(windows)
    assert axis is not None and off_mirror(made.bridges, axis) < 0.1


def test_a_tongue_hinges_across_one_wide_mouth() -> None:
    made = planned(SQUARE, HoldStyle.TONGUE)
    (mouth,) = made.bridges
    assert made.hold is HoldStyle.TONGUE
    assert mouth.width > 15 and mouth.at[1] > 25
    assert len(find_hinges(Cuts(SQUARE), made.bridges, made.hold).hinges) == 1


@pytest.mark.parametrize(
    ("windows", "asked", "reached", "why"),
    [
        (ring(), HoldStyle.POINTS, HoldStyle.SPINE, "no limb"),
        (
            band(Polygon([(0, 0), (46, 0), (46, 8), (14, 10), (10, 30), (0, 30)])),
            HoldStyle.SPINE,
            HoldStyle.DOOR,
            "no mirror axis",
        ),
        (band(box(-3, -3, 3, 3)), HoldStyle.DOOR, HoldStyle.TONGUE, "no "),
    ],
)
def test_an_impossible_style_says_why_and_takes_the_nearest(
    windows: MultiPolygon, asked: HoldStyle, reached: HoldStyle, why: str
) -> None:
    made = planned(windows, asked, width=5.0)
    assert made.hold is reached
    (finding,) = [finding for finding in made.findings if finding.kind == "other-hold"]
    assert why in finding.message and reached.value in finding.message
    assert finding.at is not None


@pytest.mark.parametrize("hold", list(HoldStyle))
@pytest.mark.parametrize("shape", [heart(), Polygon(star()), box(-25, -20, 25, 20)])
def test_mirrored_artwork_gets_mirrored_bridges(shape: Polygon, hold: HoldStyle) -> None:
    windows = band(shape)
    axis = find_axis(windows)
    assert axis is not None
    assert off_mirror(planned(windows, hold).bridges, axis) < 0.1


@pytest.mark.parametrize("hold", list(HoldStyle))
def test_a_line_cut_gets_gaps(hold: HoldStyle) -> None:
    slits = MultiLineString([heart().exterior.coords])
    made = plan(NO_WINDOWS, slits, DEFAULT, hold=hold)
    cuts = lay_bridges(Cuts(NO_WINDOWS, slits), made.bridges)
    assert not find_parts(cuts).loose
    lost = slits.length - cuts.slits.length
    assert lost >= 0.99 * sum(bridge.width for bridge in made.bridges)


def test_parts_in_parts_are_all_tied_from_the_sheet_inwards() -> None:
    rings = [ring(radius + 4, radius) for radius in (8.0, 20.0, 32.0)]
    windows = MultiPolygon([piece for each in rings for piece in each.geoms])
    made = planned(windows, HoldStyle.RIGID)
    assert len(made.bridges) == 6
    assert len(planned(windows, HoldStyle.DOOR).bridges) == 6


def test_bridges_keep_off_other_windows() -> None:
    windows = MultiPolygon([*ring().geoms, box(31.0, -25, 38, 25), box(-38, -25, -31.0, 25)])
    made = planned(windows, HoldStyle.RIGID)
    others = MultiPolygon(list(windows.geoms)[1:])
    assert not any(strip(bridge).intersects(others) for bridge in made.bridges)


def test_bridges_land_on_deep_paper_if_there_is_some() -> None:
    """A window just behind the nearer landing would leave a web narrower than the bridge."""
    windows = MultiPolygon([*ring(30, 26).geoms, *[box(-4, y, 4, y + 6) for y in (-24.5, 18.5)]])
    made = planned(windows, HoldStyle.RIGID)
    assert np.abs(places(made)[:, 0]).min() > 6


def test_where_there_is_no_room_the_bridge_is_narrower_and_told() -> None:
    made = planned(band(box(-2, -2, 2, 2), 6.0), HoldStyle.RIGID, width=5.0)
    assert all(DEFAULT.least_web <= bridge.width < 4 for bridge in made.bridges)
    told = [finding for finding in made.findings if finding.kind == "narrow-bridge"]
    assert len(told) == len(made.bridges)
    assert all(finding.severity is Severity.CAUTION for finding in told)


def test_a_speck_is_cut_out_and_told() -> None:
    made = plan(band(box(-0.5, -0.5, 0.5, 0.5), 6.0), NO_LINES, DEFAULT, hold=HoldStyle.DOOR)
    assert made.bridges == () and made.windows.area == pytest.approx(13.0**2)
    (finding,) = [finding for finding in made.findings if finding.kind == "speck"]
    assert finding.severity is Severity.NOTE and finding.at == pytest.approx((0, 0), abs=0.5)


@pytest.mark.parametrize("hold", list(HoldStyle))
def test_pinned_bridges_come_first_untouched(hold: HoldStyle) -> None:
    pinned = Bridge((19.0, 19.0), 45.0, 9.0, 4.0, pinned=True)
    made = planned(ring(), hold, pinned=[pinned])
    assert made.bridges[0] == pinned
    apart = [
        strip(one).distance(strip(two)) for one, two in itertools.combinations(made.bridges, 2)
    ]
    assert all(gap >= DEFAULT.least_window for gap in apart)


def test_a_pinned_bridge_counts_as_a_tie() -> None:
    pinned = Bridge((27.0, 0.0), 0.0, 9.0, 5.0, pinned=True)
    made = planned(ring(), HoldStyle.RIGID, pinned=[pinned])
    assert len(made.bridges) == 2
    assert made.bridges[1].at[0] < -20


def test_a_pinned_bridge_off_every_cut_changes_nothing() -> None:
    astray = Bridge((500.0, 0.0), 0.0, 9.0, 5.0, pinned=True)
    made = planned(SQUARE, HoldStyle.RIGID, pinned=[astray])
    assert made.bridges[0] == astray and len(made.bridges) == 3


def test_the_same_input_gives_the_same_plan() -> None:
    for hold in HoldStyle:
        assert planned(band(heart()), hold) == planned(band(heart()), hold)


def test_widths_follow_the_card() -> None:
    heavy = PRESETS["card-300"]
    with pytest.raises(UsageError, match="least web"):
        plan(ring(), NO_LINES, heavy, hold=HoldStyle.RIGID, width=heavy.least_web - 0.1)
    made = plan(ring(), NO_LINES, heavy, hold=HoldStyle.RIGID, width=heavy.least_web)
    assert {bridge.width for bridge in made.bridges} == {heavy.least_web}


@pytest.mark.parametrize("wishes", [{"width": 0.0}, {"width": float("nan")}, {"ties": 0}])
def test_wishes_that_make_no_sense_are_refused(wishes: dict[str, float]) -> None:
    with pytest.raises(UsageError):
        plan(ring(), NO_LINES, DEFAULT, hold=HoldStyle.RIGID, **wishes)  # type: ignore[arg-type]


def test_a_motif_is_planned_in_its_own_style() -> None:
    motif = Motif("leaf", LEAF, NO_LINES, box(-20, -35, 20, 35), 68.0, hold=HoldStyle.SPINE)
    made = plan_motif(motif, DEFAULT)
    assert made.hold is HoldStyle.SPINE and len(made.bridges) == 2
    assert plan_motif(made, DEFAULT, hold=HoldStyle.DOOR).hold is HoldStyle.DOOR


def test_nothing_enclosed_needs_nothing() -> None:
    for hold in HoldStyle:
        made = plan(MultiPolygon([box(0, 0, 30, 30)]), NO_LINES, DEFAULT, hold=hold)
        flat = hold in (HoldStyle.RIGID, HoldStyle.FLAT)
        assert (made.bridges, made.hold) == ((), hold)
        assert [finding.kind for finding in made.findings] == ([] if flat else ["nothing-lifts"])


@pytest.mark.parametrize("slug", ["react", "centos"])
def test_spare_ties_give_way_to_needed_ones(slug: str) -> None:
    """Icons (material-design-icons-pack) of crossing bands: two ties each would leave one none."""
    windows = icon_windows(get_icon(slug))
    made = plan(windows, NO_LINES, DEFAULT, hold=HoldStyle.RIGID)
    assert loose_after(windows, made.bridges) == 0
    assert not [finding for finding in made.findings if finding.kind == "loose-part"]


@pytest.mark.parametrize("slug", ["star-david"])
def test_points_that_leave_nothing_to_fold_become_another_style(slug: str) -> None:
    """Icons (material-design-icons-pack) whose bridged corners leave no hinge inside the part."""
    windows = icon_windows(get_icon(slug))
    made = plan(windows, NO_LINES, DEFAULT, hold=HoldStyle.POINTS)
    assert made.hold is not HoldStyle.POINTS
    assert find_hinges(Cuts(windows), made.bridges, made.hold).hinges
    assert "nothing would lift" in made.findings[-1].message


def test_paper_that_wings_are_hung_on_is_tied_to_what_lies_flat() -> None:
    """An icon (material-design-icons-pack) whose wings hang on a strip between two of its ties."""
    icon = icon_windows(get_icon("home-import-outline"), 35.0)
    windows = MultiPolygon([shapely.difference(icon.buffer(3.0), icon)])
    made = plan(windows, NO_LINES, DEFAULT, hold=HoldStyle.SPINE)
    assert made.hold is HoldStyle.SPINE
    assert find_hinges(Cuts(windows), made.bridges, made.hold).hinges


def test_a_thick_card_with_a_thin_web_is_planned_all_the_same() -> None:
    card = Card("board", 900, 3.0, 1.0, 1.0)
    assert plan(ring(), NO_LINES, card, hold=HoldStyle.RIGID).bridges


def test_rings_thirty_deep_are_all_tied() -> None:
    windows = nested(30)
    assert loose_after(windows, plan(windows, NO_LINES, DEFAULT, hold=HoldStyle.DOOR).bridges) == 0


@pytest.mark.parametrize("hold", [HoldStyle.RIGID, HoldStyle.DOOR, HoldStyle.TONGUE])
def test_an_absurd_width_comes_down_to_one_that_fits(hold: HoldStyle) -> None:
    windows = nested(4)
    made = plan(windows, NO_LINES, DEFAULT, hold=hold, width=1e6)
    assert loose_after(windows, made.bridges) == 0
    assert max(bridge.width for bridge in made.bridges) < 40
    assert {"narrow-bridge"} <= {finding.kind for finding in made.findings}


@pytest.mark.parametrize("turn", [0.0, 13.0, 90.0])
@pytest.mark.parametrize("count", [4, 5, 6, 7])
def test_a_star_is_bridged_at_every_corner_those_on_its_axis_too(count: int, turn: float) -> None:
    windows = affinity.rotate(band(star(count)), turn, origin=(0, 0))
    made = planned(windows, HoldStyle.POINTS)
    axis = find_axis(windows)
    assert axis is not None and off_mirror(made.bridges, axis) < 0.1
    assert made.hold is HoldStyle.POINTS and len(made.bridges) == count


def test_wings_fold_beside_an_axis_that_a_window_lies_on() -> None:
    slot = box(-2, -12, 2, 12)
    made = planned(MultiPolygon([*SQUARE.geoms, slot]), HoldStyle.SPINE)
    assert made.hold is HoldStyle.SPINE
    left, right = sorted(
        find_hinges(Cuts(MultiPolygon([*SQUARE.geoms, slot])), made.bridges, made.hold).hinges,
        key=lambda wing: wing.flap.centroid.x,
    )
    assert not LineString(left.line).intersects(slot)
    assert affinity.scale(left.flap, -1, 1, origin=(0, 0)).hausdorff_distance(right.flap) < 0.01
    assert not left.flap.intersects(slot) and not right.flap.intersects(slot)


@pytest.mark.parametrize(("height", "clean"), [(3.2, False), (6.0, True)])
def test_no_bridge_runs_so_close_along_an_edge_that_the_window_beside_it_is_a_hair(
    height: float, clean: bool
) -> None:
    passage = box(6, -height / 2, 22, height / 2)
    around = shapely.union_all([Point(0, 0).buffer(9), passage]).difference(Point(0, 0).buffer(6))
    arrangement = CutArrangement.of(MultiPolygon([around]), NO_LINES, PRESETS["card-220"])
    state = PlanState(PlanTables(arrangement, 2.5))
    along = strips_through(arrangement, np.array([[14.0, 0.0]]), np.array([[1.0, 0.0]]), 2.5)
    assert len(along) == 1
    assert state.crosses_cleanly(along, 0) is clean


def test_small_parts_far_from_the_edge_tie_each_other() -> None:
    discs = [Point(x, y).buffer(1.2) for x in (-5, 5) for y in (-8, 0, 8)]
    window = MultiPolygon([box(-10, -20, 10, 20).difference(shapely.union_all(discs))])
    made = plan(window, NO_LINES, PRESETS["card-220"], hold=HoldStyle.RIGID)
    assert loose_after(window, made.bridges) == 0
    assert [finding for finding in made.findings if finding.kind == "few-ties"] == []
    ends = [shapely.dwithin(strip(bridge), discs, 0.01) for bridge in made.bridges]
    assert (np.sum(ends, axis=0) >= 2).all()


def test_a_part_that_pinned_bridges_tie_as_often_as_asked_gets_no_more() -> None:
    pinned = tuple(Bridge((x, 0), 0, 8, 3, pinned=True) for x in (-27, 27))
    for ties, count in ((2, 2), (3, 3)):
        found = plan(ring(), NO_LINES, DEFAULT, hold=HoldStyle.RIGID, pinned=pinned, ties=ties)
        assert len(found.bridges) == count and found.bridges[:2] == pinned
