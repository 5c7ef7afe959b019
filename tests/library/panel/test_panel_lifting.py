"""Hinges as they stand: heights by sin(opening), what is seen from above, what meets what."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
import shapely

from hingeleaf.errors import UsageError
from hingeleaf.model import HoldStyle, Placement, Pose
from hingeleaf.panel.check import check
from hingeleaf.panel.compose import Frame, Panel, compose
from hingeleaf.panel.demands import Demands
from hingeleaf.panel.findings import FindingKind
from hingeleaf.panel.folding import CLEARANCE
from hingeleaf.panel.lifting import Raised, raise_flaps
from hingeleaf.paper.hinges import Hinge
from hingeleaf.paper.mechanics.springback import RestAngles
from support.panel_samples import CARD, box_field, one_panel, ring_motif, slit_motif

SQUARE = Hinge(((0.0, 0.0), (30.0, 0.0)), shapely.box(0, 0, 30, 40), 40.0)
"""40 mm from a hinge along its top edge."""


def raised(opening: float) -> Raised:
    """The square at an angle, folded of paper that does not spring back."""
    return Raised(0, SQUARE, opening, opening, RestAngles(opening, opening, opening))


def test_spring_back_makes_a_range_of_the_height() -> None:
    flap = raise_flaps(one_panel(ring_motif(0)), 60)[0]
    low, high = flap.lift_range
    assert low < flap.lift < high
    assert flap.folded > flap.opening == pytest.approx(flap.rest.middle)
    assert high == pytest.approx(flap.hinge.reach * math.sin(math.radians(flap.rest.highest)))


@pytest.mark.parametrize(
    ("opening", "lift"),
    [(30, 20.0), (45, 28.284), (60, 34.641), (90, 40.0), (120, 40.0)],
)
def test_lift_is_reach_times_the_sine(opening: float, lift: float) -> None:
    """Elementary trigonometry; past upright the flap has been as high as upright."""
    assert raised(opening).lift == pytest.approx(lift, abs=1e-3)


@pytest.mark.parametrize("opening", [0, 30, 60, 89])
def test_a_flap_is_foreshortened_by_the_cosine(opening: float) -> None:
    seen = raised(opening).seen()
    assert seen.bounds == pytest.approx((0, 0, 30, 40 * math.cos(math.radians(opening))))


def test_beyond_upright_it_is_seen_on_the_other_side_of_the_hinge() -> None:
    assert raised(180).seen().bounds == pytest.approx((0, -40, 30, 0), abs=1e-6)


def test_a_shadow_falls_as_far_as_the_flap_is_high() -> None:
    shadow = raised(90).seen((0.5, 0.25))
    corners = {(round(x, 6), round(y, 6)) for x, y in shadow.exterior.coords}
    assert corners == {(0, 0), (30, 0), (20, 10), (50, 10)}


def test_flaps_follow_their_motif_s_pose() -> None:
    motif = ring_motif(1)
    panel = one_panel(motif, size=40)
    turned = compose(
        "turned",
        panel.field,
        [Placement(motif.name, 1, Pose(30, 30, 90, 40, mirrored=True))],
        {motif.name: motif},
        CARD,
    )
    (flat,), (moved,) = panel.pieces[0].hinges, turned.pieces[0].hinges
    assert moved.reach == flat.reach
    assert moved.flap.area == pytest.approx(flat.flap.area)
    assert moved.length == pytest.approx(flat.length)
    centre = flat.flap.centroid
    # Mirrored, then a quarter turn clockwise about (30, 30): (x, y) -> (60 - y, 60 - x).
    assert (moved.flap.centroid.x, moved.flap.centroid.y) == pytest.approx(
        (60 - centre.y, 60 - centre.x)
    )


def test_flaps_lie_within_their_footprint_and_are_folds_too() -> None:
    panel = one_panel(ring_motif(0), ring_motif(3))
    for piece in panel.pieces:
        assert piece.hinges
        for flap in piece.hinges:
            assert piece.footprint.buffer(1e-6).covers(flap.flap)
    assert len(panel.cuts.folds.geoms) == sum(len(piece.hinges) for piece in panel.pieces)


def test_rigid_motifs_have_no_flaps() -> None:
    panel = one_panel(replace(ring_motif(0), hold=HoldStyle.RIGID))
    assert not raise_flaps(panel) and panel.cuts.folds.is_empty


def test_a_tongue_lifts_across_its_mouth() -> None:
    (raised,) = raise_flaps(one_panel(slit_motif(40), size=40))
    # Three quarters of a circle of radius 20: the mouth is a chord of 90°.
    assert raised.hinge.length == pytest.approx(20 * math.sqrt(2), abs=0.1)
    assert raised.hinge.reach == pytest.approx(20 + 10 * math.sqrt(2), abs=0.1)


@pytest.mark.parametrize("opening", [-1, 181, float("nan")])
def test_an_opening_that_cannot_be_is_refused(opening: float) -> None:
    with pytest.raises(UsageError, match="open"):
        raise_flaps(one_panel(ring_motif(0)), opening)


def heights(panel: Panel, depth: float, opening: float) -> set[str]:
    return {
        finding.kind
        for finding in check(panel, Demands(frame_depth=depth, opening=opening)).findings
    }


def test_a_frame_is_deep_enough_from_lift_plus_clearance_on() -> None:
    panel = one_panel(ring_motif(0))
    _, lift = raise_flaps(panel, 70)[0].lift_range
    assert heights(panel, lift + CLEARANCE + 0.01, 70) == set()
    assert heights(panel, lift + CLEARANCE - 0.01, 70) == {FindingKind.LIFT_TOO_HIGH}


def test_the_panel_s_own_frame_counts_when_no_other_is_named() -> None:
    panel = one_panel(ring_motif(0), frame=Frame(depth=4))
    assert {finding.kind for finding in check(panel).findings} == {FindingKind.LIFT_TOO_HIGH}
    assert check(panel, Demands(frame_depth=40)).findings == ()


def test_upright_flaps_of_close_neighbours_do_not_collide() -> None:
    motif = ring_motif(0)
    placements = [Placement(motif.name, 1, Pose(20 + 39 * i, 20, 0, 36)) for i in range(3)]
    field = box_field(120, 40)
    panel = compose("row", field, placements, {motif.name: motif}, CARD)
    assert check(panel, Demands(opening=90)).findings == ()
