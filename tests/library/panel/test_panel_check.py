"""Every kind of fault, seeded into a good panel, is found at its place; a good panel has none."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Point, Polygon

from hingeleaf.field.specs import LetterSpec
from hingeleaf.material import FoldKind
from hingeleaf.model import (
    NO_WINDOWS,
    XY,
    Bridge,
    BridgeScaling,
    Cuts,
    HoldStyle,
    MaySell,
    Motif,
    Placement,
    Pose,
    Severity,
    SizeRange,
    Source,
)
from hingeleaf.panel.check import Report, check, check_cuts
from hingeleaf.panel.compose import Frame, Panel, compose
from hingeleaf.panel.demands import Demands
from hingeleaf.panel.findings import FindingKind
from hingeleaf.paper.parts import find_parts
from hingeleaf.params import parameters
from support.panel_samples import (
    CARD,
    box_field,
    grid_panel,
    one_panel,
    ring_motif,
    slit_motif,
    unbridged,
)


def good_motif(name: str = "ring 1") -> Motif:
    return replace(ring_motif(1, bridges=(-50, 50)), name=name, source=Source(may_sell=MaySell.YES))


def good(**how: Any) -> Panel:
    return one_panel(good_motif("wren"), good_motif("snail"), **how)


def with_cuts(panel: Panel, cuts: Cuts) -> Panel:
    """The panel with more cuts, as a third piece."""
    middle = shapely.union_all([cuts.windows, cuts.slits]).centroid
    piece = replace(
        panel.pieces[0],
        placement=panel.pieces[0].placement.moved(Pose(middle.x, middle.y, 0, 40)),
        motif=replace(panel.pieces[0].motif, name="extra"),
        cuts=cuts,
        footprint=shapely.union_all([cuts.windows, cuts.slits]).convex_hull.buffer(1e-3),
    )
    together = Cuts(
        MultiPolygon([*panel.cuts.windows.geoms, *cuts.windows.geoms]),
        MultiLineString([*panel.cuts.slits.geoms, *cuts.slits.geoms]),
    )
    return replace(panel, pieces=(*panel.pieces, piece), cuts=together)


def windows(*areas: shapely.Geometry) -> Cuts:
    return Cuts(windows=MultiPolygon(list(areas)))


@dataclass(frozen=True)
class Seeded:
    """A fault, the panel it was seeded into, and where it has to be found."""

    kind: FindingKind
    panel: Callable[[], Panel]
    near: XY | None
    within: float = 3.0
    how: Mapping[str, Any] = replace  # type: ignore[assignment]


def loose() -> Panel:
    return one_panel(unbridged(good_motif("wren")), good_motif("snail"))


def thin_between_neighbours() -> Panel:
    return with_cuts(good(), windows(shapely.box(55, 5, 59.5, 10), shapely.box(60, 5, 65, 10)))


def thin_inside_a_motif() -> Panel:
    """A bridge narrower than the card wants, as one drawn for a tougher card would be."""
    thin = windows(shapely.box(2, 2, 5, 8), shapely.box(5.8, 2, 9, 8))
    return with_cuts(good(), thin)


def small_window() -> Panel:
    return with_cuts(good(), windows(shapely.box(58, 5, 62, 5.6)))


def slender_waste() -> Panel:
    return with_cuts(good(), windows(shapely.box(30, 3, 80, 5)))


def slender_paper() -> Panel:
    return with_cuts(good(), windows(shapely.box(30, 1, 80, 4), shapely.box(30, 5.6, 80, 8)))


def double_cut() -> Panel:
    twice = MultiLineString([[(56, 3), (66, 3)], [(58, 3.03), (70, 3.03)]])
    return with_cuts(good(), Cuts(slits=twice))


def clash() -> Panel:
    panel = good()
    right = panel.pieces[1]
    over = replace(right, placement=right.placement.moved(Pose(35, 30, 0, 40)))
    moved = shapely.affinity.translate
    over = replace(
        over,
        cuts=Cuts(windows=moved(right.cuts.windows, -55)),
        footprint=moved(right.footprint, -55),
    )
    return replace(panel, pieces=(panel.pieces[0], over))


def off_sheet() -> Panel:
    return with_cuts(good(), windows(shapely.box(-20, 20, -10, 26)))


def facing() -> Panel:
    """Two rings whose hinges face each other: folded right over, their flaps meet."""
    wren, snail = good_motif("wren"), good_motif("snail")
    placements = [
        Placement("wren", 1, Pose(30, 30, 0, 40)),
        Placement("snail", 1, Pose(72, 30, 0, 40, mirrored=True)),
    ]
    motifs = {"wren": wren, "snail": snail}
    return compose("pair", box_field(104, 60), placements, motifs, CARD)


def slit_across_a_hinge() -> Panel:
    panel = good()
    (x, y), (to_x, to_y) = panel.pieces[0].hinges[0].line
    middle, along = ((x + to_x) / 2, (y + to_y) / 2), (to_x - x, to_y - y)
    across = 0.1 * along[1], -0.1 * along[0]
    ends = [(middle[0] + side * across[0], middle[1] + side * across[1]) for side in (-1, 1)]
    return with_cuts(panel, Cuts(slits=MultiLineString([ends])))


def flap_on_a_short_fold() -> Panel:
    """A tongue 12 mm wide at a mouth of 3 mm, on a card that wants webs of 1.5 mm."""
    angle = np.radians(np.linspace(-75.5, 255.5, 80))
    tongue = LineString(6 * np.column_stack([np.cos(angle), np.sin(angle)]))
    motif = Motif(
        "tongue",
        NO_WINDOWS,
        MultiLineString([tongue]),
        Polygon(tongue),
        size=12.0,
        hold=HoldStyle.TONGUE,
    )
    return one_panel(good_motif("wren"), motif, size=12.0)


def flap_with_barbs() -> Panel:
    """A tongue 12 mm long whose two barbs reach 3 mm past its fold, as an arrow's do."""
    half = [(3, 0), (3, -6), (6, -6), (6, 3), (10, 3), (10, -12)]
    tongue = LineString([*((-x, y) for x, y in half), *half[::-1]])
    motif = Motif(
        "arrow",
        NO_WINDOWS,
        MultiLineString([tongue]),
        Polygon(tongue),
        size=20.0,
        hold=HoldStyle.TONGUE,
    )
    return one_panel(good_motif("wren"), motif, size=20.0)


