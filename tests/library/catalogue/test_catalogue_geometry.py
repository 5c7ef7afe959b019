"""Blobs of geometry: exact, short, and safe to read whatever they hold."""

from __future__ import annotations

import math
import zlib

import numpy as np
import pytest
import shapely
from hypothesis import given, settings, strategies as st
from shapely import MultiLineString, MultiPolygon, Point, Polygon
from shapely.geometry.base import BaseGeometry

from hingeleaf.catalogue import codec
from hingeleaf.catalogue.codec import (
    deflate,
    deflate_drawing,
    from_septets,
    inflate,
)
from hingeleaf.catalogue.geometry import (
    binary_of,
    bridges_from_text,
    bridges_to_text,
    from_blob,
    to_blob,
)
from hingeleaf.catalogue.quantize import FINEST, fineness, on_grid, quantize
from hingeleaf.model import Bridge, Motif
from support.catalogue_motifs import leaf, motifs


def shapes(motif: Motif) -> list[BaseGeometry]:
    return [motif.windows, motif.slits, motif.footprint]


@given(motif=motifs())
@settings(max_examples=150)
def test_any_geometry_comes_back_to_the_last_bit(motif: Motif) -> None:
    for shape in [*shapes(motif), *shapes(quantize(motif))]:
        blob = to_blob(shape)
        assert shapely.to_wkb(from_blob(blob)) == shapely.to_wkb(shape)
        assert binary_of(blob) == shapely.to_wkb(shape, byte_order=1, output_dimension=2)


@given(motif=motifs())
@settings(max_examples=150)
def test_settling_moves_nothing_by_more_than_half_a_step(motif: Motif) -> None:
    quantized = quantize(motif)
    assert quantize(quantized) == quantized
    step = 0.5 ** fineness(motif.size)
    for shape, kept, wide in zip(shapes(motif), shapes(quantized), (1, 1, 2), strict=True):
        if not shape.is_empty:
            assert shape.hausdorff_distance(kept) <= wide * step / math.sqrt(2) + 1e-9
            assert kept.is_valid or not shape.is_valid
    for bridge, kept_bridge in zip(motif.bridges, quantized.bridges, strict=True):
        assert math.dist(bridge.at, kept_bridge.at) <= 1e-4
        assert abs(bridge.width - kept_bridge.width) <= 5.1e-5


@pytest.mark.parametrize(("size", "exponent"), [(0.5, 9), (30, 9), (60, 8), (120, 7), (1e5, 1)])
def test_the_grid_is_as_fine_as_the_size_asks_for(size: float, exponent: int) -> None:
    assert fineness(size) == exponent


def test_a_shape_that_would_break_on_the_grid_is_kept_as_it_is() -> None:
    third = 1 / 3 / 512
    narrow = Polygon([(0, 0), (9, third), (9, 5), (8, third * 1.5), (0, 5)])
    speck = Point(0, 0).buffer(third / 9)
    for shape in (narrow, speck):
        assert shape.is_valid and on_grid(shape, FINEST) == shape
        assert shapely.to_wkb(from_blob(to_blob(shape))) == shapely.to_wkb(shape)


def test_no_minus_nought_is_kept() -> None:
    quantized = quantize(leaf())
    points = shapely.get_coordinates(quantized.windows)
    assert not np.any(np.signbit(points) & (points == 0))


@pytest.mark.parametrize(
    "shape",
    [
        MultiPolygon(),
        MultiLineString(),
        Polygon(),
        MultiPolygon([Point(99_000 + 1 / 3, 0).buffer(9)]),
    ],
)
def test_what_does_not_suit_the_grid_is_kept_as_plain_binary(shape: BaseGeometry) -> None:
    assert shapely.to_wkb(from_blob(to_blob(shape))) == shapely.to_wkb(shape)


def test_quantized_outlines_take_a_seventh_of_the_room() -> None:
    """The reason for the grid: a smooth outline, as flattening leaves it."""
    turns = np.linspace(0, 2 * np.pi, 1500)
    radius = 30 + 3 * np.sin(7 * turns)
    outline = Polygon(np.column_stack([radius * np.cos(turns), radius * np.sin(turns)]))
    binary = len(shapely.to_wkb(outline))
    assert len(zlib.compress(shapely.to_wkb(outline), 9)) > 0.8 * binary
    assert len(to_blob(on_grid(outline, 8))) < 0.15 * binary


