"""Shapes to characters: against GEOS point by point, and by the letters of small pictures."""

from __future__ import annotations

import unicodedata

import numpy as np
import pytest
import shapely
from hypothesis import given, strategies as st
from shapely import MultiPolygon

from hingeleaf.fill.evenness import distance_map
from hingeleaf.model import Cuts, Field, Motif, Placement, Pose
from hingeleaf.paper.mechanics.strength import PlaceKind, WeakPlace
from hingeleaf_tui.drawing import raster
from hingeleaf_tui.drawing.canvas import STYLES, Canvas
from hingeleaf_tui.drawing.ink import Ink, signs
from hingeleaf_tui.drawing.motif import draw_motif, draw_thumbnail
from hingeleaf_tui.drawing.panel import PanelPainter
from hingeleaf_tui.drawing.ruler import size_bar
from hingeleaf_tui.drawing.tints import GapTint, PullTint
from hingeleaf_tui.drawing.view import View, bounds_of
from support.panel_samples import starter_motifs

ROUND = shapely.Point(0, 0).buffer(10)
RING = ROUND.difference(shapely.Point(2, 1).buffer(5))


@given(
    x=st.floats(-8, 8),
    y=st.floats(-8, 8),
    dot=st.floats(0.11, 1.3),
    turn=st.floats(0, 360),
)
def test_fill_takes_exactly_the_dots_whose_centres_geos_finds_inside(
    x: float, y: float, dot: float, turn: float
) -> None:
    shape = shapely.affinity.rotate(shapely.union(RING, shapely.box(12, -3, 14.3, 9)), turn)
    view = View((x, y), dot, 37, 23)
    columns, rows = np.meshgrid(np.arange(37) + 0.5, np.arange(23) + 0.5)
    across = (columns - 37 / 2) * dot + x
    down = (rows - 23 / 2) * dot + y
    edge = shapely.distance(shapely.boundary(shape), shapely.points(across, down)) < 1e-9
    expected = shapely.contains_xy(shape, across, down)
    assert (raster.fill(shape, view) == expected)[~edge].all()


@given(x=st.floats(-30, 30), y=st.floats(-30, 30), dot=st.floats(0.05, 2))
def test_every_dot_of_a_line_touches_the_line(x: float, y: float, dot: float) -> None:
    view = View((x, y), dot, 40, 30)
    rows, columns = np.nonzero(raster.trace(RING, view))
    left, top, _, _ = view.bounds
    centres = shapely.points(left + (columns + 0.5) * dot, top + (rows + 0.5) * dot)
    assert (shapely.distance(RING.boundary, centres) <= dot * 0.7072).all()


def test_a_line_has_no_gaps_even_where_most_of_it_is_out_of_sight() -> None:
    view = View((0, 0), 0.1, 40, 40)
    dots = raster.trace(shapely.LineString([(-5000, -0.05), (9000, -0.05)]), view)
    assert dots[19].all()
    assert dots.sum() == 40


def test_a_dashed_line_shows_half_of_its_dots() -> None:
    view = View((0, 0), 1, 60, 3)
    whole = shapely.LineString([(-30, 0), (30, 0)])
    assert raster.trace(whole, view, dash=3).sum() == pytest.approx(30, abs=3)


def test_nothing_drawn_is_blank() -> None:
    assert draw_thumbnail(Cuts(), 6, 2).text().strip() == ""
    assert draw_thumbnail(Cuts(), 6, 2).text().count("\n") == 1


def test_collections_are_drawn_through_to_their_parts() -> None:
    nested = shapely.GeometryCollection(
        [shapely.GeometryCollection([ROUND, shapely.Point(3, 3)]), shapely.LineString()]
    )
    view = View((0, 0), 1, 30, 30)
    assert (raster.fill(nested, view) == raster.fill(ROUND, view)).all()


def test_braille_follows_unicodes_numbering_of_dots() -> None:
    """Unicode 16, block U+2800: dots 1-2-3-7 run down the left side, 4-5-6-8 down the right."""
    dots = np.zeros((4, 2), dtype=np.uint8)
    shown = {}
    for number, (row, column) in enumerate(
        [(0, 0), (1, 0), (2, 0), (0, 1), (1, 1), (2, 1), (3, 0), (3, 1)]
    ):
        one = dots.copy()
        one[row, column] = 1
        shown[number] = signs(one, Ink.BRAILLE, np.ones(2))[0][0, 0]
    assert shown == {number: chr(0x2800 + (1 << number)) for number in range(8)}


