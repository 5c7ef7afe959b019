"""Reduce a large PNG strip by strip, without holding the whole picture in memory.

Each strip is passed to Pillow as a small PNG of its own. Its rows are stored relative to the row
above (PNG, section 9), so the last row of the previous strip is put in front of them.
"""

from __future__ import annotations

import io
import struct
import zlib
from collections.abc import Iterator
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from PIL.Image import Image

_HEADER = ">IIBBBBB"
"""Width, height, bits, colour type, compression, filters, interlacing (PNG, section 11.2.2)."""
_CHANNELS = {0: 1, 2: 3, 3: 1, 4: 2, 6: 4}
"""Bytes per pixel by colour type, for 8 bits per channel."""
_STRIP = 2 << 20
"""Bytes per strip."""
_FEED = 8 << 10
"""Compressed bytes that are decompressed at a time, to at most a thousand times as many."""


def is_divisible(data: bytes) -> bool:
    """Whether a PNG can be read in strips: 8 bits per channel and not interlaced."""
    return data[24:25] == b"\x08" and data[28:29] == b"\0"


def reduced(data: bytes, by: int) -> Image:
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
        for start in range(0, len(piece), _FEED):
            held += inflate.decompress(piece[start : start + _FEED])
            while len(held) >= size:
                yield bytes(held[:size])
                del held[:size]
    yield bytes(held)


def _chunk(kind: bytes, content: bytes) -> bytes:
    """A chunk of a PNG (section 5.3)."""
    mark = zlib.crc32(kind + content)
    return struct.pack(">I", len(content)) + kind + content + struct.pack(">I", mark)
