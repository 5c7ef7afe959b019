"""Scans and photographs traced: how near to the drawing, in what light, at what size."""

from __future__ import annotations

import io
import struct
import zlib

import numpy as np
import pytest
import shapely
from PIL import Image, ImageDraw, ImageFilter
from shapely import MultiPolygon, Point, box

from hingeleaf.artwork import pixels
from hingeleaf.artwork.pixels import MAX_SIDE
from hingeleaf.artwork.reading import read
from hingeleaf.artwork.trace import even_light, otsu
from hingeleaf.errors import HostileArtworkError, NothingToCutError, UnreadableArtworkError
from hingeleaf.model import Artwork

DPI = 254
"""Ten pixels to a mm."""
DRAWN = MultiPolygon(
    [Point(15, 15).buffer(10, 64) - Point(15, 15).buffer(4, 64), box(30, 8, 34.5, 33)]
)
"""A ring and a bar on a page of 45 by 40 mm."""


def sheet() -> Image.Image:
    """The drawing in black on white, drawn large and shrunk so that its edges are soft."""
    fine = 4 * DPI / 25.4
    page = Image.new("L", (round(45 * fine), round(40 * fine)), 255)
    pen = ImageDraw.Draw(page)
    for polygon in DRAWN.geoms:
        pen.polygon([(x * fine, y * fine) for x, y in polygon.exterior.coords], fill=0)
        for hole in polygon.interiors:
            pen.polygon([(x * fine, y * fine) for x, y in hole.coords], fill=255)
    return page.resize((page.width // 4, page.height // 4), Image.Resampling.BOX)


def stored(picture: Image.Image, kind: str = "PNG", **options: object) -> bytes:
    out = io.BytesIO()
    picture.save(out, kind, **{"dpi": (DPI, DPI), **options})
    return out.getvalue()


def badly_lit(picture: Image.Image) -> Image.Image:
    """A photograph of it: dim, falling off to one side, grainy, out of focus, with dirt."""
    shades = np.asarray(picture.filter(ImageFilter.GaussianBlur(1.5))) / 255 * 0.8 + 0.1
    rows, columns = np.indices(shades.shape) / max(shades.shape)
    noise = np.random.default_rng(8)
    shades = shades * (0.95 - 0.4 * columns - 0.15 * rows**2) + noise.normal(0, 0.02, shades.shape)
    shades[350:352, 20:22] = 0.0
    return Image.fromarray((shades.clip(0, 1) * 255).astype("uint8"))


def overlap(artwork: Artwork, drawn: MultiPolygon = DRAWN) -> float:
    found = shapely.union_all([shape.area for shape in artwork.shapes])
    return shapely.intersection(found, drawn).area / shapely.union(found, drawn).area


def farthest(artwork: Artwork) -> float:
    """mm from the traced outline to the drawn one at most."""
    found = shapely.boundary(shapely.union_all([shape.area for shape in artwork.shapes]))
    points = shapely.points(shapely.get_coordinates(shapely.segmentize(found, 0.05)))
    return float(shapely.distance(points, shapely.boundary(DRAWN)).max())


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
def test_a_clean_scan_is_followed_to_a_fraction_of_a_pixel(kind: str) -> None:
    artwork = read(stored(sheet(), kind), name="scan")
    assert (artwork.width, artwork.height) == pytest.approx((45, 40), abs=0.05)
    assert [len(shape.area.geoms[0].interiors) for shape in artwork.shapes].count(1) == 1
    assert overlap(artwork) > 0.99
    assert farthest(artwork) < 0.1  # a pixel; the corners of the bar are rounded


def test_a_photograph_in_bad_light() -> None:
    artwork = read(stored(badly_lit(sheet()), "JPEG", quality=85), name="photo")
    assert len(artwork.shapes) == 2
    assert overlap(artwork) > 0.97
    assert "speck" in {finding.kind for finding in artwork.findings}


def test_few_points_are_left() -> None:
    artwork = read(stored(sheet()), name="scan")
    assert sum(shapely.get_num_coordinates(shape.area) for shape in artwork.shapes) < 400


@pytest.mark.parametrize("mode", ["1", "L", "P", "RGB", "RGBA", "I;16"])
def test_every_kind_of_pixel(mode: str) -> None:
    picture = sheet()
    if mode == "I;16":
        picture = Image.fromarray(np.asarray(picture).astype("uint16") * 257)
    artwork = read(stored(picture if mode == "I;16" else picture.convert(mode)), name="scan")
    assert overlap(artwork) > 0.98


def test_see_through_ground_counts_as_white() -> None:
    ink = Image.new("RGBA", sheet().size, (20, 20, 20, 0))
    ink.putalpha(sheet().point(lambda shade: 255 - shade))
    assert overlap(read(stored(ink), name="scan")) > 0.98


def test_light_on_dark_is_told_and_its_light_parts_are_taken() -> None:
    artwork = read(stored(sheet().point(lambda shade: 255 - shade)), name="scan")
    assert "inverted" in {finding.kind for finding in artwork.findings}
    assert overlap(artwork) > 0.98


def test_a_turned_photograph_is_set_upright() -> None:
    exif = Image.Exif()
    exif[0x0112] = 6  # Exif 2.3: row 0 is the right-hand side
    turned = sheet().transpose(Image.Transpose.ROTATE_90)
    artwork = read(stored(turned, "JPEG", exif=exif), name="photo")
    assert overlap(artwork) > 0.98


def test_large_scans_are_shrunk_and_keep_their_size() -> None:
    large = sheet().resize((3 * MAX_SIDE, 3 * MAX_SIDE * 40 // 45))
    dpi = large.width / 45 * 25.4
    artwork = read(stored(large, dpi=(dpi, dpi)), name="scan")
    assert artwork.width == pytest.approx(45, abs=0.05)
    assert overlap(artwork) > 0.99


@pytest.mark.parametrize("mode", ["L", "LA", "P", "RGB", "RGBA"])
def test_strips_of_a_picture_are_reduced_as_the_whole(
    mode: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Pillow decodes the whole; a grainy picture uses every way of storing a row by the last."""
    monkeypatch.setattr(pixels, "_STRIP", 2000)
    grain = (
        np.random.default_rng(3).normal(0, 20, (103, 90, 4)) + np.indices((103, 90))[1, ..., None]
    )
    picture = Image.fromarray(grain.clip(0, 255).astype("uint8")).convert(mode)
    data = stored(picture)
    assert pixels.is_divisible(data)
    whole = Image.open(io.BytesIO(data))
    expected = (whole.convert("RGBA") if mode == "P" else whole).reduce(4)
    assert np.array_equal(np.asarray(pixels.reduced_png(data, 4)), np.asarray(expected))
    with pytest.raises(ValueError, match="fewer rows"):
        pixels.reduced_png(data[: len(data) // 2], 4)


@pytest.mark.parametrize("dpi", [None, 1, 1e6])
def test_no_resolution_is_told(dpi: float | None) -> None:
    out = io.BytesIO()
    sheet().save(out, "PNG", **({"dpi": (dpi, dpi)} if dpi else {}))
    artwork = read(out.getvalue(), name="scan")
    assert artwork.width == pytest.approx(sheet().width / 300 * 25.4)
    assert "resolution" in {finding.kind for finding in artwork.findings}


def test_a_drawing_hardly_darker_than_paper_is_found() -> None:
    pale = sheet().convert("RGB").point(lambda shade: 235 + shade * 20 // 255)
    assert overlap(read(stored(pale), name="drawing")) > 0.98


@pytest.mark.parametrize("shade", [0, 128, 255])
def test_an_empty_sheet_shows_nothing(shade: int) -> None:
    with pytest.raises(NothingToCutError):
        read(stored(Image.new("L", (200, 150), shade)), name="scan")


def test_the_threshold_parts_two_classes() -> None:
    values = np.concatenate([np.full(100, 0.2), np.full(900, 0.8)])
    assert 0.2 < otsu(values) < 0.8


def test_even_light_makes_paper_white() -> None:
    rows, columns = np.indices((300, 400)) / 400
    paper = 0.9 - 0.3 * columns + 0.1 * rows * columns
    assert even_light(paper) == pytest.approx(np.ones_like(paper), abs=0.01)


def bomb(width: int, height: int) -> bytes:
    """A PNG that claims to be large and holds only zeros."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        check = zlib.crc32(kind + data)
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", check)

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = zlib.compress(bytes(min(width * height, 1 << 20)), 9)
    parts = chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")
    return b"\x89PNG\r\n\x1a\n" + parts


def test_a_bomb_is_refused_before_it_is_unpacked() -> None:
    with pytest.raises(UnreadableArtworkError, match="cut short"):
        read(bomb(9_000, 9_000), name="scan")
    with pytest.raises(HostileArtworkError, match="too many pixels"):
        read(bomb(30_000, 30_000), name="scan")


def test_pictures_that_would_take_too_much_memory_are_refused(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(pixels, "MAX_MEMORY", 3_000_000)
    for kind in ("RGB", "RGBA", "P", "CMYK"):
        with pytest.raises(HostileArtworkError, match="million pixels"):
            read(
                stored(Image.new(kind, (1000, 1000)), "JPEG" if kind == "CMYK" else "PNG"),
                name="scan",
            )


@pytest.mark.parametrize("kind", ["PNG", "JPEG"])
@pytest.mark.parametrize("share", [0.01, 0.3, 0.9])
def test_a_cut_short_picture_is_damaged(kind: str, share: float) -> None:
    data = stored(sheet(), kind)
    with pytest.raises(UnreadableArtworkError, match="damaged"):
        read(data[: int(len(data) * share) + 8], name="scan")


def test_grain_beyond_measure_is_refused() -> None:
    grain = np.random.default_rng(2).integers(0, 2, (1200, 1200)).astype("uint8") * 255
    with pytest.raises(HostileArtworkError, match="grainy"):
        read(stored(Image.fromarray(grain)), name="scan")


def test_white_drawings_on_a_clear_ground_are_seen() -> None:
    picture = Image.new("RGBA", (300, 300), (0, 0, 0, 0))
    ImageDraw.Draw(picture).rectangle((50, 100, 249, 199), fill="white")
    (shape,) = read(stored(picture), name="scan").shapes
    left, top, right, bottom = shape.area.bounds
    assert (right - left) / (bottom - top) == pytest.approx(2, rel=0.02)
