"""Open PNG and JPEG pictures: checked, upright, reduced, in shades of grey.

A large PNG is reduced strip by strip, without ever holding the whole picture in memory. Each strip
is handed to Pillow as a small PNG of its own. Its rows are stored relative to the row above (PNG,
section 9), so the last row of the strip before is put in front of them.
"""

from __future__ import annotations

import io
import struct
import warnings
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from hingeleaf.artwork.diagnostics import Diagnostics
from hingeleaf.errors import ArtworkError, HostileArtworkError, UnreadableArtworkError
from hingeleaf.model import Severity

if TYPE_CHECKING:
    from PIL.Image import Image

_HEADER = ">IIBBBBB"
"""Width, height, bits, colour type, compression, filters, interlacing (PNG, section 11.2.2)."""
_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
"""Bytes per pixel by colour type, for 8 bits per channel."""
_STRIP = 2 << 20
"""Bytes per strip."""
_CHUNK_SIZE = 8 << 10
"""Compressed bytes that are decompressed at a time, to at most a thousand times as many."""


def is_divisible(data: bytes) -> bool:
    """Whether a PNG can be read in strips: 8 bits per channel and not interlaced."""
    return data[24:25] == b"\x08" and data[28:29] == b"\0"


def reduced_png(data: bytes, by: int) -> Image:
    """A PNG reduced by a whole factor, each pixel the mean of a square.

    Raises any error that the decoder raises for a damaged file.
    """
    from PIL import Image

    strips = [strip.reduce(by) for strip in _strips(data, by)]
    size = strips[0].width, sum(strip.height for strip in strips)
    whole = Image.new(strips[0].mode, size)
    top = 0
    for strip in strips:
        whole.paste(strip, (0, top))
        top += strip.height
    return whole


