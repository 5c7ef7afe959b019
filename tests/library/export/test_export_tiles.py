"""Panels over several sheets: seams clear of everything, laps, marks and names."""

from __future__ import annotations

import functools
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from shapely import MultiLineString, Point

from hingeleaf.errors import UsageError
from hingeleaf.export.seams import _clearances, _lead_ins
from hingeleaf.export.tiles import _across_seam, _in_lap, _lap, tiles
from hingeleaf.model import Cuts, Placement, Pose
from hingeleaf.panel.check import check_cuts
from hingeleaf.panel.compose import Panel, compose
from support.panel_samples import CARD, box_field, grid_panel, one_panel, ring_motif

AREA = (100.0, 130.0)


@functools.cache
def gridded() -> list[Panel]:
    return tiles(grid_panel(5, 4), AREA, overlap=8)


@functools.cache
def staggered() -> Panel:
    """Rings like bricks: between their rows all is free, but no upright straight line is."""
    motif = ring_motif(0)
    placements = [
        Placement(motif.name, 1, Pose(40 * column + 20 * (row % 2), 38 * row, 0.0, 36.0))
        for row in range(3)
        for column in range(5)
    ]
    return compose("bricks", box_field(180, 76), placements, {motif.name: motif}, CARD, margin=25)


@functools.cache
def interlocked() -> list[Panel]:
    """Wide enough for the rows, so that only upright seams are needed."""
    return tiles(staggered(), (150.0, 130.0))


def lines_of(sheet: Panel, *, straight: bool) -> list[shapely.LineString]:
    return [line for line in sheet.marks.geoms if (len(line.coords) == 2) is straight]


def test_a_panel_that_fits_upright_or_across_is_one_tile() -> None:
    panel = grid_panel(2, 1)
    assert tiles(panel, (100, 120)) == [panel]


@pytest.mark.parametrize(
    ("panel", "sheets", "area"),
    [(grid_panel(5, 4), gridded, AREA), (staggered(), interlocked, (150, 130))],
)
def test_sheets_make_up_the_panel_and_no_seam_is_near_a_motif(panel, sheets, area):
    sheets = sheets()
    assert len(sheets) > 1
    for sheet in sheets:
        assert np.all(np.sort(sheet.size) <= np.sort(area) + 1e-6)
        assert find_faults(sheet) == []
    assert shapely.union_all([sheet.sheet for sheet in sheets]).symmetric_difference(
        panel.sheet
    ).area == pytest.approx(0, abs=1e-3)
    windows = np.concatenate([shapely.get_parts(sheet.cuts.windows) for sheet in sheets])
    assert shapely.multipolygons(windows).equals(panel.cuts.windows)
    seams = shapely.union_all([each.sheet.boundary for each in sheets]).difference(
        panel.sheet.boundary.buffer(0.01)
    )
    # Laps lie under glue and keep less.
    own = [shapely.distance(seams, piece.footprint) for piece in panel.pieces]
    assert min(own) >= 0.59
    assert sum(len(sheet.pieces) for sheet in sheets) == len(panel.pieces)


def find_faults(sheet: Panel) -> list[str]:
    return [each.message for each in check_cuts(sheet.cuts, sheet.sheet, sheet.card).faults]


def test_a_seam_bends_round_motifs_where_none_can_be_straight():
    first, second = interlocked()
    seam = first.sheet.boundary.difference(staggered().sheet.boundary.buffer(0.01))
    left, _, right, _ = seam.bounds
    assert right - left > 10
    footprints = [piece.footprint for piece in staggered().pieces]
    assert seam.distance(shapely.union_all(footprints)) >= CARD.least_web - 0.01
    assert first.sheet.intersection(second.sheet).area > 100  # the lap


def test_laps_are_as_wide_as_asked_where_nothing_is_in_the_way():
    first, second = gridded()[:2]
    shared = first.sheet.intersection(second.sheet)
    assert shared.bounds[2] - shared.bounds[0] == pytest.approx(8)
    butted = tiles(grid_panel(5, 4), AREA, overlap=0)
    assert sum(sheet.sheet.area for sheet in butted) == pytest.approx(grid_panel(5, 4).sheet.area)
    assert all(lines_of(sheet, straight=True) for sheet in butted)


def test_an_outline_is_crossed_squarely_and_away_from_its_ties():
    motif = ring_motif(0)
    placements = [Placement(motif.name, 1, Pose(20 + 40 * at, 20, 0.0, 30.0)) for at in range(4)]
    panel = compose(
        "row", box_field(160, 40), placements, {motif.name: motif}, CARD, cut_outline=True
    )
    sheets = tiles(panel, (120, 75))
    seam = sheets[0].sheet.boundary.difference(panel.sheet.boundary.buffer(0.01))
    ends = [line.boundary for line in panel.outline.geoms]
    assert len(sheets) == 2 and seam.intersection(panel.outline).length == 0
    assert seam.distance(shapely.union_all(ends)) >= 2 * CARD.least_web
    assert seam.intersection(panel.outline.buffer(1)).length < 2 * 3
    lengths = [sheet.cuts.slits.length for sheet in sheets]
    assert sum(lengths) == pytest.approx(panel.cuts.slits.length) and min(lengths) > 0


