"""Motifs bent by a cubic map: windows along, bridges along or anew, and whether they hold."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
import shapely
from shapely import MultiLineString, MultiPolygon, Point

from hingeleaf.cubic_map import IDENTITY, image, is_cubic_map, jacobians
from hingeleaf.model import Bridge, HoldStyle, Motif, Placement, Pose, bent
from hingeleaf.panel.bent_motif import bend_motif
from hingeleaf.panel.folding import holds_bent, stiff_parts
from hingeleaf.panel.pieces import place_pieces
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.paper.planning import plan_motif

BOW = (0.0, 1.0, 0.0, 0.0, 0.0, 0.0, *[0.0] * 4, 0.0, 0.0, 1.0, 0.3, *[0.0] * 6)
"""y gains 0.3 x²: a straight thing becomes a bow."""
PINCH = (0.0, 1.0, 0.0, 0.0, 0.0, 0.0, *[0.0] * 4, 0.0, 0.0, 0.1, *[0.0] * 7)
"""A tenth as high: no card holds that."""


def ring(hold: HoldStyle = HoldStyle.DOOR) -> Motif:
    """A round window, 60 mm, with an island that bridges hold."""
    disc = Point(0, 0).buffer(30, quad_segs=16)
    window = disc.difference(Point(0, 0).buffer(24, quad_segs=16))
    motif = Motif("ring", MultiPolygon([window]), MultiLineString(), disc, 60.0, hold=hold)
    return plan_motif(motif, DEFAULT)


def test_the_map_and_its_slopes_agree() -> None:
    """Slopes beside differences of the images themselves."""
    random = np.random.default_rng(4)
    mapping, points, small = random.normal(size=20), random.uniform(-0.5, 0.5, (9, 2)), 1e-6
    for axis in (0, 1):
        aside = points + small * np.eye(2)[axis]
        slope = (image(mapping, aside) - image(mapping, points)) / small
        assert jacobians(mapping, points)[:, :, axis] == pytest.approx(slope, abs=1e-4)
    assert image(IDENTITY, points) == pytest.approx(points)
    x, y = 0.2, -0.4
    terms = [1, x, y, x * x, x * y, y * y, x**3, x * x * y, x * y * y, y**3]
    expected = [float(np.dot(row, terms)) for row in mapping.reshape(2, 10)]
    assert image(mapping, np.array([[x, y]]))[0] == pytest.approx(expected)


@pytest.mark.parametrize("wrong", [None, [1.0] * 19, [math.nan] * 20, ["1"] * 20, [1e9] * 20, True])
def test_what_is_no_map_is_refused(wrong: object) -> None:
    assert is_cubic_map(IDENTITY) and not is_cubic_map(wrong)


def test_windows_and_bridges_are_bent_along() -> None:
    made = bend_motif(ring(), BOW, 50.0, DEFAULT)
    assert made.holds
    assert made.motif.windows.symmetric_difference(bent(ring().windows, BOW, 60.0)).area < 1e-9
    assert len(made.motif.bridges) == len(ring().bridges)
    for bridge, before in zip(made.motif.bridges, ring().bridges, strict=True):
        x, y = np.array(before.at) / 60
        assert bridge.width == before.width
        assert bridge.at == pytest.approx((60 * x, 60 * (y + 0.3 * x * x)), abs=0.5)


def test_bridges_are_planned_anew_where_those_that_went_along_do_not_hold() -> None:
    torn = replace(ring(), bridges=(Bridge((29, 0), 0.0, 9.0, 5.0),), hold=HoldStyle.RIGID)
    loose = replace(torn, bridges=(Bridge((0, 0), 0.0, 2.0, 5.0),))
    assert bend_motif(torn, BOW, 50.0, DEFAULT).motif.bridges[0].width == 5.0
    anew = bend_motif(loose, BOW, 50.0, DEFAULT)
    assert anew.holds and len(anew.motif.bridges) >= 2


def test_what_the_card_does_not_hold_is_told() -> None:
    assert holds_bent(ring(), Pose(0, 0, 0, 50, bend=BOW), DEFAULT, None)
    assert not holds_bent(ring(), Pose(0, 0, 0, 50, bend=PINCH), DEFAULT, None)
    assert not holds_bent(ring(), Pose(0, 0, 0, 50, bend=BOW), DEFAULT, 5.0), "under the glass"


def test_folds_and_round_outlines_are_to_be_spared() -> None:
    stiff = stiff_parts(ring(), DEFAULT)
    assert len(stiff.folds) == 1
    assert sorted(radius for _, _, radius in stiff.rounds) == pytest.approx([0.4, 0.5], rel=0.01)


def test_a_bent_piece_is_cut_folded_and_spaced_as_it_is_bent() -> None:
    pose = Pose(100, 80, 30, 50, mirrored=True, bend=BOW)
    (piece,) = place_pieces([Placement("ring", 1, pose)], {"ring": ring()}, DEFAULT)
    assert piece.footprint.symmetric_difference(pose.place(ring().footprint, 60.0)).area < 1e-6
    assert piece.footprint.buffer(0.01).covers(piece.cuts.windows)
    assert len(piece.hinges) == 1
    fold = shapely.get_parts(piece.cuts.folds)
    assert all(len(line.coords) == 2 for line in fold), "straight"
