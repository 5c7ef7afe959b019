"""Narrow webs of whole sheets: against widths known by construction, and the full computation."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import LineString, MultiLineString, MultiPolygon, Point

from hingeleaf.model import Cuts
from hingeleaf.panel.min_widths import narrow_webs, thin_webs
from hingeleaf.paper.necks import Neck, find_necks
from support.call_counts import Calls
from support.panel_samples import CARD, one_panel, ring_motif

SHEET = shapely.box(-60, -60, 60, 60)


def windows(*areas: shapely.Geometry) -> Cuts:
    return Cuts(windows=MultiPolygon(list(areas)))


def slits(*lines: LineString) -> Cuts:
    return Cuts(slits=MultiLineString(list(lines)))


def c_shape(gap: float) -> shapely.Polygon:
    """A ring open on the right by `gap` mm of paper."""
    ring = Point(0, 0).buffer(20, quad_segs=64) - Point(0, 0).buffer(14, quad_segs=64)
    shape = ring - shapely.box(0, -gap / 2, 30, gap / 2)
    assert isinstance(shape, shapely.Polygon)
    return shape


def horseshoe(mouth: float) -> LineString:
    """A slit along a circle of radius 15, its ends `mouth` apart."""
    half = math.asin(mouth / 2 / 15)
    angle = np.linspace(half, 2 * math.pi - half, 400)
    return LineString(15 * np.column_stack([np.cos(angle), np.sin(angle)]))


@pytest.mark.parametrize("gap", [0.3, 0.8, 1.2])
def test_a_window_that_nears_itself(gap: float) -> None:
    (web,) = narrow_webs(windows(c_shape(gap)), SHEET, 1.5)
    assert web.width == pytest.approx(gap, abs=1e-3)
    assert 13 < web.at[0] < 21 and abs(web.at[1]) < 0.1


@pytest.mark.parametrize("mouth", [0.4, 1.0])
def test_a_slit_that_nears_itself(mouth: float) -> None:
    (web,) = narrow_webs(slits(horseshoe(mouth)), SHEET, 1.5)
    assert web.width == pytest.approx(mouth, abs=1e-3)


def test_slits_that_touch_are_one_cut_and_may_near_itself() -> None:
    """Two halves of a horseshoe, joined at a point: the mouth is between two touching cuts."""
    points = shapely.get_coordinates(horseshoe(0.7))
    halves = LineString(points[:200]), LineString(points[199:])
    assert narrow_webs(slits(*halves), SHEET, 1.5)[0].width == pytest.approx(0.7, abs=1e-3)


@pytest.mark.parametrize("width", [0.25, 0.99, 1.49])
def test_neighbours(width: float) -> None:
    pair = windows(shapely.box(-20, -5, 0, 5), shapely.box(width, -5, 20, 5))
    (web,) = narrow_webs(pair, SHEET, 1.5)
    assert web.width == pytest.approx(width, abs=1e-9)


def comb(*teeth: tuple[float, float]) -> shapely.Polygon:
    """A bar 10 mm above the x axis with teeth: where each stands, and how far above the axis."""
    bar = shapely.box(-40, 10, 40, 14)
    tips = [shapely.box(x - 1, above, x + 1, 11) for x, above in teeth]
    shape = shapely.union_all([bar, *tips])
    assert isinstance(shape, shapely.Polygon)
    return shape


def test_two_cuts_that_near_each_other_twice_have_two_webs() -> None:
    bar = shapely.box(-40, -6, 40, 0)
    webs = narrow_webs(windows(comb((-30, 0.7), (20, 1.1)), bar), SHEET, 1.5)
    assert [round(web.width, 6) for web in webs] == [0.7, 1.1]
    assert [web.at[0] for web in webs] == pytest.approx([-30, 20], abs=1.01)
    turned = narrow_webs(windows(bar, comb((-30, 0.7), (20, 1.1))), SHEET, 1.5)
    assert [web.width for web in turned] == pytest.approx([0.7, 1.1])


def test_narrow_places_side_by_side_are_one_web() -> None:
    """Teeth 2 mm wide with 0.4 mm between them: the paper beneath is thin there once."""
    pair = windows(comb((0, 0.9), (2.4, 0.7)), shapely.box(-40, -6, 40, 0))
    (web,) = narrow_webs(pair, SHEET, 1.5)
    assert web.width == pytest.approx(0.7)


def test_a_web_thin_along_its_whole_length_is_one() -> None:
    (web,) = narrow_webs(windows(comb(), shapely.box(-40, -6, 40, 9.2)), SHEET, 1.5)
    assert web.width == pytest.approx(0.8)


def test_a_slit_along_a_window_may_be_near_twice() -> None:
    """A slit on the window's other side, so that either kind comes first once."""
    line = LineString([(-40, 0), (40, 0)])
    cuts = Cuts(MultiPolygon([comb((-30, 1.2), (20, 0.6))]), MultiLineString([line]))
    assert [round(web.width, 6) for web in narrow_webs(cuts, SHEET, 1.5)] == [0.6, 1.2]