def with_source(**facts: Any) -> Callable[[], Panel]:
    def make() -> Panel:
        owned = replace(good_motif("snail"), source=Source(**facts))
        return one_panel(good_motif("wren"), owned)

    return make


SNAIL = (90.0, 30.0)
SEEDED = [
    Seeded(FindingKind.LOOSE_PART, loose, (30, 30), 12, {}),
    Seeded(FindingKind.THIN_WEB, thin_between_neighbours, (59.75, 7.5), 3, {}),
    Seeded(FindingKind.THIN_WEB, thin_inside_a_motif, (5.4, 5), 3.2, {}),
    Seeded(FindingKind.SMALL_WINDOW, small_window, (60, 5.3), 2, {}),
    Seeded(FindingKind.SLENDER_WASTE, slender_waste, (55, 4), 26, {}),
    Seeded(FindingKind.SLENDER_PAPER, slender_paper, (55, 5), 26, {}),
    Seeded(FindingKind.DOUBLE_CUT, double_cut, (62, 3), 4.1, {}),
    Seeded(FindingKind.CLASH, clash, (32.5, 30), 25, {}),
    Seeded(FindingKind.OFF_SHEET, off_sheet, (-15, 23), 1, {}),
    Seeded(FindingKind.UNDER_REBATE, lambda: good(frame=Frame(rebate=27)), (30, 30), 1, {}),
    Seeded(FindingKind.SHEET_TOO_LARGE, good, None, 0, {"cutting_area": (140, 100)}),
    Seeded(FindingKind.UNPROVEN_SIZE, good, SNAIL, 1, {"proven": {"snail": SizeRange(20, 39)}}),
    Seeded(FindingKind.IMPOSSIBLE_SIZE, good, SNAIL, 1, {"computed": {"snail": SizeRange(41, 90)}}),
    Seeded(
        FindingKind.NOT_FOR_SALE, with_source(may_sell=MaySell.NO), SNAIL, 1, {"for_sale": True}
    ),
    Seeded(FindingKind.SALE_UNKNOWN, with_source(), SNAIL, 1, {"for_sale": True}),
    Seeded(
        FindingKind.COPIES_USED_UP,
        with_source(may_sell=MaySell.YES, copies_limit=20),
        SNAIL,
        1,
        {"for_sale": True, "copies_made": {"snail": 20}},
    ),
    Seeded(FindingKind.CHOKING, loose, (30, 30), 12, {}),
    Seeded(FindingKind.CHOKING, flap_on_a_short_fold, (90, 30), 7, {}),
    Seeded(FindingKind.LIFT_TOO_HIGH, good, SNAIL, 12, {"frame_depth": 10}),
    Seeded(FindingKind.SMALL_SCRAPS, good, None, 0, {"scraps": 60}),
    Seeded(FindingKind.LIFT_TOO_LOW, good, SNAIL, 12, {"fold_kind": FoldKind.PLAIN}),
    Seeded(FindingKind.FLAPS_COLLIDE, facing, (51, 30), 4, {"opening": 170}),
    Seeded(FindingKind.FLAP_BEHIND, flap_with_barbs, (90, 33), 11, {}),
    Seeded(FindingKind.BLOCKED_HINGE, slit_across_a_hinge, (37, 30), 2, {}),
    Seeded(FindingKind.EMPTY, one_panel, None, 0, {}),
    Seeded(FindingKind.ILLEGIBLE, lambda: replace(good(), spec=LetterSpec("M")), None, 0, {}),
]
HARSH: dict[str, Any] = {
    "frame_depth": 25,
    "opening": 90,
    "cutting_area": (150, 90),
    "for_sale": True,
    "proven": {"wren": SizeRange(20, 60), "snail": SizeRange(20, 60)},
    "computed": {"wren": SizeRange(10, 90), "snail": SizeRange(10, 90)},
    "copies_made": {"snail": 3},
    "copies": 5,
}


