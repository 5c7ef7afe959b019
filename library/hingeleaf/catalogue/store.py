"""The library: motifs, with tags, sources, cards, panels and trials as its parts."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any, Self

from hingeleaf.catalogue import change
from hingeleaf.catalogue.backup import back_up_if_due, note_backup
from hingeleaf.catalogue.cards import Cards
from hingeleaf.catalogue.column_types import read_json
from hingeleaf.catalogue.connections import BUSY_TIMEOUT
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.done_log import DoneLog
from hingeleaf.catalogue.file_copies import copy_to_new
from hingeleaf.catalogue.motifs import Motifs
from hingeleaf.catalogue.panels import Panels
from hingeleaf.catalogue.search import Search
from hingeleaf.catalogue.sources import Sources
from hingeleaf.catalogue.tags import Tags
from hingeleaf.catalogue.trials import Trials
from hingeleaf.tasks import Task

if TYPE_CHECKING:
    from hingeleaf.catalogue.integrity import IntegrityProblem
    from hingeleaf.catalogue.library_diff import Difference, Resolutions
    from hingeleaf.model import Field, Motif, Placement


class Library(Motifs, Search):
    """A personal library of motifs in one file. Use it as a context manager, from one thread.

    Every writing method is one change that `undo` reverts, even after a restart, and returns only
    once the change is on disk. All raise LibraryWriteError if the file cannot be written and
    DamagedLibraryError if it is damaged; the library is then unchanged.
    """

    def __init__(self, db: Database) -> None:
        super().__init__(db)
        self.tags = Tags(db)
        self.sources = Sources(db)
        self.cards = Cards(db)
        self.panels = Panels(db)
        self.done = DoneLog(db)
        self.trials = Trials(db)

    @classmethod
    def open(cls, path: Path, *, create: bool = True, timeout: float = BUSY_TIMEOUT) -> Self:
        """Open a library file, creating it if it does not exist and `create` allows it.

        `timeout` is the number of seconds to wait while another program writes. Raises
        NotALibraryError, NewerLibraryError, LibraryWriteError; never changes a refused file.
        """
        database = Database.open(path, create=create, timeout=timeout)
        database.before_first_change = back_up_if_due
        return cls(database)

    @property
    def path(self) -> Path:
        """The path of the file."""
        return self.db.path

    @property
    def writable(self) -> bool:
        """Whether changes can be stored."""
        return self.db.writable

    def close(self) -> None:
        """Close the file."""
        self.db.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *error: object) -> None:
        self.close()

    def data_version(self) -> int:
        """A number that changes when another program writes to the file."""
        return self.db.data_version()

    # Changes

    @contextmanager
    def change(self, message: str) -> Iterator[None]:
        """Combine several changes into one, which is also undone as one; much faster for many."""
        with self.db.write(message):
            yield

    def undo(self) -> str | None:
        """Undo the newest change. Returns its description, or None if there is none."""
        self.db.prepare_first_change()
        with self.db.transaction():
            return change.undo(self.db.connection)

    def redo(self) -> str | None:
        """Redo the change undone last. Returns its description, or None."""
        self.db.prepare_first_change()
        with self.db.transaction():
            return change.redo(self.db.connection)

    def history(self, limit: int = 20) -> list[tuple[str, str, bool]]:
        """The newest changes first: time (UTC), description, and whether it is undone."""
        rows = self.db.rows(
            "SELECT at, says, undone FROM history ORDER BY id DESC LIMIT ?", (limit,)
        )
        return [(at, message, bool(undone)) for at, message, undone in rows]

    def motifs(self, query: str = "") -> list[Motif]:
        """All motifs that match a query, in order of name. Raises QueryError."""
        return [self.motif(name) for name in self.names(query)]

    # Maintenance

    def backup(self, target: Path) -> None:
        """Copy the library into a new file while it is in use, completely or not at all.

        Raises LibraryWriteError if the file exists or cannot be written.
        """
        copy_to_new(self.db.connection, target)
        note_backup(self.db)

    def bundle(
        self, target: Path, names: Sequence[str], panels: Sequence[str] = ()
    ) -> tuple[int, int]:
        """Write motifs and panels, with everything they refer to, into a new file.

        Returns the number of each. Raises UnknownNameError, UsageError if nothing was chosen,
        LibraryWriteError if the file exists.
        """
        from hingeleaf.catalogue.bundle import write

        return write(self.db, target, names, panels)

    def rescue_panel(
        self,
        name: str,
        recipe: dict[str, Any],
        placements: Sequence[Placement],
        *,
        field: Field | None = None,
    ) -> Path:
        """Write a panel that the library cannot store now, with its motifs, to a bundle next to it.

        `restore` can read it later. Returns the file. Raises LibraryWriteError.
        """
        from hingeleaf.catalogue.bundle import write_panel

        return write_panel(self.db, name, recipe, placements, field)

    def compare(self, other: Path) -> Task[list[Difference]]:
        """Compare the items of a bundle, backup or other library: new, same or different."""
        from hingeleaf.catalogue.restore import compare_with

        return compare_with(self.db, other)

    def restore(
        self, other: Path, found: Sequence[Difference], choices: Resolutions
    ) -> Task[dict[str, str]]:
        """Copy the chosen items among those that `compare` found, as one change.

        By default, new items are copied and differing ones stay as they are here. Returns the names
        that motifs got here. Raises ChangedElsewhereError, UsageError.
        """
        from hingeleaf.catalogue.restore import restore

        return restore(self.db, other, found, choices)

    def examine(self, *, repair: bool = False) -> Task[list[IntegrityProblem]]:
        """Check the library, and make safe repairs; see `integrity.examine`."""
        from hingeleaf.catalogue.integrity import examine

        return examine(self.db, repair=repair)

    def setting(self, name: str) -> Any:
        """A stored setting of this library as plain data; None if there is none."""
        try:
            return read_json(self.db.setting(name) or "null")
        except ValueError:
            return None

    def set_setting(self, name: str, value: Any) -> None:
        """Store a setting as plain data; not part of the history."""
        self.db.set_settings({name: json.dumps(value)})

    # Caches

    def limits(self, settings: str) -> dict[tuple[str, int], Any]:
        """Size limits cached under these settings: (motif name, revision) → data.

        Not part of the history, and safe to empty. `settings` identifies the card's data and the
        method.
        """
        rows = self.db.rows(
            "SELECT m.name, l.revision, l.value FROM limits l JOIN motif m ON m.id = l.motif_id "
            "WHERE l.settings = ?",
            (settings,),
        )
        found = {}
        for name, revision, value in rows:
            with suppress(ValueError):
                found[name, revision] = read_json(value)
        return found

    def set_limits(self, settings: str, values: Mapping[tuple[str, int], Any]) -> None:
        """Cache computed limits, if the library is free."""
        with self.db.best_effort():
            self.db.executemany(
                "INSERT OR REPLACE INTO limits (motif_id, revision, settings, value) "
                "SELECT id, ?, ?, ? FROM motif WHERE name = ?",
                [
                    (revision, settings, json.dumps(value, separators=(",", ":")), name)
                    for (name, revision), value in values.items()
                ],
            )
