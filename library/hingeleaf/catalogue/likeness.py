"""Shapes near one another, by the vectors that artwork reckons."""

from __future__ import annotations

from collections.abc import Sequence

from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database

_KIND = "<f2"
"""Two-byte floats are right to one part in 2,000: far nearer than alike shapes are."""


def keep(change: Change, motif_id: int, revision: int, vector: Sequence[float]) -> None:
    """Keep the vector of a revision."""
    import numpy as np

    if len(vector):
        blob = np.asarray(vector, dtype=_KIND).tobytes()
        change.add_only("likeness", {"motif_id": motif_id, "revision": revision, "vector": blob})


def keep_unchanged(change: Change, motif_id: int, revision: int, before: int) -> None:
    """Give a revision the vector of an earlier one: its shape is the same."""
    change.connection.execute(
        "INSERT INTO likeness (motif_id, revision, vector) "
        "SELECT motif_id, ?, vector FROM likeness WHERE motif_id = ? AND revision = ?",
        (revision, motif_id, before),
    )


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
    return [float(value) for value in np.frombuffer(blob, dtype=_KIND)]


def nearest(db: Database, vector: Sequence[float], limit: int) -> list[tuple[int, float]]:
    """Motif ids with their Euclidean distance to `vector`, nearest first.

    Vectors of another length, from another way of reckoning, are passed over.
    """
    import numpy as np

    wanted = np.asarray(vector, dtype=_KIND)
    rows = db.rows(
        "SELECT m.id, l.vector FROM motif m JOIN likeness l "
        "ON l.motif_id = m.id AND l.revision = m.revision "
        "WHERE m.removed IS NULL AND length(l.vector) = ?",
        (wanted.nbytes,),
    )
    if not rows:
        return []
    ids = np.array([row[0] for row in rows])
    vectors = np.frombuffer(b"".join(row[1] for row in rows), dtype=_KIND)
    distances = np.linalg.norm(vectors.reshape(len(ids), -1).astype(float) - wanted, axis=1)
    order = np.lexsort((ids, distances))[:limit]
    return [(int(ids[i]), float(distances[i])) for i in order]