def _checked(panel: Panel, how: Mapping[str, Any]) -> Report:
    demanded = {name: value for name, value in how.items() if name in parameters(Demands)}
    known = {name: value for name, value in how.items() if name not in demanded}
    return check(panel, Demands(**demanded), **known)


def kinds(report: Report) -> set[str]:
    return {finding.kind for finding in report.findings}


@pytest.mark.parametrize("seeded", SEEDED, ids=lambda seeded: str(seeded.kind))
def test_a_seeded_fault_is_found_at_its_place(seeded: Seeded) -> None:
    report = _checked(seeded.panel(), seeded.how)
    hits = [finding for finding in report.findings if finding.kind == seeded.kind]
    assert hits, f"{seeded.kind} among {kinds(report)}"
    assert all(hit.message.endswith(".") and hit.remedy for hit in hits)
    if seeded.near is not None:
        places = [Point(hit.at).distance(Point(seeded.near)) for hit in hits if hit.at]
        assert min(places) <= seeded.within


def test_the_good_panel_has_no_finding_under_the_harshest_check() -> None:
    report = _checked(good(frame=Frame(rebate=10)), HARSH)
    assert report.findings == ()
    assert report.holds and report.loose_parts == 0


def test_what_any_cut_calls_for_is_told_beside_the_findings() -> None:
    """Each ring leaves a short arc and a flap that are small, and a long arc 40 mm wide."""
    choking, blade = check(good()).cautions
    assert "2 pieces that the windows drop and 2 flaps if torn off" in choking
    assert "local rules" in choking and "maker's instructions" in blade
    large = check_cuts(windows(shapely.box(0, 0, 40, 40)), shapely.box(-9, -9, 49, 49), CARD)
    assert large.cautions == (blade,)
    assert check(one_panel()).cautions == ()


def test_seeding_a_fault_adds_no_other_kind_than_its_own() -> None:
    """A table of fault × found: nothing but the fault, or what cannot be had without it."""
    follows = {
        FindingKind.LOOSE_PART: {FindingKind.CHOKING},
        FindingKind.CHOKING: {FindingKind.LOOSE_PART},
    }
    follows[FindingKind.OFF_SHEET] = {FindingKind.LOOSE_PART, FindingKind.CHOKING}
    follows[FindingKind.CLASH] = {FindingKind.DOUBLE_CUT}
    follows[FindingKind.DOUBLE_CUT] = {FindingKind.THIN_WEB}
    for seeded in SEEDED:
        found = kinds(_checked(seeded.panel(), seeded.how))
        assert found - {seeded.kind} <= follows.get(seeded.kind, set()), seeded.kind


OF_FILES = {
    FindingKind.CARD_TEST,
    FindingKind.SAME_WINDOW,
    FindingKind.WINDOWS_OVERLAP,
    FindingKind.LEFT_OUT,
    FindingKind.NOT_CHECKED,
}
"""Kinds that only cut files have; they are tested there."""


def test_no_kind_of_finding_is_forgotten() -> None:
    assert {seeded.kind for seeded in SEEDED} | OF_FILES == set(FindingKind)
    placeless = {seeded.kind for seeded in SEEDED if seeded.near is None}
    assert placeless == {
        FindingKind.SHEET_TOO_LARGE,
        FindingKind.EMPTY,
        FindingKind.ILLEGIBLE,
        FindingKind.SMALL_SCRAPS,
    }


