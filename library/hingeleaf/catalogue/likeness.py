"""Store shape vectors of motifs, and find motifs of similar shape by them."""

from __future__ import annotations

from collections.abc import Sequence

from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.shape_index import VECTOR_TYPE, ShapeIndex


def keep(
    change: Change, db: Database, motif_id: int, revision: int, vector: Sequence[float]
) -> None:
    """Keep the vector of a revision."""
    import numpy as np

    if len(vector):
        found = np.asarray(vector, dtype=VECTOR_TYPE)
        row = {"motif_id": motif_id, "revision": revision, "vector": found.tobytes()}
        change.add_only("likeness", row)
        if db.shapes and db.shapes.length == len(found):
            db.shapes.add(motif_id, revision, found.astype(np.float32))


def keep_unchanged(change: Change, db: Database, motif_id: int, revision: int, before: int) -> None:
    """Give a revision the vector of an earlier one: its shape is the same."""
    row = db.row(
        "SELECT vector FROM likeness WHERE motif_id = ? AND revision = ?", (motif_id, before)
    )
    if row is not None:
        change.add_only("likeness", {"motif_id": motif_id, "revision": revision, "vector": row[0]})
        db.shapes = None


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
    index = db.shapes
    if index is None or index.length != len(wanted) or index.stamp != db.stamp():
        index = db.shapes = ShapeIndex(db.connection, db.stamp(), len(wanted))
    found: dict[int, float] = {}
    for motif_id, revision, distance in index.nearest(wanted):
        if len(found) >= limit:
            break
        if motif_id not in found and db.value(_IN_SIGHT, (motif_id, revision)):
            found[motif_id] = distance
    return list(found.items())


_IN_SIGHT = "SELECT 1 FROM motif WHERE id = ? AND revision = ? AND removed IS NULL"
