"""Geometry and bridges as they lie in the file: exact to the last bit.

The first byte of a blob says how it is written:

0x01  well-known binary (OGC 06-103r4), little-endian
0x78  the same, compressed (zlib, RFC 1950)
0x02  on the grid of grid.py, compressed: whole numbers of four bytes, written as four planes, the
      lowest bytes of all first. They are: the geometry's type; the number of levels (points in
      rings, rings in polygons …); for each level its length and how many each of its members has;
      then the second differences of all x and of all y in grid steps, zigzag (0, -1, 1, -2 …).

What lies on the grid and reads back as the same bytes is written there, all else compressed,
unless plain is shorter.
"""

from __future__ import annotations

import json
import zlib
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hingeleaf.catalogue.grid import STEPS_PER_MM
from hingeleaf.model import Bridge

_PLAIN, _GRID = b"\x01", b"\x02"
_FARTHEST = 2.0**28
"""Grid steps from the origin, about 524 km: second differences stay within four bytes."""
_KINDS = (
    shapely.GeometryType.POLYGON,
    shapely.GeometryType.MULTIPOLYGON,
    shapely.GeometryType.MULTILINESTRING,
)
MOST_BYTES = 256 * 1024 * 1024
"""No geometry is larger; a file that claims more is damaged or hostile."""

Numbers = NDArray[np.int64]


def to_blob(geometry: BaseGeometry) -> bytes:
    """The bytes of a geometry."""
    binary = _binary(geometry)
    shorter = _to_grid(geometry)
    if shorter is None or _binary(_from_grid(shorter)) != binary:
        shorter = zlib.compress(binary)
    return min(binary, shorter, key=len)


def from_blob(blob: bytes) -> Any:
    """The geometry of `to_blob`'s bytes. Raises ValueError if they are none."""
    try:
        if blob[:1] == _GRID:
            return _from_grid(blob)
        return shapely.from_wkb(blob if blob[:1] == _PLAIN else inflate(blob))
    except (shapely.errors.ShapelyError, IndexError, TypeError) as error:
        raise ValueError("not a geometry") from error


def binary_of(blob: bytes) -> bytes:
    """The well-known binary of a blob, however it is written. Raises ValueError."""
    return blob if blob[:1] == _PLAIN else _binary(from_blob(blob))


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


def _binary(geometry: BaseGeometry) -> bytes:
    binary: bytes = shapely.to_wkb(geometry, byte_order=1, output_dimension=2)
    return binary


def _to_grid(geometry: BaseGeometry) -> bytes | None:
    """As written on the grid, or None for what does not lie on it."""
    if geometry.is_empty or geometry.has_z or shapely.get_type_id(geometry) not in _KINDS:
        return None
    kind, points, levels = shapely.to_ragged_array([geometry])
    steps = points * STEPS_PER_MM
    if not np.all((np.rint(steps) == steps) & (np.abs(steps) < _FARTHEST)):
        return None
    bends = np.diff(steps.astype(np.int64), n=2, axis=0, prepend=np.zeros((2, 2), np.int64))
    numbers = [np.array([kind.value, len(levels)])]
    for level in levels:
        numbers += [np.array([len(level) - 1]), np.diff(level)]
    numbers.append(np.where(bends >= 0, 2 * bends, -2 * bends - 1).T.ravel())
    planes = np.concatenate(numbers).astype("<u4").view(np.uint8).reshape(-1, 4).T
    return _GRID + zlib.compress(planes.tobytes())


def _from_grid(blob: bytes) -> Any:
    plain = np.frombuffer(inflate(blob[1:]), dtype=np.uint8)
    numbers = plain.reshape(4, -1).T.copy().view("<u4").ravel().astype(np.int64)
    kind, count = shapely.GeometryType(int(numbers[0])), int(numbers[1])
    if kind not in _KINDS:
        raise ValueError(f"no {kind.name} is ever kept")
    rest = numbers[2:]
    levels = []
    for _ in range(count):
        length = int(rest[0])
        levels.append(np.concatenate([[0], np.cumsum(rest[1 : length + 1])]))
        rest = rest[length + 1 :]
    bends = np.where(rest % 2, -(rest + 1) // 2, rest // 2).reshape(2, -1).T
    steps = np.cumsum(np.cumsum(bends, axis=0), axis=0)
    _check_levels(levels, len(steps))
    points = np.ascontiguousarray(steps / STEPS_PER_MM)
    return shapely.from_ragged_array(kind, points, tuple(levels))[0]


def _check_levels(levels: list[Numbers], points: int) -> None:
    """Each level must count out exactly the members of the one below, the last make one shape."""
    below = points
    for level in levels:
        if level[-1] != below:
            raise ValueError("levels that do not fit together")
        below = len(level) - 1
    if below != 1:
        raise ValueError("more than one geometry")


def bridges_to_text(bridges: tuple[Bridge, ...]) -> str:
    """Bridges as JSON rows: x, y, direction, reach, width, pinned."""
    rows = [[*map(float, (*b.at, b.direction, b.reach, b.width)), int(b.pinned)] for b in bridges]
    return json.dumps(rows, separators=(",", ":"))


def bridges_from_text(text: str) -> tuple[Bridge, ...]:
    """The bridges of `bridges_to_text`'s rows. Raises ValueError, TypeError."""
    return tuple(
        Bridge((x, y), direction, reach, width, bool(pinned))
        for x, y, direction, reach, width, pinned in json.loads(text)
    )