def _strips(data: bytes, by: int) -> Iterator[Image]:
    """The picture in strips from top to bottom; `by` divides the height of each but the last."""
    from PIL import Image

    width, height, *kind = struct.unpack(_HEADER, data[16:29])
    row = 1 + width * _CHANNELS[kind[1]]
    settings, packed = _chunks(data)
    above, left = b"", height
    for block in _blocks(packed, max(1, _STRIP // row // by) * by * row):
        rows = above + block[: left * row]
        count, left = len(rows) // row, left - len(block) // row
        header = _chunk(b"IHDR", struct.pack(_HEADER, width, count, *kind))
        small = _chunk(b"IDAT", zlib.compress(rows, 0)) + _chunk(b"IEND", b"")
        strip = Image.open(io.BytesIO(data[:8] + header + settings + small), formats=("PNG",))
        strip.load()
        fresh = strip.crop((0, 1, width, count)) if above else strip
        above = b"\0" + strip.crop((0, count - 1, width, count)).tobytes()  # 0: not relative
        yield fresh.convert("RGBA") if fresh.mode == "P" else fresh
        if left <= 0:
            return
    raise ValueError("fewer rows than stated")


def _chunks(data: bytes) -> tuple[bytes, list[memoryview]]:
    """All chunks between the header and the pixels unchanged, and the compressed pixels."""
    settings, packed, at = b"", [], 33
    while at + 8 <= len(data):
        size, kind = struct.unpack(">I4s", data[at : at + 8])
        if kind == b"IDAT":
            packed.append(memoryview(data)[at + 8 : at + 8 + size])
        elif not packed:
            settings += data[at : at + size + 12]
        at += size + 12
    return settings, packed


def _blocks(packed: list[memoryview], size: int) -> Iterator[bytes]:
    """The decompressed data in blocks of `size` bytes; the last may be shorter."""
    inflate, held = zlib.decompressobj(), bytearray()
    for piece in packed:
        for start in range(0, len(piece), _CHUNK_SIZE):
            held += inflate.decompress(piece[start : start + _CHUNK_SIZE])
            while len(held) >= size:
                yield bytes(held[:size])
                del held[:size]
    yield bytes(held)


def _chunk(kind: bytes, content: bytes) -> bytes:
    """A chunk of a PNG (section 5.3)."""
    mark = zlib.crc32(kind + content)
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", mark)


MAX_PIXELS = 55_000_000
"""Pixels; about a second and a half of decoding."""
MAX_MEMORY = 220_000_000
"""Largest memory, in bytes, for a picture that must be decoded whole."""
_BYTES = {"1": 2, "L": 1, "I;16": 2, "I": 4, "RGB": 4, "CMYK": 8, "P": 9, "LA": 8, "RGBA": 8}
"""Bytes per pixel needed by the decoder and the step after it, by picture mode."""
_PROGRESSIVE = 4
"""Bytes per pixel of a progressive JPEG, whatever size it is decoded to."""
_PACKED = 1100
"""Highest plausible compression ratio of a PNG (DEFLATE reaches 1,032 to 1)."""
MAX_SIDE = 1600
"""Longest side in pixels; larger pictures are reduced to it (our own choice)."""
DPI = 300.0
"""Assumed if a picture states no resolution, or one that scanners do not use (common practice, no
source)."""
SCREEN_DPI = (72, 96)
"""Resolutions that cameras and screens state regardless of the content (common practice, no
source)."""
_MIN_DPI, _MAX_DPI = 20, 4800
_MIN_OPACITY, _WHITE_MEAN = 127, 230
"""Of 255: pixels less opaque than this are transparent; a mean lighter than this is white (our own
choice)."""
_COLOURED = ("RGB", "RGBA", "P", "L", "LA")
Grey = NDArray[np.floating[Any]]
"""Luminance from 0 to 1, in rows."""


@dataclass(frozen=True, slots=True)
class GreyImage:
    """The luminance of every pixel, and the size of a pixel in mm."""

    grey: Grey
    pixel: float
    colours: NDArray[np.uint8] | None = None
    """Red, green and blue of every pixel, for pictures with colours."""
    stated: bool = True
    """Whether the file's pixel size is real rather than a camera's or screen's default."""

    def reduced(self, longest: int) -> GreyImage:
        """The picture reduced to at most `longest` pixels along its longest side."""
        from PIL import Image

        shrink = max(self.grey.shape) / longest
        if shrink <= 1 or self.colours is None:
            return self
        height, width = (max(1, round(side / shrink)) for side in self.grey.shape)
        small = Image.fromarray(self.colours).resize((width, height), Image.Resampling.BOX)
        grey = np.asarray(small.convert("L"), dtype=np.float32) / 255
        return GreyImage(grey, self.pixel * shrink, np.asarray(small), self.stated)


def open_picture(data: bytes, name: str, notes: Diagnostics) -> GreyImage:
    """A PNG or JPEG file, its longest side at most MAX_SIDE pixels.

    Raises HostileArtworkError or UnreadableArtworkError.
    """
    from PIL import Image

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            picture = Image.open(io.BytesIO(data), formats=("PNG", "JPEG"))
            longest = max(picture.size)
            _check_extent(picture, data, name)
            dpi = float(picture.info.get("dpi", (0.0,))[0])
            small = _shrunk(picture, data)
            grey, colours = _on_white(small)
    except ArtworkError:
        raise
    except Image.DecompressionBombError as error:
        raise HostileArtworkError(
            f"{name} has far too many pixels.", "Scan it at a lower resolution."
        ) from error
    except Exception as error:  # any decoder failure means a damaged file
        raise UnreadableArtworkError(
            f"{name} is a damaged picture.", "Take or export it again."
        ) from error
    stated = _MIN_DPI <= dpi <= _MAX_DPI and round(dpi) not in SCREEN_DPI
    if not _MIN_DPI <= dpi <= _MAX_DPI:
        dpi = DPI
        notes.add(
            "resolution",
            f"The picture states no resolution; {DPI:g} dots per inch are assumed.",
            severity=Severity.NOTE,
            remedy="Give its intended size, for example --size 60mm.",
        )
    return GreyImage(grey, 25.4 / dpi * longest / max(grey.shape), colours, stated)


def _check_extent(picture: Image, data: bytes, name: str) -> None:
    """Refuse, by its header, a picture that needs too much memory or cannot be complete."""
    width, height = picture.size
    each = _PROGRESSIVE if picture.info.get("progressive") else 0
    if picture.format == "JPEG":
        picture.draft("L", (MAX_SIDE, MAX_SIDE))  # decoded at a fraction of its size
    elif width * height // 8 > len(data) * _PACKED:
        raise UnreadableArtworkError(
            f"{name} is a damaged picture: cut short.", "Take or export it again."
        )
    decoded = picture.width * picture.height * _BYTES.get(picture.mode, 9)
    if _in_strips(picture, data):
        decoded = 0
    if max(decoded, width * height * each) > MAX_MEMORY or width * height > MAX_PIXELS:
        raise HostileArtworkError(
            f"{name} has {width * height / 1e6:.0f} million pixels, which is too many.",
            "Scan it at a lower resolution, or save it as a plain JPEG.",
        )


def _in_strips(picture: Image, data: bytes) -> bool:
    is_large = max(picture.size) >= 2 * MAX_SIDE
    return is_large and picture.format == "PNG" and is_divisible(data)


def _shrunk(picture: Image, data: bytes) -> Image:
    """The picture upright and small enough; pixels are averaged, so that lines stay smooth."""
    from PIL import Image, ImageOps

    longest, orientation = max(picture.size), picture.info.get("exif", b"")
    shrink = max(1.0, longest / MAX_SIDE)
    size = (max(1, round(picture.width / shrink)), max(1, round(picture.height / shrink)))
    if _in_strips(picture, data):
        picture = reduced_png(data, longest // MAX_SIDE)
    else:
        orientation = picture.getexif().tobytes()
        if picture.mode in ("1", "P"):  # modes without intermediate levels cannot be averaged
            picture = picture.convert("L" if picture.mode == "1" else "RGBA")
    small = picture.resize(size, Image.Resampling.BOX, reducing_gap=2.0)
    small.info["exif"] = orientation
    return ImageOps.exif_transpose(small)


def _on_white(picture: Image) -> tuple[Grey, NDArray[np.uint8] | None]:
    """Grey levels on white, and the colours of a PNG that has some."""
    from PIL import Image

    if picture.mode.startswith("I"):  # 16 bits per pixel
        deep = np.asarray(picture, dtype=np.float32)
        return np.clip(deep / 65535, 0.0, 1.0), None
    coloured = picture.convert("RGBA")
    ground = Image.new("RGBA", coloured.size, "black" if _is_light(coloured) else "white")
    whole = Image.alpha_composite(ground, coloured)
    grey = np.asarray(whole.convert("L"), dtype=np.float32) / 255
    return grey, np.asarray(whole.convert("RGB")) if picture.mode in _COLOURED else None


def _is_light(picture: Image) -> bool:
    """Whether a drawing is white on a transparent background."""
    pixels = np.asarray(picture)
    is_opaque = pixels[..., 3] > _MIN_OPACITY
    if is_opaque.all() or not is_opaque.any():
        return False
    return bool(pixels[is_opaque][:, :3].min(axis=1).mean() > _WHITE_MEAN)