def test_a_shared_character_takes_the_more_telling_style() -> None:
    canvas = Canvas(2, 1, View((2, 2), 1, 4, 4))
    canvas.area(shapely.box(0, 0, 4, 4), "window")
    canvas.line(shapely.LineString([(3.5, 0), (3.5, 4)]), "hinge")
    assert canvas.picture().runs(0) == [("⣿", "window", ""), ("⣿", "hinge", "")]


def test_half_blocks_keep_two_styles_in_one_character() -> None:
    canvas = Canvas(3, 1, View((1.5, 1), 1, 3, 2), Ink.BLOCKS)
    canvas.area(shapely.box(0, 0, 2, 1), "window")
    canvas.area(shapely.box(1, 1, 3, 2), "loose")
    assert canvas.picture().runs(0) == [
        ("▀", "window", ""),
        ("▀", "window", "loose"),
        ("▄", "loose", ""),
    ]


def test_ascii_shows_only_ascii_and_the_form_of_a_square() -> None:
    square = Cuts(windows=shapely.MultiPolygon([shapely.box(0, 0, 8, 8)]))
    drawn = draw_thumbnail(square, 8, 4, Ink.ASCII).text()
    assert drawn.isascii()
    assert drawn.splitlines() == ["########"] * 4


def test_labels_lie_on_top_and_are_cut_at_the_edge() -> None:
    canvas = Canvas.fit((0, 0, 10, 10), 10, 5)
    canvas.area(shapely.box(0, 0, 10, 10), "window")
    canvas.label((5, 5), "B2")
    canvas.write(9, 0, "long")
    lines = canvas.picture().text().splitlines()
    assert "B2" in lines[2]
    assert lines[0].endswith("l")
    assert len(lines[0]) == 10


def test_blanks_take_the_style_before_them_but_never_that_of_a_label() -> None:
    canvas = Canvas(12, 1, View((12, 2), 1, 24, 4))
    canvas.area(shapely.box(0, 0, 4, 4), "window")
    canvas.write(5, 0, " 1 ", "chosen")
    canvas.area(shapely.box(20, 0, 24, 4), "window")
    assert canvas.picture().runs(0) == [
        ("⣿⣿   ", "window", ""),
        (" 1 ", "chosen", ""),
        ("  ", "", ""),
        ("⣿⣿", "window", ""),
    ]


@given(columns=st.integers(1, 60), rows=st.integers(1, 30))
def test_a_fitted_view_shows_everything(columns: int, rows: int) -> None:
    view = View.fit(bounds_of([RING]), columns * 2, rows * 4)
    left, top, right, bottom = view.bounds
    assert left <= -10
    assert top <= -10
    assert right >= 10
    assert bottom >= 10


def test_zoom_and_shift_keep_what_they_should() -> None:
    view = View((5, 5), 0.5, 20, 10)
    assert view.zoomed(2).bounds == (2.5, 3.75, 7.5, 6.25)
    assert view.shifted(0.5, 0).centre == (10, 5)


def test_style_numbers_fit_the_dots() -> None:
    assert len(set(STYLES)) == len(STYLES) < 256


def test_a_bar_of_sizes_tells_computed_from_proven_without_colour() -> None:
    bar = size_bar(12, smallest=20, proven=[(30, 40)], top=60, ink=Ink.BRAILLE)
    assert bar == "....──━━────"
    assert size_bar(12, smallest=None, proven=[(30, 40)], top=60, ink=Ink.ASCII) == "......==...."


@pytest.mark.parametrize("motif", starter_motifs(), ids=lambda motif: motif.name)
def test_no_motif_of_a_panel_is_lost_where_dots_are_coarse(motif: Motif) -> None:
    side, across, down = 60.0, 20, 10
    area = MultiPolygon([shapely.box(0, 0, side, side)])
    painter = PanelPainter(Field("outline", "a square", area, area), {motif.name: motif})
    placement = Placement(motif.name, 1, Pose(side / 2, side / 2, 20.0, 30.0))
    empty, drawn = (painter.paint(shown, across, down) for shown in ((), (placement,)))
    cell = side / down * side / down / 2
    signs = int((drawn.signs != empty.signs).sum())
    cut = placement.pose.place(motif.windows, motif.size).area
    assert signs * cell > 0.75 * cut


def quadrants(dots: list[list[int]]) -> tuple[str, int, int]:
    shown, front, back = signs(np.array(dots, np.uint8), Ink.QUADRANTS, np.ones(4))
    return str(shown[0, 0]), int(front[0, 0]), int(back[0, 0])


