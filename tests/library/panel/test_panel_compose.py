"""Placements become a panel: where things lie, what is cut, and what is refused."""

from __future__ import annotations

import math

import pytest
import shapely
from shapely import MultiPolygon, Point

from hingeleaf.errors import UnknownNameError, UsageError
from hingeleaf.model import Field, Placement, Pose
from hingeleaf.panel.compose import Frame, compose
from hingeleaf.panel.cut_lettering import MIN_TIES, TIE_WEBS, tied_outline
from hingeleaf.paper.parts import find_parts
from hingeleaf.paper.resized import cuts_at_size
from support.panel_samples import CARD, box_field, grid_panel, one_panel, ring_motif, slit_motif


def ring_field() -> Field:
    area = MultiPolygon([Point(50, 50).buffer(50).difference(Point(50, 50).buffer(20))])
    return Field("letter", "O", area, area)


def test_a_sheet_nobody_names_leaves_a_margin_all_round() -> None:
    panel = compose("p", box_field(100, 60), [], {}, CARD, margin=12)
    assert panel.sheet.bounds == (-12, -12, 112, 72)
    assert panel.size == (124, 84)


def test_a_named_sheet_is_centred_on_the_field() -> None:
    panel = compose("p", box_field(100, 60), [], {}, CARD, sheet=(200, 250))
    assert panel.sheet.bounds == (-50, -95, 150, 155)


def test_cuts_are_recut_at_the_size_of_use_and_posed() -> None:
    """Against shapely's own affine functions, applied one by one."""
    motif = ring_motif(3)
    pose = Pose(70, 40, 33, 31, mirrored=True)
    panel = compose(
        "p", box_field(140, 80), [Placement(motif.name, 1, pose)], {motif.name: motif}, CARD
    )
    expected = cuts_at_size(motif, 31, CARD).windows
    expected = shapely.affinity.scale(expected, -1, 1, origin=(0, 0))
    expected = shapely.affinity.rotate(expected, 33, origin=(0, 0))
    expected = shapely.affinity.translate(expected, 70, 40)
    assert panel.cuts.windows.symmetric_difference(expected).area < 1e-9


def test_every_piece_keeps_its_own_cuts_and_ties() -> None:
    panel = grid_panel(3, 2)
    assert len(panel.pieces) == 6
    assert sum(p.cuts.windows.area for p in panel.pieces) == pytest.approx(panel.cuts.windows.area)
    for piece in panel.pieces:
        assert len(piece.ties.geoms) == len(piece.motif.bridges)
        assert piece.footprint.buffer(1e-6).covers(piece.cuts.windows)
        assert piece.ties.intersection(piece.cuts.windows).area < 1e-6


def test_slits_are_part_of_the_panel() -> None:
    panel = one_panel(slit_motif(40), size=20)
    assert panel.cuts.slits.length == pytest.approx(0.75 * math.pi * 20, rel=1e-3)


def test_an_unknown_motif_is_named() -> None:
    with pytest.raises(UnknownNameError, match="wren"):
        compose("p", box_field(50, 50), [Placement("wren", 1, Pose(0, 0, 0, 20))], {}, CARD)


@pytest.mark.parametrize("sheet", [(0, 100), (100, -5), (float("nan"), 100)])
def test_a_sheet_without_area_is_refused(sheet: tuple[float, float]) -> None:
    with pytest.raises(UsageError, match="sheet"):
        compose("p", box_field(50, 50), [], {}, CARD, sheet=sheet)


def test_a_rebate_may_not_cover_the_sheet() -> None:
    with pytest.raises(UsageError, match="rebate"):
        compose("p", box_field(50, 50), [], {}, CARD, frame=Frame(rebate=40))


def test_the_opening_is_the_sheet_less_the_rebate() -> None:
    panel = compose("p", box_field(100, 60), [], {}, CARD, margin=10, frame=Frame(rebate=6))
    assert panel.opening.bounds == (-4, -4, 104, 64)


def test_a_cut_outline_keeps_letter_and_counter_in_the_sheet() -> None:
    field = ring_field()
    panel = compose("O", field, [], {}, CARD, cut_outline=True)
    assert len(find_parts(panel.cuts, panel.sheet).parts) == 1
    assert not panel.outline.is_empty
    untied = panel.cuts.__class__(slits=shapely.MultiLineString(list(field.outline.boundary.geoms)))
    assert len(find_parts(untied, panel.sheet).loose) == 2


def test_an_outline_that_is_left_out_cuts_nothing() -> None:
    panel = compose("O", ring_field(), [], {}, CARD)
    assert panel.cuts.slits.is_empty and panel.outline.is_empty and panel.guides.is_empty


def test_a_marked_outline_is_a_guide_and_not_cut() -> None:
    panel = compose("O", ring_field(), [], {}, CARD, mark_outline=True)
    assert panel.cuts.slits.is_empty
    assert panel.guides.length == pytest.approx(ring_field().outline.length)


def test_ties_are_wide_enough_and_as_many_as_promised() -> None:
    outline = ring_field().outline
    slits = tied_outline(outline, CARD)
    for ring in outline.boundary.geoms:
        mine = [slit for slit in slits.geoms if slit.distance(ring) < 1e-9]
        gaps = [a.distance(b) for a in mine for b in mine if a is not b]
        assert len(mine) >= MIN_TIES
        # A chord across a bend is a little shorter than the tie is along the outline.
        assert min(gaps) > 0.98 * TIE_WEBS * CARD.least_web


def test_ties_keep_off_corners() -> None:
    square = MultiPolygon([shapely.box(0, 0, 90, 90)])
    slits = tied_outline(square, CARD)
    corners = shapely.MultiPoint([(0, 0), (90, 0), (90, 90), (0, 90)])
    assert all(slits.distance(corner) < 1e-9 for corner in corners.geoms)


def test_a_short_ring_has_three_ties() -> None:
    assert len(tied_outline(MultiPolygon([Point(0, 0).buffer(15)]), CARD).geoms) == 3


def test_a_ring_too_small_to_tie_is_not_cut() -> None:
    assert tied_outline(MultiPolygon([Point(0, 0).buffer(1)]), CARD).is_empty