def test_marks_of_neighbouring_sheets_lie_on_each_other():
    marks = [MultiLineString(lines_of(sheet, straight=True)) for sheet in gridded()]
    for index, own in enumerate(marks):
        assert len(own.geoms) >= 4
        others = shapely.union_all(marks[:index] + marks[index + 1 :])
        assert others.buffer(1e-6).covers(own)
    assert all(sheet.guides.is_empty for sheet in gridded())


def test_marks_are_crosses_in_the_middle_of_a_shared_strip():
    """Two in every strip, a fifth of its length from its ends, with arms of 3 mm."""
    first, second = gridded()[:2]
    left, top, right, bottom = first.sheet.intersection(second.sheet).bounds
    for share in (0.2, 0.8):
        middle = Point((left + right) / 2, top + share * (bottom - top))
        crosses = [
            each.interpolate(0.5, normalized=True) for each in lines_of(first, straight=True)
        ]
        (place,) = min(crosses, key=middle.distance).coords
        arms = [line for line in first.marks.geoms if line.distance(Point(place)) < 1e-6]
        assert Point(place).distance(middle) < 2
        assert shapely.total_bounds(arms) - np.tile(place, 2) == pytest.approx((-3, -3, 3, 3))


@pytest.mark.parametrize("strip", [shapely.box(0, 5, 7, 25), shapely.box(5, 0, 25, 7)])
def test_marks_lie_along_a_strip_wherever_it_is(strip):
    places = {line.interpolate(0.5, normalized=True).coords[0] for line in _in_lap(strip)}
    along = ((3.5, 9.0), (3.5, 21.0))
    assert sorted(places) == pytest.approx(
        np.array(along if strip.bounds[0] == 0 else [place[::-1] for place in along])
    )


def test_a_lap_has_no_tongue_too_narrow_to_glue():
    """Between two motifs 2 mm of paper are free, along the seam 0.4 mm, at either end 20 mm."""
    motifs = shapely.union_all([shapely.box(20.6, 0, 48.4, 49), shapely.box(51.6, 0, 79.4, 49)])
    lap = _lap(shapely.box(0, 50, 100, 100), [shapely.box(0, 0, 100, 50)], motifs, 10)
    free = shapely.union_all(
        [shapely.box(*box) for box in ((0, 40, 20, 50), (80, 40, 100, 50), (0, 49.6, 100, 50))]
    )
    assert lap.symmetric_difference(free).area < 0.01 * free.area


def test_sheets_without_laps_have_strokes_square_across_their_seam():
    one, other = _across_seam(shapely.LineString([(0, 0), (0, 40)]), Cuts())
    assert one.bounds == pytest.approx((-1.5, 8, 1.5, 8), abs=0.1)
    assert other.bounds == pytest.approx((-1.5, 32, 1.5, 32), abs=0.1)


def test_the_room_of_a_way_is_half_of_what_it_runs_between():
    a, b, p, q = (np.array([place] * 2, float) for place in ((0, 0), (0, 10), (-3, 5), (3, 5)))
    assert _clearances(a, b, p, q, np.array([False, True])).tolist() == [3.0, 34**0.5]
    up = np.array([0.0, 9.0])
    assert _clearances(a, b, p + up, q + up, np.zeros(2, bool)).tolist() == [5.0, 5.0]


def test_a_seam_keeps_half_its_clearance_from_cuts_from_its_first_step_on():
    site = SimpleNamespace(paper=shapely.box(0, 0, 100, 50))
    cuts = shapely.STRtree([Point(5.9, 3), Point(51.1, 3)])
    edge = shapely.LineString([(0, 0), (100, 0)])
    kept, lines, costs = _lead_ins(np.array([[5.0, 8], [50.0, 8]]), edge, site, cuts, 2.0)
    assert kept.tolist() == [1] and lines[0].length == 8 and costs[0] > 8


def test_every_sheet_bears_its_name_clear_of_what_is_cut():
    for sheet in [*gridded(), *interlocked()]:
        words = shapely.union_all(lines_of(sheet, straight=False))
        assert words.distance(sheet.cuts.windows) > 0.9
        assert sheet.sheet.buffer(-2.4).covers(words) and words.bounds[3] - words.bounds[1] < 5
    left, top, _, _ = shapely.total_bounds(lines_of(gridded()[0], straight=False))
    assert (left, top) - np.array(gridded()[0].origin) == pytest.approx((2.5, 2.5), abs=0.1)


def test_sheets_are_named_by_row_and_column():
    names = [sheet.name.rsplit(" ", 1)[-1] for sheet in gridded()]
    assert names == ["A1", "A2", "A3", "B1", "B2", "B3"]


def test_what_cannot_be_parted_is_refused():
    with pytest.raises(UsageError, match="overlap"):
        tiles(grid_panel(5, 4), (30, 20), overlap=10)
    with pytest.raises(UsageError, match="through a motif"):
        tiles(one_panel(ring_motif(0), size=100, step=140), (80, 90))
