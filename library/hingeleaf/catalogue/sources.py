"""Store where motifs come from: maker, receipt, licence; equal sources share one row."""

from collections.abc import Sequence
from dataclasses import astuple, fields
from typing import Any

from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.slugs import identify
from hingeleaf.source import MaySell, Source

COLUMNS = tuple(field.name for field in fields(Source))


class Sources:
    """The sources of the motifs of a library."""

    def __init__(self, db: Database) -> None:
        self._db = db

    def assign(self, motifs: Sequence[str], source: Source) -> None:
        """Set the source of motifs. Raises UnknownNameError."""
        which = motifs[0] if len(motifs) == 1 else f"{len(motifs)} motifs"
        with self._db.write(f"Set the source of {which}") as change:
            for name in motifs:
                assign(change, identify(self._db, name), source)


def read(db: Database, source_id: int | None) -> Source:
    """The source with an id; an empty one for None. Raises DamagedLibraryError."""
    found = db.row(f"SELECT {', '.join(COLUMNS)} FROM source WHERE id = ?", (source_id,))
    if found is None:
        return Source()
    values = dict(zip(COLUMNS, found, strict=True))
    return Source(**values | {"may_sell": MaySell(values["may_sell"])})


def find_or_add(change: Change, source: Source) -> int | None:
    """The id of an equal source, added if necessary; None if it is empty."""
    if source == Source():
        return None
    values: list[Any] = [str(each) if isinstance(each, str) else each for each in astuple(source)]
    same = " AND ".join(f"{column} IS ?" for column in COLUMNS)
    found: int | None = change.value(f"SELECT id FROM source WHERE {same}", values)
    return found or change.insert("source", dict(zip(COLUMNS, values, strict=True)))


def assign(change: Change, motif_id: int, source: Source) -> None:
    """Set the source of a motif, and delete its former one if no other motif has it."""
    before = change.value("SELECT source_id FROM motif WHERE id = ?", (motif_id,))
    after = find_or_add(change, source)
    if before != after:
        change.update("motif", (motif_id,), {"source_id": after})
        used = "SELECT 1 FROM motif WHERE source_id = ? LIMIT 1"
        if before is not None and not change.value(used, (before,)):
            change.delete("source", (before,))