def test_the_sheet_s_edge_is_a_cut_too() -> None:
    (web,) = narrow_webs(windows(shapely.box(-59.1, 0, -40, 10)), SHEET, 1.5)
    assert web.width == pytest.approx(0.9)


def test_where_nothing_is_narrow_the_narrowest_is_told() -> None:
    pair = windows(shapely.box(-20, -5, 0, 5), shapely.box(7.3, -5, 20, 5))
    (web,) = narrow_webs(pair, SHEET, 1.5)
    assert web.width == pytest.approx(7.3)


def test_two_cuts_with_a_window_between_them_are_no_neighbours() -> None:
    three = windows(
        shapely.box(-5, -5, -0.2, 5), shapely.box(-0.1, -9, 0.1, 9), shapely.box(0.2, -5, 5, 5)
    )
    webs = narrow_webs(three, SHEET, 1.5)
    assert [round(web.width, 6) for web in webs] == [0.1, 0.1]


def test_nothing_cut_has_no_web_and_a_cut_over_the_edge_none_to_it() -> None:
    assert narrow_webs(Cuts(), SHEET, 1.5) == ()
    assert narrow_webs(windows(shapely.box(-70, -70, 70, 70)), SHEET, 1.5) == ()


@pytest.mark.parametrize("seed", range(6))
def test_the_narrowest_web_is_that_of_the_full_computation(seed: int) -> None:
    """`find_necks` triangulates the whole sheet; the two share nothing for neighbouring cuts."""
    turns = np.random.default_rng(seed).uniform(0, 360, 2)
    motif = ring_motif(seed, bridges=(float(turns[0]), float(turns[0] + 60 + turns[1] / 3)))
    panel = one_panel(motif, size=30 + seed)
    (full, *_) = find_necks(panel.cuts, panel.sheet)
    assert narrow_webs(panel.cuts, panel.sheet, CARD.least_web)[0].width == pytest.approx(
        full.width, abs=2e-3
    )


def test_what_falls_short_by_little_does_not_read_as_if_it_were_enough() -> None:
    width = CARD.least_web - 0.004
    (finding,) = thin_webs([Neck((0, 0), (width, 0), width, in_loop=True)], CARD)
    shown = f"{CARD.least_web - 0.01:g} mm"
    assert f"only {shown} wide" in finding.message


@pytest.mark.parametrize(("hanging", "told"), [(0.9, False), (1.0, True), (1.9, True)])
def test_what_hangs_on_a_web_is_told_from_a_square_millimetre_on(
    hanging: float, told: bool
) -> None:
    (finding,) = thin_webs([Neck((0, 0), (0.5, 0), 0.5, False, hanging)], CARD)
    assert (f"it carries {hanging:.0f} mm²" in finding.message) == told


def test_a_limit_next_to_nothing_takes_little_longer() -> None:
    """A recipe whose card had a least web of 1e-300 mm took ten seconds for its letters."""
    cuts = windows(c_shape(0.8))
    with Calls() as usual:
        (web,) = narrow_webs(cuts, SHEET, 0.1)
    with Calls() as tiny:
        assert narrow_webs(cuts, SHEET, 1e-300)[0].width == pytest.approx(web.width, abs=1e-3)
    assert tiny.count < 8 * usual.count