def test_a_tight_panel_of_three_hundred_motifs_gives_no_false_alarm() -> None:
    """Rings whose bulges face each other across 2 mm, on a card that wants 1.5 mm."""
    panel = grid_panel(15, 20, gap=2.0)
    footprints = [piece.footprint for piece in panel.pieces]
    _, distance = shapely.STRtree(footprints).query_nearest(
        footprints, exclusive=True, return_distance=True
    )
    assert len(footprints) == 300 and 2 <= distance.min() < 2.2
    report = check(panel)
    assert report.findings == ()
    assert report.narrowest == pytest.approx(distance.min(), abs=0.02)


def test_the_narrowest_web_is_measured_exactly() -> None:
    """Two windows 2.37 mm apart, by construction."""
    cuts = windows(shapely.box(0, 0, 10, 10), shapely.box(12.37, 0, 20, 10))
    report = check_cuts(cuts, shapely.box(-20, -20, 40, 30), CARD)
    assert report.narrowest == pytest.approx(2.37, abs=1e-3)


def test_a_web_to_the_edge_of_the_sheet_counts() -> None:
    cuts = windows(shapely.box(0.8, 10, 20, 20))
    report = check_cuts(cuts, shapely.box(0, 0, 60, 60), CARD)
    assert kinds(report) == {FindingKind.THIN_WEB}
    assert not report.holds and report.loose_parts == 0


def test_nothing_cut_has_no_narrowest_web() -> None:
    report = check_cuts(Cuts(), shapely.box(0, 0, 50, 50), CARD)
    assert report.narrowest is None and kinds(report) == {FindingKind.EMPTY}


def test_faults_come_before_cautions() -> None:
    order = [Severity.FAULT, Severity.CAUTION, Severity.NOTE]
    report = check(with_cuts(loose(), windows(shapely.box(58, 5, 62, 5.6))))
    ranks = [order.index(finding.severity) for finding in report.findings]
    assert ranks == sorted(ranks) and len(set(ranks)) == 2


def test_loose_parts_are_counted_as_the_paper_counts_them() -> None:
    panel = loose()
    assert check(panel).loose_parts == len(find_parts(panel.cuts, panel.sheet).loose) == 1


def test_a_slit_that_closes_drops_its_inside() -> None:
    ring = LineString(Point(30, 30).buffer(10).exterior)
    report = check_cuts(Cuts(slits=MultiLineString([ring])), shapely.box(0, 0, 60, 60), CARD)
    assert report.loose_parts == 1 and not report.holds


def test_a_bridge_that_shrinks_with_its_motif_is_never_under_the_least_web() -> None:
    motif = replace(good_motif("wren"), scaling=BridgeScaling.SCALED)
    panel = one_panel(motif, size=18)
    assert check(panel).holds


def test_a_tongue_holds_by_its_mouth() -> None:
    report = check(one_panel(slit_motif()))
    assert report.holds and report.loose_parts == 0


def test_bridges_drawn_too_thin_are_widened_to_the_least_web() -> None:
    thin = tuple(Bridge(b.at, b.direction, b.reach, 0.5) for b in good_motif().bridges)
    assert check(one_panel(replace(good_motif(), bridges=thin))).holds


BOW = Polygon([(0, 0), (20, 20), (20, 0), (0, 20)])
FLAT = Polygon([(0, 0), (10, 0), (20, 0)])
SQUARE = shapely.box(0, 0, 20, 20)


@pytest.mark.parametrize(
    ("kind", "cuts", "near"),
    [
        ("self-crossing", windows(BOW), (10, 10)),
        ("overlapping-windows", windows(SQUARE, shapely.box(10, 10, 30, 30)), (15, 15)),
        ("empty-window", windows(FLAT), (10, 0)),
        (
            "slit-in-window",
            Cuts(MultiPolygon([SQUARE]), MultiLineString([[(5, 5), (15, 15)]])),
            (10, 10),
        ),
        (
            "empty-slit",
            Cuts(MultiPolygon([SQUARE]), MultiLineString([[(5, 45), (5, 45)]])),
            (5, 45),
        ),
    ],
)
def test_broken_cuts_are_told_at_their_place_too(kind: str, cuts: Cuts, near: XY) -> None:
    report = check_cuts(cuts, shapely.box(-20, -20, 80, 80), CARD)
    (hit,) = (finding for finding in report.findings if finding.kind == kind)
    assert hit.at is not None and Point(hit.at).distance(Point(near)) < 8
