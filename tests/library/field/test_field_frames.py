"""Borders, their shapes, keep-out areas and free outlines."""

from __future__ import annotations

import math

import pytest
import shapely
from hypothesis import given, settings, strategies as st
from shapely import MultiPolygon, Point, Polygon, box

from hingeleaf.errors import FieldError, UsageError
from hingeleaf.field.letters import Lettering, count_holes
from hingeleaf.field.shapes import Outline, outline_shape
from hingeleaf.field.specs import (
    BorderSpec,
    KeepOutShape,
    KeepOutText,
    OutlineSpec,
    ShapeSpec,
    build_field,
)
from hingeleaf.geometry.symmetry import upright_axis
from support.text_fields import letter_field

SHAPES = list(Outline)


@given(
    shape=st.sampled_from(SHAPES),
    width=st.floats(25, 900),
    height=st.floats(25, 900),
    tolerance=st.floats(0.005, 0.2),
)
@settings(max_examples=80)
def test_a_shape_fits_its_box_exactly(
    shape: Outline, width: float, height: float, tolerance: float
) -> None:
    if shape is Outline.CIRCLE:
        height = width
    if shape is Outline.ARCH:
        height = max(height, width / 2)
    made = outline_shape(shape, width, height, tolerance=tolerance)
    assert made.is_valid and not made.interiors
    assert made.bounds == pytest.approx((0, 0, width, height), abs=1e-6)


AREAS = {
    # Plane geometry: ellipse πab; rounded corners lack (4 - π)r²; a half circle πr²/2.
    Outline.RECTANGLE: 200 * 300,
    Outline.ROUNDED: 200 * 300 - (4 - math.pi) * 10**2,
    Outline.OVAL: math.pi * 100 * 150,
    Outline.ARCH: math.pi * 100**2 / 2 + 200 * 200,
    # A unit square and two half circles of radius ½, stretched to the box.
    Outline.HEART: (1 + math.pi / 4)
    * (200 / (1 + math.sqrt(1 / 2)))
    * (300 / (0.5 + 3 * math.sqrt(1 / 8))),
}


@pytest.mark.parametrize("shape", AREAS)
def test_areas_are_those_of_plane_geometry(shape: Outline) -> None:
    made = outline_shape(shape, 200, 300, tolerance=0.001)
    assert made.area == pytest.approx(AREAS[shape], rel=2e-5)
    assert outline_shape(Outline.CIRCLE, 200, 200, tolerance=0.001).area == pytest.approx(
        math.pi * 100**2, rel=2e-5
    )


@pytest.mark.parametrize("tolerance", [0.5, 0.05])
@pytest.mark.parametrize("shape", SHAPES)
def test_curves_lie_within_the_tolerance(shape: Outline, tolerance: float) -> None:
    coarse = outline_shape(shape, 200, 200, tolerance=tolerance)
    fine = outline_shape(shape, 200, 200, tolerance=1e-3)
    assert shapely.hausdorff_distance(coarse.boundary, fine.boundary, densify=0.002) < tolerance


@pytest.mark.parametrize("shape", SHAPES)
@pytest.mark.parametrize("inner_shape", SHAPES)
def test_a_border_is_symmetric_and_has_one_opening(shape: Outline, inner_shape: Outline) -> None:
    field = BorderSpec((200, 200), (60, 60), shape=shape, inner_shape=inner_shape).build()
    assert field.kind == "border"
    assert len(field.area.geoms) == 1 and count_holes(field.area) == 1
    assert field.area.is_valid
    assert upright_axis(field.area, tolerance=1e-6) == field.axis
    assert field.axis == ((100, 0), (100, 200))


def test_a_rectangular_border() -> None:
    field = BorderSpec((200, 250), (100, 150)).build(True)
    assert field.area.equals(MultiPolygon([box(0, 0, 200, 250).difference(box(50, 50, 150, 200))]))
    assert field.outline.equals(field.area)
    assert BorderSpec((200, 250), (100, 150)).build().outline.is_empty


def test_an_opening_may_sit_above_the_middle() -> None:
    field = BorderSpec((200, 250), (100, 150), raised=8).build()
    assert field.area.geoms[0].interiors[0].bounds == (50, 42, 150, 192)
    with pytest.raises(FieldError):
        BorderSpec((200, 250), (100, 150), raised=50).build()


@pytest.mark.parametrize("inner", [(200, 100), (250, 300), (199.9, 250)])
def test_an_opening_that_does_not_fit_is_refused(inner: tuple[float, float]) -> None:
    with pytest.raises(FieldError, match="does not fit inside 200 mm by 250 mm"):
        BorderSpec((200, 250), inner).build()


def test_an_opening_that_fits_the_box_but_not_the_shape_is_refused() -> None:
    with pytest.raises(FieldError, match="does not fit inside"):
        BorderSpec((200, 200), (150, 150), Outline.CIRCLE, Outline.RECTANGLE).build()


@pytest.mark.parametrize("size", [(0, 10), (-1, 10), (10, math.nan), (10, math.inf), (1e7, 1e7)])
def test_absurd_sizes_are_refused(size: tuple[float, float]) -> None:
    with pytest.raises(UsageError):
        BorderSpec(size, (1, 1)).build()


