"""Store shape vectors of motifs, and find motifs of similar shape by them, in memory."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING
from weakref import WeakKeyDictionary

from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

VECTOR_TYPE = "<f2"
"""Two-byte floats are right to one part in 2,000: far nearer than alike shapes are."""
_FEW = 64
"""How many of the nearest are put in order first: removed ones are among them."""
_FIRST, _DIGITS, _REVISIONS = 10**18, 19, 10**6
"""Keys are numbers of as many digits each, so that one text of them needs no parsing."""
_ALL_AT_ONCE = f"""
    SELECT CAST(group_concat({_FIRST} + motif_id * {_REVISIONS} + revision, '') AS BLOB),
        CAST(group_concat(vector, '') AS BLOB)
    FROM likeness WHERE motif_id BETWEEN 0 AND {8 * _FIRST // _REVISIONS}
        AND revision BETWEEN 0 AND {_REVISIONS - 1}
        AND typeof(vector) = 'blob' AND length(vector) = ?
"""
"""Two values instead of a row each: a third of the time with 100,000 motifs."""
_IN_SIGHT = "SELECT 1 FROM motif WHERE id = ? AND revision = ? AND removed IS NULL"


def keep(
    change: Change, db: Database, motif_id: int, revision: int, vector: Sequence[float]
) -> None:
    """Keep the vector of a revision."""
    import numpy as np

    if len(vector):
        found = np.asarray(vector, dtype=VECTOR_TYPE)
        row = {"motif_id": motif_id, "revision": revision, "vector": found.tobytes()}
        change.add_only("likeness", row)
        index = _indexes.get(db)
        if index and index.length == len(found):
            index.add(motif_id, revision, found.astype(np.float32))


def keep_unchanged(change: Change, db: Database, motif_id: int, revision: int, before: int) -> None:
    """Give a revision the vector of an earlier one: its shape is the same."""
    row = db.row(
        "SELECT vector FROM likeness WHERE motif_id = ? AND revision = ?", (motif_id, before)
    )
    if row is not None:
        change.add_only("likeness", {"motif_id": motif_id, "revision": revision, "vector": row[0]})
        _indexes.pop(db, None)


def of(db: Database, motif_id: int) -> list[float]:
    """The vector of a motif's newest revision; empty where there is none."""
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

    Vectors of another length, from another way of computing them, are passed over.
    """
    import numpy as np

    wanted = np.asarray(vector, dtype=VECTOR_TYPE).astype(np.float32)
    index = _indexes.get(db)
    if index is None or index.length != len(wanted) or index.stamp != db.stamp():
        index = _indexes[db] = ShapeIndex(db.connection, db.stamp(), len(wanted))
    found: dict[int, float] = {}
    for motif_id, revision, distance in index.nearest(wanted):
        if len(found) >= limit:
            break
        if motif_id not in found and db.value(_IN_SIGHT, (motif_id, revision)):
            found[motif_id] = distance
    return list(found.items())


class ShapeIndex:
    """All shape vectors of a library in memory, read once for many questions.

    Vectors are only ever added, so it stays true while nobody else writes; what is looked up is
    compared with the motifs as they are.
    """

    def __init__(self, connection: sqlite3.Connection, stamp: int, length: int) -> None:
        import numpy as np

        self.stamp = stamp
        self.length = length
        keys, vectors = connection.execute(
            _ALL_AT_ONCE, (length * np.dtype(VECTOR_TYPE).itemsize,)
        ).fetchone()
        self._keys = bytearray(keys or b"")
        self._vectors = (
            np.frombuffer(vectors or b"", VECTOR_TYPE).reshape(-1, length).astype(np.float32)
        )
        self._count = len(self._vectors)

    def _key(self, place: int) -> tuple[int, int]:
        """Motif id and revision of the vector at a place."""
        found = int(self._keys[place * _DIGITS : (place + 1) * _DIGITS]) - _FIRST
        return divmod(found, _REVISIONS)

    def add(self, motif_id: int, revision: int, vector: NDArray[np.float32]) -> None:
        """A vector was added to the library."""
        import numpy as np

        if self._count == len(self._vectors):
            room = np.zeros((max(64, self._count // 4), self.length), np.float32)
            self._vectors = np.concatenate([self._vectors, room])
        self._vectors[self._count] = vector
        self._keys += b"%d" % (_FIRST + motif_id * _REVISIONS + revision)
        self._count += 1

    def nearest(self, vector: NDArray[np.float32]) -> Iterator[tuple[int, int, float]]:
        """Motif ids and revisions with their distance to `vector`, nearest first."""
        import numpy as np

        apart = self._vectors[: self._count] - vector
        squares = np.einsum("ij,ij->i", apart, apart)
        begun, some = 0, _FEW
        while begun < self._count:
            if some < self._count:
                limit = np.partition(squares, some)[some]
                found = np.flatnonzero(squares <= limit)
            else:
                found = np.arange(self._count)
            order = sorted(found.tolist(), key=lambda place: (squares[place], self._key(place)))
            for place in order[begun:]:
                yield *self._key(place), float(np.sqrt(squares[place]))
            begun, some = len(order), some * 8


_indexes: WeakKeyDictionary[Database, ShapeIndex] = WeakKeyDictionary()
"""Of each open library that was asked for likenesses."""
