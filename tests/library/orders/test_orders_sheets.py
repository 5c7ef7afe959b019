"""Panels on sheets: none overlaps, none is lost, shared edges once, read back by another reader."""

from __future__ import annotations

import math
import random
from pathlib import Path

import numpy as np
import pytest
import shapely
from svgelements import SVG, Path as SvgPath

from hingeleaf.errors import UsageError
from hingeleaf.export.cut_estimate import estimate_cut
from hingeleaf.export.drawing import Drawing, LineKind
from hingeleaf.export.panel_drawing import draw_panel
from hingeleaf.orders.costs import Rates, cost_of
from hingeleaf.orders.cut_list import write_cut_list
from hingeleaf.orders.nesting import SheetOptions, Spot, equal_places, nest
from hingeleaf.orders.sheet_drawing import lay_on_sheets, shared_edges
from support.export_writing import write_svg
from support.panel_samples import grid_panel, one_panel, ring_motif, slit_motif

INCHES_12 = (304.8, 304.8)


def boxes(spots: list[Spot], sizes: list[tuple[float, float]]) -> list[shapely.Polygon]:
    found = []
    for spot in spots:
        width, height = sizes[spot.piece][::-1] if spot.turned else sizes[spot.piece]
        found.append(shapely.box(spot.x, spot.y, spot.x + width, spot.y + height))
    return found


@pytest.mark.parametrize("keep_grain", [False, True])
@pytest.mark.parametrize("seed", range(4))
def test_random_pieces_lie_apart_and_within_their_sheets(seed: int, keep_grain: bool) -> None:
    chance = random.Random(seed)
    sizes = [(chance.uniform(20, 150), chance.uniform(20, 150)) for _ in range(40)]
    options = SheetOptions(gutter=3.0, border=5.0, upright=keep_grain)
    sheets = nest(sizes, (300.0, 400.0), options)
    assert sorted(spot.piece for sheet in sheets for spot in sheet) == list(range(40))
    for sheet in sheets:
        placed = boxes(sheet, sizes)
        assert shapely.box(5, 5, 295, 395).buffer(0.01).covers(shapely.union_all(placed))
        apart = [one.distance(two) for n, one in enumerate(placed) for two in placed[n + 1 :]]
        assert min(apart, default=3) >= 3 - 0.01
        assert not (keep_grain and any(spot.turned for spot in sheet))


@pytest.mark.parametrize(
    ("size", "count", "sheet"),
    [((90, 55), 60, INCHES_12), ((105, 148), 24, (330, 487)), ((85, 55), 63, (297, 420))],
)
def test_equal_cards_take_no_more_sheets_than_the_area_asks_for(
    size: tuple[float, float], count: int, sheet: tuple[float, float]
) -> None:
    """The bound: the area of all, by the area of a sheet, rounded up."""
    sheets = nest([size] * count, sheet, SheetOptions(border=0.0))
    assert len(sheets) == math.ceil(count * math.prod(size) / math.prod(sheet))


@pytest.mark.parametrize(
    ("size", "room", "most"),
    [
        ((90, 55), (294.8, 294.8), 16),  # two rows across and two upright: 15 in rows of one way
        ((90, 55), (200, 287), 11),  # as many as the area allows
        ((3, 2), (6, 5), 5),
        ((7, 7), (20, 13), 2),
    ],
)
def test_equal_cards_lie_both_ways(
    size: tuple[float, float], room: tuple[float, float], most: int
) -> None:
    assert len(equal_places(size, room)) == most
    options = SheetOptions(border=0)
    (sheet,) = nest([size] * most, room, options)
    shapes = boxes(sheet, [size] * most)
    assert shapely.box(0, 0, *room).buffer(1e-6).covers(shapely.union_all(shapes))
    assert shapely.union_all(shapes).area == pytest.approx(most * math.prod(size))


def test_no_card_is_turned_where_that_saves_no_sheet() -> None:
    sheets = nest([(90, 55)] * 60, (304.8, 304.8), SheetOptions())
    assert [len(sheet) for sheet in sheets] == [15, 15, 15, 15]
    assert not any(spot.turned for sheet in sheets for spot in sheet)


def test_a_piece_larger_than_a_sheet_is_named() -> None:
    with pytest.raises(UsageError, match="gate is 90 mm × 300 mm, larger than a sheet"):
        nest([(90, 300)], (200, 300), SheetOptions(), ["gate"])


def test_a_shared_edge_is_cut_once() -> None:
    """Two by two squares that touch: six lines, as long as the outline and the cross in it."""
    squares = [(x, y, x + 10.0, y + 10.0) for x in (0, 10) for y in (0, 10)]
    lines = shared_edges(squares)
    assert len(lines) == 6
    assert sum(np.hypot(*(line.end - line.start)) for line in lines) == pytest.approx(120)


def bounds_of(drawing: Drawing, kind: LineKind) -> tuple[float, ...]:
    stacked = np.vstack([each.points for each in drawing.strokes(kind)])
    return (*stacked.min(axis=0), *stacked.max(axis=0))


def test_a_sheet_has_all_cuts_whichever_panel_is_its_first() -> None:
    """One panel has windows and no slits, the other slits and no windows."""
    panels = [one_panel(ring_motif(0)), one_panel(slit_motif())]
    for ordered in (panels, panels[::-1]):
        (sheet,) = lay_on_sheets(ordered, SheetOptions((400, 400)))
        for kind in (LineKind.FOLDS, LineKind.SLITS, LineKind.WINDOWS):
            alone = sum(len(draw_panel(panel).strokes(kind)) for panel in panels)
            assert len(sheet.drawing.strokes(kind)) == alone > 0


def test_sheets_hold_every_panel_at_its_spot_and_turned_ones_too(tmp_path: Path) -> None:
    panel = grid_panel(1, 2)
    width, height = panel.size
    sheet_size = (2 * height + 10, width + 10)  # two panels fit side by side only if turned
    (sheet,) = lay_on_sheets([panel], SheetOptions(sheet_size, copies=2))
    assert [spot.turned for spot in sheet.spots] == [True, True]
    alone = draw_panel(panel)
    windows = alone.strokes(LineKind.WINDOWS)
    both = sheet.drawing.strokes(LineKind.WINDOWS)
    assert len(both) == 2 * len(windows)
    left, _, right, bottom = bounds_of(alone, LineKind.WINDOWS)
    found = bounds_of(sheet.drawing, LineKind.WINDOWS)
    corner = sheet.spots[0]
    assert found[:2] == pytest.approx((corner.x + height - bottom, corner.y + left), abs=1e-6)
    assert found[3] - found[1] == pytest.approx(right - left)
    assert sheet.used == pytest.approx(2 * width * height / math.prod(sheet_size))
    write_svg(sheet.drawing, tmp_path / "sheet.svg")
    read = SVG.parse(str(tmp_path / "sheet.svg"), ppi=25.4)
    paths = [each for each in read.elements() if isinstance(each, SvgPath)]
    assert (read.width, read.height) == pytest.approx(sheet_size, abs=0.01)
    assert len(paths) > 2 * len(windows)
    rates = Rates(speed=10, price=2)
    cost = cost_of([estimate_cut(sheet.drawing, sheet.panels)], rates)
    assert cost.price == 2 and cost.cut_seconds is not None and cost.cut_seconds > 1
    write_cut_list([sheet], tmp_path / "list.pdf", rates)
    assert (tmp_path / "list.pdf").read_bytes().startswith(b"%PDF")
    assert [row["turned"] for row in sheet.rows()] == ["yes", "yes"]
