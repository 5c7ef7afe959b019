"""Strokes as areas: width, caps, joins, mitre limit, dashes (SVG 2, section 13.5)."""

from __future__ import annotations

import math

import pytest
import shapely

from support.artwork_drawings import artwork, box, only

LINE = '<path fill="none" stroke="black" stroke-width="4" d="{}" {}/>'


def area(data: str, attributes: str = "") -> float:
    return only(LINE.format(data, attributes)).area.area


@pytest.mark.parametrize(
    ("cap", "expected"), [("butt", 80), ("square", 96), ("round", 80 + math.pi * 4)]
)
def test_caps(cap: str, expected: float) -> None:
    assert area("M20 20H40", f'stroke-linecap="{cap}"') == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(
    ("join", "expected"),
    # Two arms of 20 that share a corner of 4 mm²; a right angle adds a square, half of it, or a
    # quarter of a circle of radius 2.
    [("miter", 160), ("bevel", 158), ("round", 156 + math.pi)],
)
def test_joins(join: str, expected: float) -> None:
    assert area("M20 40V20H40", f'stroke-linejoin="{join}"') == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(("limit", "is_pointed"), [(1.4, False), (1.42, True)])
def test_the_mitre_limit_of_a_right_angle_is_the_root_of_two(
    limit: float, is_pointed: bool
) -> None:
    """Mitre length over width is 1 / sin(angle / 2) (SVG 2, section 13.5.5)."""
    corner = only(LINE.format("M20 40V20H40", f'stroke-miterlimit="{limit}"'))
    assert shapely.intersects_xy(corner.area, 18.1, 18.1) == is_pointed


def test_a_closed_line_has_no_ends() -> None:
    assert area("M20 20H40V40H20Z") == pytest.approx(4 * 80)
    assert area("M20 20H40V40H20L20 20") == pytest.approx(4 * 80 - 4)


@pytest.mark.parametrize(
    ("dashes", "offset", "painted"),
    [
        ("5", 0, [(0, 5), (10, 15), (20, 25)]),
        ("5 3", 0, [(0, 5), (8, 13), (16, 21), (24, 29)]),
        ("5 3 2", 0, [(0, 5), (8, 10), (15, 18), (20, 25), (28, 30)]),
        ("5", 2, [(0, 3), (8, 13), (18, 23), (28, 30)]),
        ("5", -2, [(2, 7), (12, 17), (22, 27)]),
        ("0", 0, [(0, 30)]),
        ("5 -1", 0, [(0, 30)]),
        ("none", 0, [(0, 30)]),
    ],
)
def test_dashes(dashes: str, offset: float, painted: list[tuple[float, float]]) -> None:
    dashed = f'stroke-dasharray="{dashes}" stroke-dashoffset="{offset}"'
    shape = only(LINE.format("M10 20H40", dashed))
    pieces = sorted(tuple(piece.bounds) for piece in shape.area.geoms)
    assert [(left - 10, right - 10) for left, _, right, _ in pieces] == pytest.approx(painted)


def test_dots_round_a_circle_stand_at_even_angles() -> None:
    dots = only(
        '<circle cx="50" cy="50" r="35" fill="none" stroke="black" stroke-width="3" '
        'stroke-dasharray="0 12" stroke-linecap="round"/>'
    ).area.geoms
    turns = (math.atan2(dot.centroid.y - 50, dot.centroid.x - 50) for dot in dots)
    angles = sorted((turn + 0.1) % math.tau - 0.1 for turn in turns)
    expected = [number * 12 / 35 for number in range(len(dots))]
    assert len(dots) == 1 + int(math.tau * 35 / 12)
    assert angles == pytest.approx(expected, abs=5e-4)
    assert dots[0].area == pytest.approx(math.pi * 2.25, rel=0.01)


def test_dashes_by_a_stated_length() -> None:
    shape = only(LINE.format("M10 20H50", 'pathLength="8" stroke-dasharray="1 3"'))
    assert sorted(piece.bounds[0] for piece in shape.area.geoms) == pytest.approx([10, 30])


def test_dots_of_no_length_are_their_caps() -> None:
    dots = LINE.format("M20 20H50", 'stroke-dasharray="0 10" stroke-linecap="round"')
    shape = only(dots)
    assert len(shape.area.geoms) == 4
    assert shape.area.area == pytest.approx(4 * math.pi * 4, rel=1e-2)
    with_square = only(LINE.format("M20 20z", 'stroke-linecap="square"'))
    assert box(with_square) == (18, 18, 22, 22)


def test_width_is_measured_before_the_transform() -> None:
    shape = only(f'<g transform="scale(3 1)">{LINE.format("M10 10V40", "")}</g>')
    assert box(shape) == (24, 10, 36, 40)


def test_a_stroke_may_keep_its_width_whatever_the_transform() -> None:
    still = 'vector-effect="non-scaling-stroke"'
    shape = only(
        f'<g transform="scale(3 1)">{LINE.format("M10 10V40", still)}</g>'
    )  # widths are px here, 4 px are 25.4 / 24 mm
    left, _, right, _ = box(shape)
    assert right - left == pytest.approx(4 * 25.4 / 96, abs=1e-3)


def test_round_edges_are_within_the_tolerance() -> None:
    ring = only('<circle cx="50" cy="50" r="30" fill="none" stroke="black" stroke-width="20"/>')
    true = shapely.Point(50, 50).buffer(40, 2048) - shapely.Point(50, 50).buffer(20, 2048)
    scale = 250 / 80  # of the largest use
    assert shapely.hausdorff_distance(ring.area, true) * scale < 0.02


def test_the_middle_of_an_unfilled_stroke_is_kept_for_slits() -> None:
    shape = only(LINE.format("M10 20H40V60", ""))
    assert shape.lines.length == pytest.approx(70)
    filled = '<rect x="20" y="20" width="30" height="30" stroke="black" stroke-width="4"/>'
    fill, stroke = artwork(filled).shapes
    assert stroke.name == f"{fill.name} outline"
    assert stroke.lines.is_empty
