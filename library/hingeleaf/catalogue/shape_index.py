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


class ShapeIndex:
    """All shape vectors of a library in memory, read once for many questions.

    Vectors are only ever added, so it stays true while nobody else writes; what is looked up is
    compared with the motifs as they are.
    """

    def __init__(self, connection: sqlite3.Connection, stamp: int, length: int) -> None:
        import numpy as np

        self.stamp = stamp
        self.length = length
        rows = connection.execute(
            "SELECT motif_id, revision, vector FROM likeness "
            "WHERE typeof(vector) = 'blob' AND length(vector) = ?",
            (length * np.dtype(VECTOR_TYPE).itemsize,),
        ).fetchall()
        self._keys = [row[:2] for row in rows]
        vectors = np.frombuffer(b"".join(row[2] for row in rows), dtype=VECTOR_TYPE)
        self._vectors = vectors.reshape(-1, length).astype(np.float32)
        self._count = len(rows)

    def add(self, motif_id: int, revision: int, vector: NDArray[np.float32]) -> None:
        """A vector was added to the library."""
        import numpy as np

        if self._count == len(self._vectors):
            room = np.zeros((max(64, self._count // 4), self.length), np.float32)
            self._vectors = np.concatenate([self._vectors, room])
        self._vectors[self._count] = vector
        self._keys.append((motif_id, revision))
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
            order = sorted(found, key=lambda place: (squares[place], self._keys[place]))
            for place in order[begun:]:
                yield *self._keys[place], float(np.sqrt(squares[place]))
            begun, some = len(order), some * 8
