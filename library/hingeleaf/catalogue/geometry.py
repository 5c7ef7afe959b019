"""Encode geometry and bridges for the library file, exact to the last bit, and compare motifs.

The first byte of a blob is the encoding:

0x01  well-known binary (OGC 06-103r4), little-endian
0x78  the same, compressed (zlib, RFC 1950)
0x04  on a grid of quantize.py: a byte n for 2ⁿ steps per mm, then, compressed, whole numbers as
      four planes of bytes, the lowest of all first. They are: the geometry's type; the number of
      levels (points in rings, rings in polygons …); for each level its length and how many each
      of its members has; then the second differences of all x and of all y in grid steps, zigzag
      (0, -1, 1, -2 …)
0x03  the same with numbers of 7 bits a byte instead of planes: read, no longer written
0x02  the same as 0x04 with 512 steps per mm: read, no longer written

Geometry on a grid that reads back as the same bytes is encoded on it; all else is compressed,
unless plain is shorter.
"""

import json
import zlib
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from shapely.geometry.base import BaseGeometry

from hingeleaf.catalogue import quantize
from hingeleaf.catalogue.codec import deflate, from_septets, inflate
from hingeleaf.catalogue.column_types import MAX_COORDINATE, read_json
from hingeleaf.errors import UsageError
from hingeleaf.model import Bridge, Motif

_PLAIN, _GRID_512, _GRID_SEPTETS, _GRID = b"\x01", b"\x02", b"\x03", b"\x04"
MAX_POINTS = 1_000_000
"""Greatest number of points; a motif of a thousand curves has a tenth of it (our own choice)."""
MAX_BRIDGES = 5_000
"""Greatest number of bridges of one motif; a drawing of forty parts has about a hundred (our own
choice)."""
_KINDS = (
    shapely.GeometryType.POLYGON,
    shapely.GeometryType.MULTIPOLYGON,
    shapely.GeometryType.MULTILINESTRING,
)
Numbers = NDArray[np.int64]


def to_blob(geometry: BaseGeometry) -> bytes:
    """The blob of a geometry. Raises UsageError if it could not be read again."""
    points = shapely.get_coordinates(geometry)
    if len(points) > MAX_POINTS or not np.all(np.abs(points) <= MAX_COORDINATE):
        raise UsageError(
            f"A drawing of {len(points):,} points, or more than {MAX_COORDINATE:g} mm from its "
            "middle, cannot be kept.",
            "Simplify it, or use it smaller.",
        )
    binary = _binary(geometry)
    shorter = _to_grid(geometry)
    if shorter is None or _binary(from_blob(shorter)) != binary:
        shorter = zlib.compress(binary)
    return min(binary, shorter, key=len)


def from_blob(blob: bytes, *kinds: str) -> Any:
    """The geometry of a blob, which must be of one of these kinds, if any are given.

    Raises ValueError if it is invalid, or has more points or larger numbers than any motif.
    """
    try:
        kind = blob[:1]
        if kind == _GRID:
            found = _from_grid(_from_planes(inflate(blob[2:], raw=True)), blob[1])
        elif kind == _GRID_SEPTETS:
            found = _from_grid(from_septets(inflate(blob[2:], raw=True)), blob[1])
        elif kind == _GRID_512:
            found = _from_grid(_from_planes(inflate(blob[1:])), 9)
        else:
            found = _from_binary(blob if blob[:1] == _PLAIN else inflate(blob))
    except (shapely.errors.ShapelyError, IndexError, TypeError) as error:
        raise ValueError("not a geometry") from error
    points = shapely.get_coordinates(found)
    if len(points) > MAX_POINTS or not np.all(np.abs(points) <= MAX_COORDINATE):
        raise ValueError("not the geometry of any motif")
    if kinds and found.geom_type not in kinds:
        raise ValueError(f"no {found.geom_type} belongs here")
    return found


def _from_binary(binary: bytes) -> Any:
    """The geometry of well-known binary, of a type that cannot be nested."""
    if int.from_bytes(binary[1:5], "little") not in _KINDS:
        raise ValueError("not a geometry that is ever kept")
    return shapely.from_wkb(binary)


