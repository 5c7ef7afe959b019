"""Record finished work: panels, copies, their motifs, and the cut files byte for byte."""

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from hingeleaf.catalogue.column_types import read_json
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.motifs import store_original, unpack_original
from hingeleaf.catalogue.panels import panel_id_of
from hingeleaf.errors import UsageError

MAX_COPIES = 100_000
"""Copies of one panel at a time; more is a typing error (our own choice)."""


@dataclass(frozen=True, slots=True)
class DoneRow:
    """Copies of a panel that were cut."""

    at: str
    copies: int
    files: tuple[str, ...]
    """The names of the cut files, if they were stored."""


class DoneLog:
    """The log of cut copies of the saved panels of a library. It stays when a panel is removed."""

    def __init__(self, db: Database) -> None:
        self._db = db

    def record(self, panel: str, copies: int = 1, files: Sequence[tuple[str, bytes]] = ()) -> None:
        """Record that copies of a panel were cut, and from which files, as one change.

        Raises UnknownNameError, UsageError for an invalid number of copies.
        """
        if not 0 < copies <= MAX_COPIES:
            raise UsageError(f"{copies} is not a number of copies.", f"Give 1 to {MAX_COPIES}.")
        panel_id = panel_id_of(self._db, panel)
        motifs = self._db.column(
            "SELECT DISTINCT motif_id FROM placement WHERE panel_id = ? ORDER BY motif_id",
            (panel_id,),
        )
        with self._db.write(f"Done: {panel}") as change:
            row = {
                "panel_id": panel_id,
                "at": change.at,
                "copies": copies,
                "motifs": json.dumps(motifs),
            }
            done_id = change.insert("done", row)
            for place, (name, content) in enumerate(files):
                file = {"done_id": done_id, "place": place, "name": name}
                change.add_only(
                    "done_file", file | {"original_id": store_original(change, content)}
                )

    def take_back(self, panel: str) -> int:
        """Delete all records of cut copies of a panel. Returns their number."""
        panel_id = panel_id_of(self._db, panel)
        records = self._db.column("SELECT id FROM done WHERE panel_id = ?", (panel_id,))
        with self._db.write(f"Not done: {panel}") as change:
            for done_id in records:
                change.delete("done", (done_id,))
        return len(records)

    def copies(self, panel: str) -> int:
        """Number of copies of a panel that were cut; 0 if it is not saved."""
        return int(
            self._db.value(
                "SELECT coalesce(sum(d.copies), 0) FROM done d JOIN panel p ON p.id = d.panel_id "
                "WHERE p.name = ?",
                (panel,),
            )
        )

    def of(self, panel: str) -> list[DoneRow]:
        """The records of a panel's cut copies, newest first. Raises UnknownNameError."""
        files = "SELECT name FROM done_file WHERE done_id = ? ORDER BY place"
        rows = self._db.rows(
            "SELECT id, at, copies FROM done WHERE panel_id = ? ORDER BY id DESC",
            (panel_id_of(self._db, panel),),
        )
        return [
            DoneRow(at, copies, tuple(self._db.column(files, (done_id,))))
            for done_id, at, copies in rows
        ]

    def files(self, panel: str) -> list[tuple[str, bytes]]:
        """The files from which a panel was last cut, byte for byte.

        Raises UnknownNameError, UsageError if none were stored, DamagedLibraryError.
        """
        done_id = self._db.value(
            "SELECT max(id) FROM done WHERE panel_id = ? AND id IN (SELECT done_id FROM done_file)",
            (panel_id_of(self._db, panel),),
        )
        rows = self._db.rows(
            "SELECT f.name, o.sha256, o.content FROM done_file f "
            "JOIN original o ON o.id = f.original_id WHERE f.done_id = ? ORDER BY f.place",
            (done_id,),
        )
        if not rows:
            raise UsageError(
                f"No cut file of {panel} was kept.", "`export --done` keeps what it writes."
            )
        return [(name, unpack_original(name, sha256, packed)) for name, sha256, packed in rows]

    def copies_by_motif(self, motifs: Iterable[str]) -> dict[str, int]:
        """Number of cut copies of panels that contain each of these motifs."""
        names: dict[int, str] = dict(
            self._db.rows(
                "SELECT id, name FROM motif WHERE name IN (SELECT value FROM json_each(?))",
                (json.dumps(list(motifs)),),
            )
        )
        counts: dict[str, int] = {}
        for copies, on_it in self._db.rows("SELECT copies, motifs FROM done"):
            for motif_id in set(read_json(on_it)) & names.keys():
                counts[names[motif_id]] = counts.get(names[motif_id], 0) + copies
        return counts