@given(
    blob=st.binary(max_size=60),
    first=st.sampled_from([b"", b"\x01", b"\x02", b"\x03", b"\x03\x08", b"\x04\x08", b"\x78"]),
)
@settings(max_examples=300)
def test_bytes_of_any_kind_are_read_or_refused(blob: bytes, first: bytes) -> None:
    for content in (first + blob, first + zlib.compress(blob), first + deflate(blob)):
        try:
            from_blob(content)
        except ValueError:
            continue


@given(
    numbers=st.lists(st.integers(0, 12) | st.integers(0, 2**32 - 1), min_size=2, max_size=40),
    kind=st.sampled_from([0, 1, 2, 3, 5, 6, 7, 255]),
)
@settings(max_examples=400)
def test_numbers_of_any_kind_are_read_or_refused(numbers: list[int], kind: int) -> None:
    written = np.array([kind, *numbers])
    planes = written.astype("<u4").view(np.uint8).reshape(-1, 4).T
    for blob in (
        b"\x02" + zlib.compress(planes.tobytes()),
        b"\x03\x09" + deflate(septets(written.tolist())),
        b"\x04\x09" + deflate(planes.tobytes()),
    ):
        try:
            from_blob(blob)
        except ValueError:
            continue


def septets(numbers: list[int]) -> bytes:
    """Numbers of 7 bits a byte, as DWARF 5, 7.6 and its appendix C describe writing them."""
    written = bytearray()
    for number in numbers:
        while number > 127:
            written.append(number & 127 | 128)
            number >>= 7
        written.append(number)
    return bytes(written)


@given(numbers=st.lists(st.integers(0, 127) | st.integers(0, 2**35 - 1), min_size=1, max_size=40))
def test_numbers_of_seven_bits_a_byte_are_read(numbers: list[int]) -> None:
    assert from_septets(septets(numbers)).tolist() == numbers


@pytest.mark.parametrize("content", [b"", b"\x80", b"\x02\xff"])
def test_numbers_that_are_cut_short_are_refused(content: bytes) -> None:
    with pytest.raises(ValueError, match="cut short"):
        from_septets(content)


def test_septets_are_those_of_the_standard() -> None:
    """DWARF Debugging Information Format 5, section 7.6: 2, 127, 128, 129, 12857."""
    examples = b"\x02\x7f\x80\x01\x81\x01\xb9\x64"
    assert from_septets(examples).tolist() == [2, 127, 128, 129, 12857]


def test_blobs_of_earlier_versions_are_read() -> None:
    """A square of 2 mm as it was written before, on the grid of 512 steps per mm."""
    square = Polygon([(0, 0), (2, 0), (2, 2), (0, 2)])
    steps = (shapely.get_coordinates(square) * 512).astype(np.int64)
    bends = np.diff(steps, n=2, axis=0, prepend=np.zeros((2, 2), np.int64))
    numbers = [3, 2, 1, 5, 1, 1, *np.where(bends >= 0, 2 * bends, -2 * bends - 1).T.ravel()]
    planes = np.array(numbers, dtype="<u4").view(np.uint8).reshape(-1, 4).T
    assert from_blob(b"\x02" + zlib.compress(planes.tobytes())) == square
    assert from_blob(b"\x03\x09" + deflate(septets(list(map(int, numbers))))) == square


@pytest.mark.parametrize("content", [b"", b"<svg/>", bytes(range(256)) * 9])
def test_originals_come_back_whichever_way_they_were_packed(content: bytes) -> None:
    assert inflate(deflate_drawing(content)) == inflate(zlib.compress(content)) == content


def test_a_small_blob_cannot_grow_without_end(monkeypatch: pytest.MonkeyPatch) -> None:
    bomb = zlib.compress(bytes(1_000_001), 9)
    assert len(bomb) < 2000 and len(inflate(bomb)) == 1_000_001
    monkeypatch.setattr(codec, "MAX_BYTES", 1_000_000)
    with pytest.raises(ValueError, match="too large"):
        inflate(bomb)


def test_bridges_come_back_exactly() -> None:
    bridges = (Bridge((1 / 3, -2e-9), 359.9999999, 1e-3, 7.0, True), Bridge((0, 1), 2, 3, 4))
    assert bridges_from_text(bridges_to_text(bridges)) == bridges