def binary_of(blob: bytes) -> bytes:
    """The well-known binary of a blob in any encoding. Raises ValueError."""
    return blob if blob[:1] == _PLAIN else _binary(from_blob(blob))


def _binary(geometry: BaseGeometry) -> bytes:
    binary: bytes = shapely.to_wkb(geometry, byte_order=1, output_dimension=2)
    return binary


def _to_grid(geometry: BaseGeometry) -> bytes | None:
    """The encoding on the coarsest grid that fits, or None if none does."""
    if geometry.is_empty or geometry.has_z or shapely.get_type_id(geometry) not in _KINDS:
        return None
    kind, points, levels = shapely.to_ragged_array([geometry])
    exponent = next((n for n in range(quantize.FINEST + 1) if quantize.lies_on(points, n)), None)
    if exponent is None:
        return None
    steps = (points * 2**exponent).astype(np.int64)  # up to 100 m: differences fit in four bytes
    bends = np.diff(steps, n=2, axis=0, prepend=np.zeros((2, 2), np.int64))
    numbers = [np.array([kind.value, len(levels)])]
    for level in levels:
        numbers += [np.array([len(level) - 1]), np.diff(level)]
    numbers.append(np.where(bends >= 0, 2 * bends, -2 * bends - 1).T.ravel())
    planes = np.concatenate(numbers).astype("<u4").view(np.uint8).reshape(-1, 4).T
    return _GRID + bytes([exponent]) + deflate(planes.tobytes())


def _from_planes(content: bytes) -> Numbers:
    planes = np.frombuffer(content, dtype=np.uint8).reshape(4, -1)
    return planes.T.copy().view("<u4").ravel().astype(np.int64)


def _from_grid(numbers: Numbers, exponent: int) -> Any:
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
    points = np.ascontiguousarray(steps / 2.0 ** min(exponent, 31))
    return shapely.from_ragged_array(kind, points, tuple(levels))[0]


def _check_levels(levels: list[Numbers], points: int) -> None:
    """Check that each level counts exactly the members of the one below, and the last one shape."""
    below = points
    for level in levels:
        if level[-1] != below:
            raise ValueError("levels that do not fit together")
        below = len(level) - 1
    if below != 1:
        raise ValueError("more than one geometry")


def bridges_to_text(bridges: tuple[Bridge, ...]) -> str:
    """Bridges as JSON rows: x, y, direction, reach, width, pinned, and two fold flags.

    The fold flags of the left and right side are omitted if both may fold.
    """
    rows = [
        [
            *map(float, (*b.at, b.direction, b.reach, b.width)),
            int(b.pinned),
            *(() if all(b.folds) else map(int, b.folds)),
        ]
        for b in bridges
    ]
    return json.dumps(rows, separators=(",", ":"))


def bridges_from_text(text: str) -> tuple[Bridge, ...]:
    """The bridges from the rows of `bridges_to_text`. Raises ValueError, TypeError."""
    bridges: list[Bridge] = []
    for row in read_json(text):
        x, y, direction, reach, width = map(float, row[:5])
        pinned, left, right = row[5:] if len(row) > 6 else (*row[5:], 1, 1)
        if not max(map(abs, (x, y, direction, reach, width))) <= MAX_COORDINATE:
            raise ValueError("a bridge without a place")
        if len(bridges) == MAX_BRIDGES:
            raise ValueError("too many bridges")
        folds = (bool(left), bool(right))
        bridges.append(Bridge((x, y), direction, reach, width, bool(pinned), folds))
    return tuple(bridges)


REVISION_FIELDS = ("size", "hold", "scaling", "bridges", "windows", "slits", "footprint")
"""The data that a cut depends on, all of it stored per revision."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """The result of comparing two revisions."""

    differs: tuple[str, ...]
    """Names of the parts that differ in any bit."""
    shared: float
    """Intersection over union of both windows' areas; 1 if neither has any."""


def compare_motifs(one: Motif, other: Motif) -> Comparison:
    """Compare two motifs as drawn, each about its own centre."""
    differs = tuple(part for part in REVISION_FIELDS if getattr(one, part) != getattr(other, part))
    areas = [shapely.make_valid(each.windows) for each in (one, other)]
    either = shapely.union(*areas).area
    both = shapely.intersection(*areas).area
    return Comparison(differs, both / either if either else 1.0)
