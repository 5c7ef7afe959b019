"""Store where motifs come from: maker, receipt, licence; equal sources share one row."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import astuple
from typing import TYPE_CHECKING, Any

from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.slugs import identify

if TYPE_CHECKING:
    from hingeleaf.model import Source

COLUMNS = (
    "maker",
    "title",
    "origin",
    "receipt",
    "licence",
    "may_sell",
    "copies_limit",
    "credit",
)


class Sources:
    """The sources of the motifs of a library."""

    def __init__(self, db: Database) -> None:
        self._db = db

    def all(self) -> list[tuple[Source, int]]:
        """Every source with its number of motifs (not removed), by maker and title."""
        rows = self._db.rows(
            "SELECT s.id, (SELECT count(*) FROM motif m WHERE m.source_id = s.id "
            "AND m.removed IS NULL) FROM source s ORDER BY s.maker, s.title, s.id"
        )
        return [(read(self._db, source_id), used) for source_id, used in rows]

    def give(self, motifs: Sequence[str], source: Source) -> None:
        """Set the source of motifs. Raises UnknownNameError."""
        which = motifs[0] if len(motifs) == 1 else f"{len(motifs)} motifs"
        with self._db.write(f"Set the source of {which}") as change:
            for name in motifs:
                give(change, self._db, identify(self._db, name), source)


def read(db: Database, source_id: int | None) -> Source:
    """The source with an id; an empty one for None. Raises DamagedLibraryError."""
    from hingeleaf.model import MaySell, Source

    found = row(db, source_id)
    if found is None:
        return Source()
    values = dict(zip(COLUMNS, found, strict=True))
    return Source(**values | {"may_sell": MaySell(values["may_sell"])})


def row(db: Database, source_id: int | None) -> tuple[Any, ...] | None:
    """The columns of a source; None if it is empty."""
    return db.row(f"SELECT {', '.join(COLUMNS)} FROM source WHERE id = ?", (source_id,))


def find_or_add(change: Change, source: Source) -> int | None:
    """The id of an equal source, added if necessary; None if it is empty."""
    if source == type(source)():
        return None
    values: list[Any] = [None if value is None else _plain(value) for value in astuple(source)]
    same = " AND ".join(f"{column} IS ?" for column in COLUMNS)
    found: int | None = change.value(f"SELECT id FROM source WHERE {same}", values)
    return found or change.insert("source", dict(zip(COLUMNS, values, strict=True)))


def drop_unused(change: Change, source_id: int | None) -> None:
    """Delete a source that no motif uses any more."""
    used = "SELECT 1 FROM motif WHERE source_id = ? LIMIT 1"
    if source_id is not None and not change.value(used, (source_id,)):
        change.delete("source", (source_id,))


def _plain(value: Any) -> Any:
    return value if isinstance(value, int) else str(value)


def give(change: Change, db: Database, motif_id: int, source: Source) -> None:
    """Set the source of a motif."""
    before = db.value("SELECT source_id FROM motif WHERE id = ?", (motif_id,))
    after = find_or_add(change, source)
    if before != after:
        change.update("motif", (motif_id,), {"source_id": after})
        drop_unused(change, before)
