"""The library: motifs, with tags, sources, cards, panels and trials as its parts."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from types import TracebackType
from typing import TYPE_CHECKING, Any, Self

from hingeleaf.catalogue import change, likeness, motifs, search
from hingeleaf.catalogue.backup import back_up_if_due, note_backup
from hingeleaf.catalogue.cards import Cards
from hingeleaf.catalogue.column_types import read_json
from hingeleaf.catalogue.connections import BUSY_TIMEOUT
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.done import DoneLog
from hingeleaf.catalogue.file_copies import copy_to_new
from hingeleaf.catalogue.motifs import Original, Revision
from hingeleaf.catalogue.panels import Panels
from hingeleaf.catalogue.search import MotifRow, TermMatches
from hingeleaf.catalogue.slugs import identify, slug
from hingeleaf.catalogue.sources import Sources
from hingeleaf.catalogue.tags import Tags
from hingeleaf.catalogue.trials import Trials
from hingeleaf.tasks import Task

if TYPE_CHECKING:
    from hingeleaf.catalogue.integrity import IntegrityProblem
    from hingeleaf.catalogue.library_diff import Difference
    from hingeleaf.catalogue.restore import Resolutions
    from hingeleaf.model import Field, Motif, Placement


class Library:
    """A personal library of motifs in one file. Use it as a context manager, from one thread.

    Every writing method is one change that `undo` reverts, even after a restart, and returns only
    once the change is on disk. All raise LibraryWriteError if the file cannot be written and
    DamagedLibraryError if it is damaged; the library is then unchanged.
    """

    def __init__(self, db: Database) -> None:
        self.db = db
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

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.close()

    def stamp(self) -> int:
        """A number that changes when another program writes to the file."""
        return self.db.stamp()

    # Changes

    @contextmanager
    def change(self, message: str) -> Iterator[None]:
        """Combine several changes into one, which is also undone as one; much faster for many."""
        with self.db.write(message):
            yield

    def undo(self) -> str | None:
        """Undo the newest change. Returns its description, or None if there is none."""
        self.db.about_to_change()
        with self.db.transaction():
            return change.undo(self.db.connection)

    def redo(self) -> str | None:
        """Redo the change undone last. Returns its description, or None."""
        self.db.about_to_change()
        with self.db.transaction():
            return change.redo(self.db.connection)

    def history(self, limit: int = 20) -> list[tuple[str, str, bool]]:
        """The newest changes first: time (UTC), description, and whether it is undone."""
        rows = self.db.rows(
            "SELECT at, says, undone FROM history ORDER BY id DESC LIMIT ?", (limit,)
        )
        return [(at, message, bool(undone)) for at, message, undone in rows]

    # Motifs

    def add(
        self,
        motif: Motif,
        *,
        original: bytes | None = None,
        original_name: str = "",
        likeness: Sequence[float] = (),
    ) -> str:
        """Store a motif. Returns its short name: `motif.name` made easy to type and unique.

        Its geometry is rounded to a grid (see quantize.py), then stored exactly. `original` is the
        file it was read from, `likeness` its shape vector from artwork.shape_descriptor.
        """
        from hingeleaf.catalogue.likeness import keep

        with self.db.write(f"Add {slug(motif.name)}") as change:
            motif_id, name = motifs.add(change, motif, original, original_name)
            keep(change, self.db, motif_id, 1, likeness)
        return name

    def motif(self, name: str, revision: int | None = None) -> Motif:
        """A motif, removed or not, in its newest or another revision. Raises UnknownNameError."""
        return motifs.read(self.db, name, revision)

    def motifs(self, query: str = "") -> list[Motif]:
        """All motifs that match a query, in order of name. Raises QueryError."""
        return [motifs.read(self.db, name) for name in search.names(self.db, query)]

    def update(
        self,
        motif: Motif,
        *,
        expected_revision: int,
        base: Motif | None = None,
        original: bytes | None = None,
        original_name: str = "",
        likeness: Sequence[float] = (),
    ) -> int:
        """Store an edited motif; a change of geometry makes a new revision. Returns its number.

        `expected_revision` is the revision that was edited. Pass the whole motif before the edit as
        `base` to guard notes, tags and the rest as well. Raises ChangedElsewhereError instead of
        overwriting someone else's change, and UnknownNameError. Without a new `likeness` the shape
        counts as unchanged.
        """
        from hingeleaf.catalogue.likeness import keep, keep_unchanged

        with self.db.write(f"Edit {motif.name}") as change:
            number = motifs.update(
                change,
                self.db,
                motif,
                expected_revision=expected_revision,
                base=base,
                original=original,
                original_name=original_name,
            )
            if number != expected_revision:
                motif_id = identify(self.db, motif.name)
                if likeness:
                    keep(change, self.db, motif_id, number, likeness)
                else:
                    keep_unchanged(change, self.db, motif_id, number, expected_revision)
        return number

    def revisions(self, name: str) -> list[Revision]:
        """The revisions of a motif, oldest first. Raises UnknownNameError."""
        return motifs.revisions(self.db, identify(self.db, name))

    def bring_back(self, name: str, revision: int) -> int:
        """Copy an old revision as the newest one. Returns its number."""
        with self.db.write(f"Bring back revision {revision} of {name}") as change:
            return motifs.bring_back(change, self.db, name, revision)

    def original(self, name: str, revision: int | None = None) -> Original | None:
        """The file that a revision was read from, byte for byte, or None if it was not stored."""
        motif_id = identify(self.db, name)
        number = revision or self.db.value("SELECT revision FROM motif WHERE id = ?", (motif_id,))
        return motifs.original(self.db, motif_id, number)

    def remove(self, name: str) -> None:
        """Hide a motif. Panels that use it keep it; `put_back` or undo restores it."""
        with self.db.write(f"Remove {name}") as change:
            change.update("motif", (identify(self.db, name),), {"removed": change.at})

    def put_back(self, name: str) -> None:
        """Restore a removed motif."""
        with self.db.write(f"Put back {name}") as change:
            change.update("motif", (identify(self.db, name),), {"removed": None})

    def rename(self, name: str, new: str) -> str:
        """Change the short name of a motif, also in panels. Returns the new name.

        Raises UnknownNameError, UsageError for a name that is taken or has no letter or digit.
        """
        with self.db.write(f"Rename {name} to {new}") as change:
            return motifs.rename(change, identify(self.db, name), new)

    # Search

    def search(
        self, query: str = "", *, limit: int | None = None, offset: int = 0
    ) -> list[MotifRow]:
        """The motifs that match a query, by name or as `like:` orders them. Raises QueryError."""
        return search.search(self.db, query, limit, offset)

    def count(self, query: str = "") -> int:
        """Number of motifs that match a query. Raises QueryError."""
        return search.count(self.db, query)

    def names(self, query: str = "") -> list[str]:
        """Names of the motifs that match a query, in its order. Raises QueryError."""
        return search.names(self.db, query)

    def explain(self, query: str) -> list[TermMatches]:
        """The meaning of each term of a query, and the number of motifs that match it alone."""
        return search.explain(self.db, query)

    def like(self, vector: Sequence[float], *, limit: int = 5) -> list[tuple[str, float]]:
        """The motifs of most similar shape: name and distance, nearest first."""
        near = likeness.nearest(self.db, vector, limit)
        return [
            (self.db.value("SELECT name FROM motif WHERE id = ?", (motif_id,)), distance)
            for motif_id, distance in near
        ]

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

    def save_panel_aside(
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
        from hingeleaf.catalogue.bundle import look_into

        return look_into(self.db, other)

    def restore(
        self, other: Path, found: Sequence[Difference], choices: Resolutions
    ) -> Task[dict[str, str]]:
        """Copy the chosen items among those that `compare` found, as one change.

        By default, new items are copied and differing ones stay as they are here. Returns the names
        that motifs got here. Raises ChangedElsewhereError, UsageError.
        """
        from hingeleaf.catalogue.bundle import restore

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
        with self.db.if_free():
            self.db.keep(
                "INSERT OR REPLACE INTO limits (motif_id, revision, settings, value) "
                "SELECT id, ?, ?, ? FROM motif WHERE name = ?",
                [
                    (revision, settings, json.dumps(value, separators=(",", ":")), name)
                    for (name, revision), value in values.items()
                ],
            )
