"""Geometry and bridges as they lie in the file: exact to the last bit.

Geometry is well-known binary (OGC 06-103r4), little-endian, compressed with zlib (RFC 1950) where
that saves room: the first byte is 0x01 for plain WKB and 0x78 for compressed.
"""

from __future__ import annotations

import json
import zlib
from typing import Any

import shapely
from shapely.geometry.base import BaseGeometry

from hingeleaf.model import Bridge

_PLAIN = 0x01
MOST_BYTES = 256 * 1024 * 1024
"""No geometry is larger; a file that claims more is damaged or hostile."""


def to_blob(geometry: BaseGeometry) -> bytes:
    """The bytes of a geometry."""
    plain: bytes = shapely.to_wkb(geometry, byte_order=1, output_dimension=2)
    packed = zlib.compress(plain, 9)
    return packed if len(packed) < len(plain) else plain


def from_blob(blob: bytes) -> Any:
    """The geometry of `to_blob`'s bytes. Raises ValueError if they are none."""
    try:
        return shapely.from_wkb(plain(blob))
    except shapely.errors.ShapelyError as error:
        raise ValueError("not a geometry") from error


def plain(blob: bytes) -> bytes:
    """The well-known binary in a blob. Raises ValueError."""
    return blob if blob[:1] == bytes([_PLAIN]) else inflate(blob)


def inflate(blob: bytes) -> bytes:
    """Decompress, refusing more than MOST_BYTES. Raises ValueError."""
    inflater = zlib.decompressobj()
    try:
        plain = inflater.decompress(blob, MOST_BYTES)
    except zlib.error as error:
        raise ValueError("not compressed data") from error
    if not inflater.eof:
        raise ValueError("too large or cut short")
    return plain


def bridges_to_text(bridges: tuple[Bridge, ...]) -> str:
    """Bridges as JSON rows: x, y, direction, reach, width, pinned."""
    rows = [[*map(float, (*b.at, b.direction, b.reach, b.width)), int(b.pinned)] for b in bridges]
    return json.dumps(rows, separators=(",", ":"))


def bridges_from_text(text: str) -> tuple[Bridge, ...]:
    """The bridges of `bridges_to_text`'s rows."""
    return tuple(
        Bridge((x, y), direction, reach, width, bool(pinned))
        for x, y, direction, reach, width, pinned in json.loads(text)
    )