def test_shapes_that_cannot_be_are_refused() -> None:
    with pytest.raises(UsageError, match="A circle is as wide as high"):
        outline_shape(Outline.CIRCLE, 100, 120)
    with pytest.raises(UsageError, match="must be at least 50 mm high"):
        outline_shape(Outline.ARCH, 100, 40)
    with pytest.raises(UsageError, match="Corners of 30 mm do not fit"):
        outline_shape(Outline.ROUNDED, 100, 40, corner=30)


STAR = Polygon(
    [
        (50 + r * math.sin(k * math.pi / 5), 80 - r * math.cos(k * math.pi / 5))
        for k, r in enumerate([50, 20] * 5)
    ]
)


def test_an_outline_keeps_its_size_and_holes_and_moves_to_the_origin() -> None:
    shape = MultiPolygon([STAR.difference(Point(50, 80).buffer(8)), box(200, 200, 220, 230)])
    field = OutlineSpec(shape, label="star").build(True)
    assert field.area.bounds[:2] == pytest.approx((0, 0))
    assert field.area.area == pytest.approx(shape.area)
    assert count_holes(field.area) == 1 and field.outline.equals(field.area)
    assert (field.kind, field.label) == ("outline", "star")


def test_an_outline_is_set_to_a_size_without_stretching() -> None:
    plain = OutlineSpec(MultiPolygon([STAR])).build().area.bounds
    ratio = plain[2] / plain[3]
    by_height = OutlineSpec(MultiPolygon([STAR]), height=300).build().area.bounds
    assert by_height[3] == pytest.approx(300) and by_height[2] == pytest.approx(300 * ratio)
    fitted = OutlineSpec(MultiPolygon([STAR]), height=300, width=100).build().area.bounds
    assert fitted[2] == pytest.approx(100) and fitted[3] == pytest.approx(100 / ratio)


def test_a_margin_keeps_from_every_edge_and_leaves_the_outline() -> None:
    ring = MultiPolygon([box(0, 0, 100, 100).difference(box(40, 40, 60, 60))])
    field = OutlineSpec(ring, margin=5).build(True)
    assert field.area.distance(ring.boundary) == pytest.approx(5, rel=0.01)
    assert field.area.bounds == pytest.approx((5, 5, 95, 95))
    assert field.outline.equals(ring)
    with pytest.raises(FieldError, match="leaves nothing to fill"):
        OutlineSpec(ring, margin=25).build()


def test_an_outline_that_crosses_itself_is_mended() -> None:
    bow_tie = MultiPolygon([Polygon([(0, 0), (100, 100), (100, 0), (0, 100)])])
    field = OutlineSpec(bow_tie).build()
    assert field.area.is_valid and field.area.area == pytest.approx(5000)


def test_no_outline_is_refused() -> None:
    with pytest.raises(FieldError, match="encloses no area"):
        OutlineSpec(MultiPolygon()).build()
    with pytest.raises(UsageError):
        OutlineSpec(MultiPolygon([box(0, 0, 1e6, 5)])).build()


def test_what_is_kept_out_is_kept_out_with_its_margin() -> None:
    field = OutlineSpec(MultiPolygon([box(0, 0, 200, 100)])).build(True)
    plate = MultiPolygon([box(0, 0, 40, 20)])
    left = KeepOutShape(plate, 20, margin=4).take_from(field)
    assert left.area.distance(box(80, 40, 120, 60)) == pytest.approx(4, rel=0.01)
    assert left.outline.equals(field.outline)
    assert left.axis == field.axis
    one_sided = KeepOutShape(plate, 20, 0, (30, 50)).take_from(field)
    assert one_sided.axis is None
    with pytest.raises(FieldError, match="leaves nothing to fill"):
        KeepOutShape(plate, 310).take_from(field)


def test_a_name_in_the_middle_of_a_panel() -> None:
    field = OutlineSpec(MultiPolygon([box(0, 0, 250, 150)])).build()
    style = Lettering(40)
    around = KeepOutText("Oak", style).take_from(field)
    name = KeepOutText("Oak", style).shape_in(field)
    left, top, right, bottom = name.bounds
    assert ((left + right) / 2, (top + bottom) / 2) == pytest.approx((125, 75))
    assert around.area.distance(name) == pytest.approx(3, rel=0.01)
    assert around.area.area < 250 * 150 - name.area
    counters = KeepOutText("Oak", style, margin=1, counters=True).take_from(field)
    assert len(counters.area.geoms) > len(around.area.geoms) == 1
    moved = KeepOutText("Oak", style, middle=(60, 40)).shape_in(field)
    assert moved.bounds[0] < left


def test_a_shape_kept_free_is_set_to_its_height_in_the_middle_or_elsewhere() -> None:
    panel = ShapeSpec(Outline.RECTANGLE, (200, 100))
    star = MultiPolygon([STAR])
    for middle, expected in ((None, (100, 50)), ((40, 30), (40, 30))):
        field = build_field(panel, (KeepOutShape(star, 30, margin=0, middle=middle),))
        taken = box(0, 0, 200, 100).difference(field.area)
        left, top, right, bottom = taken.bounds
        assert bottom - top == pytest.approx(30)
        assert ((left + right) / 2, (top + bottom) / 2) == pytest.approx(expected)
        assert taken.area == pytest.approx(
            STAR.area * (30 / (STAR.bounds[3] - STAR.bounds[1])) ** 2
        )


def test_a_name_kept_out_of_a_letter() -> None:
    letter = letter_field("O", 300)
    without = KeepOutText("Wren", Lettering(20), 2, (150, 20)).take_from(letter)
    assert 0 < without.area.area < letter.area.area
