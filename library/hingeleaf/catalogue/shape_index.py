"""Nearest-neighbour search over the shape vectors of a library, held in memory."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from typing import TYPE_CHECKING

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
