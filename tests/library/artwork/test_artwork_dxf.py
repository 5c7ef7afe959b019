"""DXF: what is closed is an area, units come from the header, y is turned down."""

from __future__ import annotations

import io
import math
from collections.abc import Callable
from typing import Any

import ezdxf
import pytest
import shapely

from hingeleaf.artwork.preparation_options import Border, Preparation
from hingeleaf.artwork.preparing import prepare
from hingeleaf.artwork.reading import read
from hingeleaf.errors import HostileArtworkError, NothingToCutError, UnreadableArtworkError
from hingeleaf.model import Artwork


def dxf(draw: Callable[[Any], object], unit: int = 4) -> bytes:
    """A DXF file with what `draw` puts into its model space; unit 4 is mm."""
    document = ezdxf.new("R2010", units=unit)
    draw(document.modelspace())
    text = io.StringIO()
    document.write(text)
    return text.getvalue().encode()


def drawn(draw: Callable[[Any], object], unit: int = 4) -> Artwork:
    return read(dxf(draw, unit), name="plan.dxf")


def area(artwork: Artwork) -> float:
    return sum(shape.area.area for shape in artwork.shapes)


@pytest.mark.parametrize(
    ("draw", "expected"),
    [
        (lambda m: m.add_circle((50, 40), 10), math.pi * 100),
        (lambda m: m.add_lwpolyline([(0, 0), (30, 0), (30, 20), (0, 20)], close=True), 600),
        # A bulge of 1 is half a circle (DXF reference, LWPOLYLINE group 42).
        (
            lambda m: m.add_lwpolyline([(0, 0, 1), (20, 0, 1)], format="xyb", close=True),
            math.pi * 100,
        ),
        (lambda m: m.add_polyline2d([(0, 0), (10, 0), (0, 10)], close=True), 50),
        (lambda m: m.add_ellipse((0, 0), major_axis=(20, 0), ratio=0.5), math.pi * 200),
        (lambda m: m.add_solid([(0, 0), (10, 0), (0, 10), (10, 10)]), 100),
        # Two legs 2 mm wide with a mitred corner (groups 40 and 41): 31 x 2 and 19 x 2.
        (
            lambda m: m.add_lwpolyline(
                [(0, 0, 2, 2), (30, 0, 2, 2), (30, 20, 2, 2)], format="xyse"
            ),
            100,
        ),
        # A ring: two half circles of 10 mm radius, 2 mm wide.
        (
            lambda m: m.add_lwpolyline(
                [(0, 0, 2, 2, 1), (20, 0, 2, 2, 1)], format="xyseb", close=True
            ),
            math.pi * (11**2 - 9**2),
        ),
    ],
)
def test_closed_outlines_are_areas(draw: Callable[[Any], object], expected: float) -> None:
    assert area(drawn(draw)) == pytest.approx(expected, rel=1e-3)


@pytest.mark.parametrize(("unit", "mm"), [(1, 25.4), (4, 1.0), (5, 10.0), (6, 1000.0)])
def test_units_of_the_header(unit: int, mm: float) -> None:
    """$INSUNITS: 1 inches, 4 mm, 5 cm, 6 m (DXF reference)."""
    artwork = drawn(lambda m: m.add_circle((0, 0), 0.5), unit)
    assert artwork.width == pytest.approx(mm, rel=1e-3)


@pytest.mark.parametrize("unit", [0, 99])
def test_no_unit_is_taken_as_mm_and_told(unit: int) -> None:
    def draw(model: Any) -> None:
        model.doc.header["$INSUNITS"] = unit
        model.add_circle((0, 0), 5)

    artwork = drawn(draw)
    assert artwork.width == pytest.approx(10, rel=1e-3)
    assert "unit" in {finding.kind for finding in artwork.findings}


def test_up_in_the_file_is_up_in_the_artwork() -> None:
    def draw(model: Any) -> None:
        model.add_lwpolyline([(0, 0), (40, 0), (20, 30)], close=True)

    (shape,) = drawn(draw).shapes
    tip = min(shapely.get_coordinates(shape.area).tolist(), key=lambda point: point[1])
    assert tip == pytest.approx([20, 0])


def test_lines_and_arcs_that_meet_are_one_outline() -> None:
    def draw(model: Any) -> None:
        model.add_line((0, 0), (20, 0))
        model.add_arc((20, 10), 10, -90, 90)
        model.add_line((20.0005, 20), (0, 20.0004))
        model.add_spline(fit_points=[(0, 20), (-4, 10), (0, 0)])

    artwork = drawn(draw)
    (shape,) = artwork.shapes
    assert shape.lines.is_empty
    assert shape.area.area > 400 + math.pi * 50


def test_outlines_within_outlines_are_holes_layer_by_layer() -> None:
    def draw(model: Any) -> None:
        for radius in (20, 10):
            model.add_circle((0, 0), radius, dxfattribs={"layer": "leaf", "color": 1})
        model.add_circle((0, 0), 5, dxfattribs={"layer": "vein", "true_color": 0x00AA11})

    leaf, vein = drawn(draw).shapes
    assert (leaf.name, leaf.layer, leaf.colour) == ("leaf", "leaf", "#ff0000")
    assert leaf.area.area == pytest.approx(math.pi * 300, rel=1e-3)
    assert (vein.layer, vein.colour) == ("vein", "#00aa11")


