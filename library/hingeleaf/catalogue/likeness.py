"""Store shape vectors of motifs, and find motifs of similar shape by them, in memory."""

from __future__ import annotations

import itertools
import sqlite3
from bisect import bisect
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

VECTOR_TYPE = "<f2"
"""Half-precision floats, exact to 1 in 2,000: much less than the distance of similar shapes."""
_FIRST_SORTED = 64
"""Number of nearest motifs that are sorted first, removed ones included (our own choice)."""
_BLOCK = 2048
"""Motifs whose vectors are read and compared at once, so that they fit the processor's cache (our
own choice)."""
_DIGITS, _REVISIONS = 11, 10**6
"""Keys are numbers of fixed width, so that a text of them needs no parsing."""
_FIRST = 10 ** (_DIGITS - 1)
_KEY = f"{_FIRST} + (motif_id - :low) * {_REVISIONS} + revision"
_NEXT = "SELECT min(motif_id) FROM likeness WHERE motif_id >= :low + :block"
_USABLE = f"""
    FROM likeness WHERE motif_id BETWEEN :low AND :low + :block - 1
        AND revision BETWEEN 0 AND {_REVISIONS - 1} AND length(CAST(vector AS BLOB)) = :bytes
"""
_VECTORS = f"""
    SELECT CAST((SELECT {_KEY} {_USABLE} ORDER BY motif_id, revision LIMIT 1)
        || group_concat(vector, {_KEY}) AS BLOB) {_USABLE}
"""
"""A single value instead of many rows takes a third of the time: each key, as separator, before its
vector."""
_IS_LISTED = "SELECT 1 FROM motif WHERE id = ? AND revision = ? AND removed IS NULL"


def add_vector(
    change: Change, db: Database, motif_id: int, revision: int, vector: Sequence[float]
) -> None:
    """Store the vector of a revision."""
    import numpy as np

    if len(vector):
        found = np.asarray(vector, dtype=VECTOR_TYPE)
        row = {"motif_id": motif_id, "revision": revision, "vector": found.tobytes()}
        change.add_only("likeness", row)
        index = _indexes.get(db)
        if index and index.length == len(found):
            index.add(motif_id, revision, found)


def copy_vector(change: Change, db: Database, motif_id: int, revision: int, before: int) -> None:
    """Copy an earlier revision's vector to a revision of the same shape."""
    change.connection.execute(
        "INSERT INTO likeness SELECT motif_id, ?, vector FROM likeness "
        "WHERE motif_id = ? AND revision = ?",
        (revision, motif_id, before),
    )
    _indexes.pop(db, None)


def vector_of(db: Database, motif_id: int) -> list[float]:
    """The vector of a motif's newest revision; empty if there is none."""
    import numpy as np

    blob = db.value(
        "SELECT l.vector FROM motif m JOIN likeness l "
        "ON l.motif_id = m.id AND l.revision = m.revision WHERE m.id = ?",
        (motif_id,),
    )
    if blob is None or len(blob) % 2:
        return []
    return [float(value) for value in np.frombuffer(blob, dtype=VECTOR_TYPE)]


def nearest(db: Database, vector: Sequence[float], limit: int) -> list[tuple[int, float]]:
    """Motif ids with their Euclidean distance to `vector`, nearest first.

    Vectors of another length, from another method, are ignored.
    """
    import numpy as np

    wanted = np.asarray(vector, dtype=VECTOR_TYPE).astype(np.float32)
    index = _indexes.get(db)
    if index is None or index.length != len(wanted) or index.data_version != db.data_version():
        index = _indexes[db] = ShapeIndex(db.connection, db.data_version(), len(wanted))
    found: dict[int, float] = {}
    for motif_id, revision, distance in index.nearest(wanted):
        if len(found) >= limit:
            break
        if motif_id not in found and db.value(_IS_LISTED, (motif_id, revision)):
            found[motif_id] = distance
    return list(found.items())


class ShapeIndex:
    """All shape vectors of a library in memory, read once for many queries.

    Vectors are only ever added, so it stays valid while nobody else writes; results are checked
    against the current motifs.
    """

    def __init__(self, connection: sqlite3.Connection, data_version: int, length: int) -> None:
        import numpy as np

        self.data_version = data_version
        self.length = length
        self._blocks: list[tuple[int, NDArray[np.void]]] = []
        self._added = np.empty((0, length), VECTOR_TYPE)
        self._added_keys: list[tuple[int, int]] = []
        row = np.dtype([("key", f"S{_DIGITS}"), ("vector", VECTOR_TYPE, (length,))])
        which = {"low": -_BLOCK, "block": _BLOCK, "bytes": length * np.dtype(VECTOR_TYPE).itemsize}
        while (low := connection.execute(_NEXT, which).fetchone()[0]) is not None:
            which["low"] = low
            found = connection.execute(_VECTORS, which).fetchone()[0]
            if found:
                self._blocks.append((low, np.frombuffer(found, row)))
        self._ends = list(itertools.accumulate(len(rows) for _, rows in self._blocks))

    def _key(self, place: int) -> tuple[int, int]:
        """Motif id and revision of the vector at an index."""
        number = bisect(self._ends, place)
        place -= self._ends[number - 1] if number else 0
        if number == len(self._blocks):
            return self._added_keys[place]
        low, rows = self._blocks[number]
        behind, revision = divmod(int(rows["key"][place]) - _FIRST, _REVISIONS)
        return low + behind, revision

    def add(self, motif_id: int, revision: int, vector: NDArray[np.float16]) -> None:
        """Add a vector that was added to the library."""
        import numpy as np

        self._added = np.concatenate([self._added, [vector]])
        self._added_keys.append((motif_id, revision))

    def nearest(self, vector: NDArray[np.float32]) -> Iterator[tuple[int, int, float]]:
        """Motif ids and revisions with their distance to `vector`, nearest first."""
        import numpy as np

        halves = np.arange(1 << 16, dtype="<u2").view(VECTOR_TYPE).astype(np.float32)
        blocks = [*(rows["vector"] for _, rows in self._blocks), self._added]
        squares, end = np.empty(sum(map(len, blocks)), np.float32), 0
        for block in blocks:
            begin, end = end, end + len(block)
            apart = np.take(halves, block.view("<u2"), mode="wrap") - vector  # twice as fast
            np.einsum("ij,ij->i", apart, apart, out=squares[begin:end])
        first, some = 0, _FIRST_SORTED
        while first < len(squares):
            if some < len(squares):
                limit = np.partition(squares, some)[some]
                found = np.flatnonzero(squares <= limit)
            else:
                found = np.arange(len(squares))
            order = sorted(found.tolist(), key=lambda place: (squares[place], self._key(place)))
            for place in order[first:]:
                yield *self._key(place), float(np.sqrt(squares[place]))
            first, some = len(order), some * 8


_indexes: WeakKeyDictionary[Database, ShapeIndex] = WeakKeyDictionary()
"""The index of each open library that was searched by shape."""
