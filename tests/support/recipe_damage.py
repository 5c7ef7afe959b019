"""Randomly or maliciously changed recipes, as data and as bundle files."""

from __future__ import annotations

import json
import random
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import closing, suppress
from copy import deepcopy
from pathlib import Path
from typing import Any

Way = tuple[str | int, ...]
"""The keys and indices that lead to a value."""

CODE = (
    "__import__('os').system('touch harm')",
    "!!python/object/apply:os.system ['touch harm']",
    "cos\nsystem\n(S'touch harm'\ntR.",
    "{{ 7 * 7 }}",
    "$(touch harm)",
    "'; DROP TABLE motif; --",
)
PLACES = ("../../../etc/passwd", "/etc/passwd", "/dev/zero", "\\\\host\\share", "~/.profile", "/")
NUMBERS = (0, -1, 1, 0.5, 1e-300, 1e-9, 1e5, 1e9, 1e300, -1e300, 2**63, 10**400)
SHAPES = (
    {"type": "Polygon", "coordinates": []},
    {"type": "Polygon", "coordinates": [[[0, 0], [1, 1], [0, 1], [1, 0], [0, 0]]]},
    {"type": "MultiPolygon", "coordinates": [[[[0, 0], [1e300, 0], [1e300, 1e300], [0, 0]]]]},
    {"type": "GeometryCollection", "geometries": []},
)
ODD: tuple[Any, ...] = (
    *(None, True, False, float("nan"), float("inf"), "", "\0", "\ud800", "A" * 10_000),
    *([], {}, [[]], [1, 2], {"kind": "letter"}),
    *CODE,
    *PLACES,
    *NUMBERS,
    *SHAPES,
)


def damaged_data(sound: Sequence[dict[str, Any]], count: int, seed: int) -> Iterator[Any]:
    """`count` changed recipes as data, determined by the seed."""
    chance = random.Random(seed)
    for _ in range(count):
        data = json.loads(json.dumps(chance.choice(sound)))
        for _ in range(chance.choice((1, 1, 1, 2, 4))):
            _change(data, chance)
        yield data


def _change(data: dict[str, Any], chance: random.Random) -> None:
    """Change one random value, rarely one of the many within a shape."""
    ways = [way for way in _ways(data) if len(way) <= 4 or chance.random() < 0.03]
    if not ways:
        return
    *road, last = chance.choice(ways)
    home = _at(data, road)
    kind = chance.random()
    if kind < 0.65:
        home[last] = deepcopy(chance.choice(ODD))
    elif kind < 0.75:
        del home[last]
    elif kind < 0.85:
        home[last] = json.loads(json.dumps(_at(data, chance.choice(ways))))
    elif isinstance(home[last], float):
        home[last] *= chance.choice((-1, 1e3, 1e-3, 1e6, 1e150))
    elif isinstance(home, dict):
        home[chance.choice(("hurry", "kind", "recipe", "__class__"))] = deepcopy(chance.choice(ODD))


def _ways(data: Any, way: Way = ()) -> Iterator[Way]:
    if way:
        yield way
    if isinstance(data, dict | list):
        inside = data.items() if isinstance(data, dict) else enumerate(data)
        for key, value in inside:
            yield from _ways(value, (*way, key))


def _at(data: Any, way: Sequence[str | int]) -> Any:
    for step in way:
        data = data[step]
    return data


# --- files ---------------------------------------------------------------------------------------

PAGE = 4096
CELLS: tuple[Any, ...] = (
    *(None, 0, -1, 1, 2**62, 1e300, float("inf"), 0.1, "", "x", "\0", "A" * 100_000, "NaN"),
    *(b"", b"\x01", b"\x03\x08x\x9c", b"\x03\xff", b"x\x9c\x03", b"\0" * 50),
    *("[]", "[[1]]", "{}", "null", "[[1e999,1,1,1,1,1]]", "2024-13-45"),
    *CODE,
    *PLACES,
)


def damage_file(sound: bytes, file: Path, chance: random.Random) -> None:
    """Write a library file with a few bytes or pages changed, or with invalid values."""
    if chance.random() < 0.5:
        file.write_bytes(_damaged(bytearray(sound), chance))
        return
    file.write_bytes(sound)
    with closing(sqlite3.connect(file)) as connection, connection:
        for _ in range(chance.choice((1, 1, 2, 4))):
            table, column = chance.choice(_columns(connection))
            which = chance.choice(("", f" WHERE rowid = (SELECT min(rowid) FROM {table})"))
            with suppress(sqlite3.Error):  # SQLite itself rejects some of them
                change = f"UPDATE {table} SET {column} = ?{which}"
                connection.execute(change, (chance.choice(CELLS),))


def _columns(connection: sqlite3.Connection) -> list[tuple[str, str]]:
    return connection.execute(
        "SELECT s.name, i.name FROM sqlite_schema s, pragma_table_info(s.name) i "
        "WHERE s.type = 'table' AND s.name NOT LIKE '%words%' ORDER BY 1, 2"
    ).fetchall()


def _damaged(data: bytearray, chance: random.Random) -> bytes:
    for _ in range(chance.choice((1, 1, 2, 5, 20))):
        place = chance.randrange(len(data))
        kind = chance.random()
        if kind < 0.6:
            data[place] = chance.randrange(256)
        elif kind < 0.8:
            other = chance.randrange(len(data)) // PAGE * PAGE
            page = place // PAGE * PAGE
            data[page : page + PAGE] = data[other : other + PAGE]
        elif kind < 0.95:
            data[place : place + 100] = bytes(len(data[place : place + 100]))
        else:
            del data[max(place, 1) :]
    return bytes(data)
