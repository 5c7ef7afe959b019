"""Worked examples and rules of the standards: SVG 2 (W3C Candidate Recommendation, 2018) and CSS.

The numbers of the examples are written down from memory of the named section; what follows from
them is worked out here by the section's own formula.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from shapely import Point

from hingeleaf.artwork.reading import read
from support.artwork_drawings import SPACES, artwork, box, only

PX = 25.4 / 96
"""mm; CSS Values 4, section 6.2."""
TRIANGLE = '<path d="M750,100 L250,900 L1250,900 z"/>'


def px(body: str, page: str) -> tuple[float, ...]:
    """The box of the one shape of a drawing, in px."""
    return tuple(round(side / PX, 2) for side in shapely.bounds(only(body, page).area))


# --- viewBox: SVG 2, section 8.6, the example ViewBox --------------------------------------------


@pytest.mark.parametrize(
    ("width", "height", "across", "down"), [(300, 200, 0.2, 0.2), (150, 200, 0.1, 0.2)]
)
def test_the_example_view_box(width: int, height: int, across: float, down: float) -> None:
    page = f'width="{width}px" height="{height}px" viewBox="0 0 1500 1000"'
    stretched = px(TRIANGLE, f'{page} preserveAspectRatio="none"')
    assert stretched == (250 * across, 100 * down, 1250 * across, 900 * down)


# --- preserveAspectRatio: SVG 2, section 8.7, the example PreserveAspectRatio --------------------

PICTURE = '<rect x="0" y="0" width="30" height="40"/>'
"""Stands for the face of the example, which is drawn in a viewBox of 30 by 40."""


@pytest.mark.parametrize(
    ("fitting", "width", "height", "expected"),
    [
        # meet, in a space of 50 by 30: scale 0.75, so 22.5 wide
        ("xMinYMin meet", 50, 30, (0, 0, 22.5, 30)),
        ("xMidYMid meet", 50, 30, (13.75, 0, 36.25, 30)),
        ("xMaxYMax meet", 50, 30, (27.5, 0, 50, 30)),
        # meet, in a space of 30 by 60: scale 1, so 40 high
        ("xMinYMin meet", 30, 60, (0, 0, 30, 40)),
        ("xMidYMid meet", 30, 60, (0, 10, 30, 50)),
        ("xMaxYMax meet", 30, 60, (0, 20, 30, 60)),
        # slice covers the space, and what reaches beyond is trimmed
        ("xMidYMid slice", 50, 30, (0, 0, 50, 30)),
        ("none", 50, 30, (0, 0, 50, 30)),
        ("", 50, 30, (13.75, 0, 36.25, 30)),
    ],
)
def test_the_example_preserve_aspect_ratio(
    fitting: str, width: int, height: int, expected: tuple[float, ...]
) -> None:
    page = f'width="{width}" height="{height}" viewBox="0 0 30 40" preserveAspectRatio="{fitting}"'
    assert px(PICTURE, page) == expected


@pytest.mark.parametrize(
    ("align", "top"), [("xMinYMin", 0.0), ("xMidYMid", 18.333), ("xMaxYMax", 36.667)]
)
def test_which_stretch_a_slice_shows(align: str, top: float) -> None:
    """In 50 by 30 the scale is 5/3: 66.67 high, of which 30 are seen."""
    mark = f'<rect y="{top * 3 / 5}" width="30" height="6"/>'
    page = f'width="50" height="30" viewBox="0 0 30 40" preserveAspectRatio="{align} slice"'
    assert px(mark, page) == pytest.approx((0, 0, 50, 10), abs=0.01)


def test_the_equivalent_transform() -> None:
    """SVG 2, section 8.2: e-x, vb-x and the scales give the translation."""
    page = 'width="200" height="80" viewBox="-50 -20 100 80"'
    assert px('<rect x="-50" y="-20" width="100" height="80"/>', page) == (50, 0, 150, 80)


# --- units: CSS Values 4, section 6.2; SVG 2, section 8.9 ----------------------------------------


@pytest.mark.parametrize(
    ("length", "expected"),
    [
        ("96px", 96),
        ("96", 96),
        ("1in", 96),
        ("2.54cm", 96),
        ("25.4mm", 96),
        ("101.6Q", 96),
        ("72pt", 96),
        ("6pc", 96),
        ("2em", 40),
        ("2ex", 20),
        ("50%", 200),
        ("1e2", 100),
    ],
)
def test_units_of_a_length(length: str, expected: float) -> None:
    body = f'<g font-size="20"><rect width="{length}" height="5"/></g>'
    assert px(body, 'width="400" height="200"')[2] == pytest.approx(expected, abs=0.01)


def test_percentages_by_axis_and_by_diagonal() -> None:
    page = 'width="400" height="300"'
    assert px('<rect x="10%" y="10%" width="10%" height="10%"/>', page) == (40, 30, 80, 60)
    radius = 0.1 * math.hypot(400, 300) / math.sqrt(2)
    left, _, right, _ = px('<circle cx="50%" cy="50%" r="10%"/>', page)
    assert right - left == pytest.approx(2 * radius, abs=0.05)


def test_a_page_in_physical_units_is_that_large() -> None:
    found = artwork(
        '<rect width="4000" height="2000"/>', 'width="4in" height="2in" viewBox="0 0 4000 2000"'
    )
    assert (found.width, found.height) == pytest.approx((101.6, 50.8))
    assert box(found.shapes[0]) == pytest.approx((0, 0, 101.6, 50.8))


# --- arcs: SVG 2, section 9.3.8, the examples arcs01 and arcs02 ----------------------------------

ARCS = 'width="1200mm" height="400mm" viewBox="0 0 1200 400"'


@pytest.mark.parametrize(
    ("data", "share"),
    [
        ("M300,200 h-150 a150,150 0 1,0 150,-150 z", 3 / 4),
        ("M275,175 v-150 a150,150 0 0,0 -150,150 z", 1 / 4),
    ],
)
def test_the_pie_of_the_example(data: str, share: float) -> None:
    pie = only(f'<path d="{data}"/>', ARCS)
    assert pie.area.area == pytest.approx(share * math.pi * 150**2, rel=1e-3)


@pytest.mark.parametrize(
    ("large", "sweep", "centre", "quarters"),
    [(0, 0, (225, 75), 1), (0, 1, (125, 125), 1), (1, 0, (125, 125), 3), (1, 1, (225, 75), 3)],
)
def test_the_four_arcs_of_the_example(
    large: int, sweep: int, centre: tuple[float, float], quarters: int
) -> None:
    """From (125, 75) by (100, 50) on an ellipse of 100 by 50: two centres, two ways round."""
    arc = only(f'<path d="M125,75 a100,50 0 {large},{sweep} 100,50 z"/>', ARCS)
    x, y = (shapely.get_coordinates(arc.area) - centre).T
    assert np.hypot(x / 100, y / 50) == pytest.approx(1, abs=1e-3)
    chord = math.pi * 100 * 50 / 4 - 100 * 50 / 2
    whole = math.pi * 100 * 50
    assert arc.area.area == pytest.approx(chord if quarters == 1 else whole - chord, rel=1e-3)


# --- out of range arcs: SVG 2, section 9.5.1 -----------------------------------------------------


def test_a_radius_of_zero_is_a_straight_line() -> None:
    line = only('<path d="M10 10h60a0 30 0 0 1 0 40h-60z"/>')
    assert line.area.area == pytest.approx(60 * 40)


def test_radii_too_small_grow_until_they_reach() -> None:
    half = only('<path d="M20 60a10 10 0 0 1 60 0z"/>')
    assert half.area.area == pytest.approx(math.pi * 30**2 / 2, rel=1e-3)


def test_negative_radii_count_as_positive() -> None:
    half = only('<path d="M20 60a-30 -30 0 0 1 60 0z"/>')
    assert half.area.area == pytest.approx(math.pi * 30**2 / 2, rel=1e-3)


def test_an_arc_that_ends_where_it_starts_is_left_out() -> None:
    square = only('<path d="M10 10h20a5 5 0 1 1 0 0v20h-20z"/>')
    assert square.area.area == pytest.approx(400)


def test_an_arc_may_be_turned() -> None:
    """A full ellipse in two halves, its long axis at 30 degrees (section 9.3.8)."""
    across, down = 30 * math.cos(math.radians(30)), 30 * math.sin(math.radians(30))
    there = f"a30 10 30 0 1 {2 * across} {2 * down}"
    back = f"a30 10 30 0 1 {-2 * across} {-2 * down}"
    ellipse = only(f'<path d="M{50 - across} {50 - down}{there}{back}z"/>').area
    true = shapely.affinity.rotate(
        shapely.affinity.scale(Point(50, 50).buffer(1, 256), 30, 10), 30, origin=(50, 50)
    )
    assert shapely.hausdorff_distance(ellipse, true) < 0.02


def test_the_root_without_a_size_takes_the_size_of_its_view_box() -> None:
    found = read(f'<svg {SPACES} viewBox="0 0 96 48"><rect width="96" height="48"/></svg>'.encode())
    assert (found.width, found.height) == pytest.approx((25.4, 12.7))