def test_what_is_drawn_twice_counts_once() -> None:
    def draw(model: Any) -> None:
        square = [(0, 0), (10, 0), (10, 10), (0, 10)]
        model.add_lwpolyline(square, close=True)
        model.add_lwpolyline([*square[2:], *square[:2]], close=True)
        model.add_hatch(color=7).paths.add_polyline_path(square)

    artwork = drawn(draw)
    assert prepare(artwork, Preparation()).windows.area == pytest.approx(100)


def test_blocks_are_taken_apart_where_they_are_inserted() -> None:
    def draw(model: Any) -> None:
        block = model.doc.blocks.new("berry")
        block.add_circle((0, 0), 2)
        model.add_blockref("berry", (10, 10))
        model.add_blockref("berry", (30, 10), dxfattribs={"xscale": 2, "yscale": 2})

    assert area(drawn(draw)) == pytest.approx(math.pi * 20, rel=1e-3)


def test_hidden_layers_and_what_cannot_be_cut_are_told() -> None:
    def draw(model: Any) -> None:
        model.doc.layers.add("notes").off()
        model.add_circle((0, 0), 5)
        model.add_circle((0, 0), 50, dxfattribs={"layer": "notes"})
        model.add_text("hedge")

    artwork = drawn(draw)
    said = " ".join(finding.message for finding in artwork.findings)
    assert artwork.width == pytest.approx(10, rel=1e-3)
    assert "CIRCLE on layer notes" in said
    assert "TEXT on layer 0" in said


def test_open_lines_can_only_be_slits() -> None:
    artwork = drawn(lambda m: m.add_line((0, 0), (30, 0)))
    assert [finding.kind for finding in artwork.findings] == ["open"]
    for border in (Border.LINE, Border.WINDOW):
        prepared = prepare(artwork, Preparation(border=border))
        assert prepared.slits.length == pytest.approx(30)


def test_curves_are_fine_enough_for_the_largest_use() -> None:
    data = dxf(lambda m: m.add_circle((0, 0), 1))
    (shape,) = read(data, tolerance=0.02, largest_use=250).shapes
    true = shapely.Point(1, 1).buffer(1, quad_segs=4096)
    assert shapely.hausdorff_distance(shape.area, true) * 125 <= 0.02


def loop(model: Any) -> None:
    blocks = model.doc.blocks
    first, second = blocks.new("first"), blocks.new("second")
    first.add_blockref("second", (1, 1))
    second.add_blockref("first", (1, 1))
    model.add_blockref("first", (0, 0))


NO_AREA = (UnreadableArtworkError, HostileArtworkError, NothingToCutError)
DAMAGED = {
    "cut short": dxf(lambda m: m.add_circle((0, 0), 5))[:9000],
    "no number": b"0\nSECTION\n2\nENTITIES\n0\nCIRCLE\n40\nx\n",
    "binary": b"CAD Binary DXF\r\n\x1a\0" + b"\0" * 50,
    "empty": dxf(lambda m: None),
    "blocks in a circle": dxf(loop),
    "endless": b"0\nSECTION\n" + b" " * (17 << 20),
}


@pytest.mark.parametrize("what", DAMAGED)
def test_damage_is_told_in_one_sentence(what: str) -> None:
    with pytest.raises(NO_AREA) as caught:
        read(DAMAGED[what], name="plan.dxf")
    assert "\n" not in caught.value.message


@pytest.mark.parametrize("radius", ["1e300", "nan", "inf", "-5", "0"])
def test_impossible_numbers_hurt_nothing_else(radius: str) -> None:
    def draw(model: Any) -> None:
        model.add_circle((0, 0), 5)
        model.add_circle((0, 0), 123.25)

    data = dxf(draw).replace(b"123.25", radius.encode())
    try:
        artwork = read(data)
    except UnreadableArtworkError:
        return
    assert artwork.width == pytest.approx(10, rel=1e-3)


def _array(space: Any) -> None:
    block = space.doc.blocks.new("leaf")
    block.add_line((0, 0), (1, 1))
    row = space.doc.blocks.new("row")
    array = {"column_count": 30_000, "row_count": 30_000, "column_spacing": 2, "row_spacing": 2}
    row.add_blockref("leaf", (0, 0), dxfattribs=array)
    space.add_blockref("row", (0, 0))


def _within_itself(space: Any) -> None:
    space.doc.blocks.new("leaf").add_blockref("leaf", (1, 0))
    space.add_blockref("leaf", (0, 0))


@pytest.mark.parametrize("draw", [_array, _within_itself])
def test_blocks_are_counted_before_they_are_taken_apart(
    draw: Callable[[Any], None], monkeypatch: pytest.MonkeyPatch
) -> None:
    data = dxf(draw)
    monkeypatch.setattr("ezdxf.disassemble.recursive_decompose", None)
    with pytest.raises(HostileArtworkError, match="over 15,000 entities"):
        read(data)