@pytest.mark.parametrize("code", range(1, 15))
def test_quadrants_show_which_quarters_are_covered(code: int) -> None:
    """Unicode 16, block Elements: the names tell the quarters, as QUADRANT UPPER LEFT."""
    quarters = [code >> place & 1 for place in range(4)]
    dots = [[quarters[2 * (row // 2)], quarters[2 * (row // 2) + 1]] for row in range(4)]
    sign, front, back = quadrants(dots)
    assert (front, back) == (1, 0)
    name = unicodedata.name(sign)
    expected = {
        "UPPER HALF BLOCK": 3,
        "LEFT HALF BLOCK": 5,
        "RIGHT HALF BLOCK": 10,
        "LOWER HALF BLOCK": 12,
    }.get(name)
    if expected is None:
        words = name.removeprefix("QUADRANT ").split(" AND ")
        order = ("UPPER LEFT", "UPPER RIGHT", "LOWER LEFT", "LOWER RIGHT")
        expected = sum(1 << order.index(word) for word in words)
    assert expected == code


def test_a_character_of_quadrants_takes_its_two_heaviest_styles() -> None:
    assert quadrants([[2, 2]] * 4) == (" ", 0, 2)
    assert quadrants([[1, 2], [1, 2], [1, 3], [1, 2]]) == ("▐", 2, 1)
    heavy = signs(np.array([[1, 1], [1, 1], [1, 3], [1, 1]], np.uint8), Ink.QUADRANTS, WEIGHTS)
    assert heavy[0][0, 0] == "▗"


WEIGHTS = np.array([1.0, 1.0, 1.0, 3.0])


def test_gaps_are_tinted_by_their_distance_on_the_field_alone() -> None:
    """A square hole in a square: the distance is the least of the coordinates' (from GEOS)."""
    area, hole = shapely.box(0, 0, 40, 40), shapely.box(12, 12, 28, 28)
    known = distance_map(area, [hole], points=6400)
    canvas = Canvas(30, 15, View((20, 20), 1, 60, 60))
    GapTint(known, gap=4).paint(canvas)
    column, row = np.meshgrid(np.arange(60) + 0.5 - 10, np.arange(56) + 0.5 - 10)
    free = area.difference(hole)
    distance = shapely.distance(free.boundary, shapely.points(column, row))
    inside = shapely.contains_xy(free, column, row)
    for number, (low, high) in enumerate(((8, 99), (6, 8), (4, 6), (2, 4), (0, 2)), 1):
        styled = canvas._dots[:56] == STYLES.index(f"scale-{number}")
        assert not styled[~inside].any()
        clear = inside & (distance > low + 0.6) & (distance < high - 0.6)
        assert styled[clear].all()


@pytest.mark.parametrize("hatched", [False, True])
def test_pull_is_tinted_on_paper_and_the_three_weakest_are_numbered(hatched: bool) -> None:
    pulls = [0.5, 3.0, 12.0, 12.0]
    places = [
        WeakPlace(PlaceKind.WEB, pull, (10.0 * number, 0.0), ((0, 0), (1, 0)), 0.0)
        for number, pull in enumerate(pulls)
    ]
    canvas = Canvas(60, 10, View((15, 0), 0.5, 120, 40))
    canvas.area(shapely.box(-20, -20, 50, 20), "window")
    PullTint(places, hatched).paint(canvas)
    shown = canvas.picture().text()
    assert all(f" {number} " in shown for number in (1, 2, 3))
    assert "4" not in shown
    counts = [int((canvas._dots[:36] == STYLES.index(f"scale-{step}")).sum()) for step in (1, 3, 5)]
    assert all(counts)
    if hatched:
        assert counts[0] > 2 * counts[1] > 2 * counts[2] / 2  # the weaker the denser
    else:
        assert counts[0] == counts[1] == counts[2] / 2


def test_a_motif_on_a_surface_shows_openings_behind_and_flaps_lighter() -> None:
    cuts = Cuts(shapely.MultiPolygon([RING]))
    picture = draw_motif(cuts, (), 20, 10, Ink.QUADRANTS, flaps=[shapely.Point(2, 1).buffer(5)])
    used = {STYLES[number] for number in np.unique([picture.front, picture.back]).tolist()}
    assert used == {"", "paper", "behind", "flap-face"}
    assert picture.size == (20, 10)
