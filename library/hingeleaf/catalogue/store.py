"""The library: motifs, with tags, sources, cards, panels and trials as parts of it."""

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

    Every writing method is one change that `undo` takes back, also after a restart, and returns
    only once the change is on the disk. All raise LibraryWriteError where the file cannot be
    written and DamagedLibraryError where it is broken; the library is then as it was.
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
        """Open a library file, making one where there is none and `create` allows it.

        `timeout` is how many seconds to wait while another program writes. Raises
        NotALibraryError, NewerLibraryError, LibraryWriteError; never changes a refused file.
        """
        database = Database.open(path, create=create, timeout=timeout)
        database.before_first_change = back_up_if_due
        return cls(database)

    @property
    def path(self) -> Path:
        """Where the file is."""
        return self.db.path

    @property
    def writable(self) -> bool:
        """Whether changes can be kept."""
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
        """A number that differs once another program has written to the file."""
        return self.db.stamp()

    # Changes

    @contextmanager
    def change(self, message: str) -> Iterator[None]:
        """Make several changes one: kept, and undone, together. Also much faster for many."""
        with self.db.write(message):
            yield

    def undo(self) -> str | None:
        """Take the newest change back. Returns what it was, or None if there is none."""
        self.db.about_to_change()
        with self.db.transaction():
            return change.undo(self.db.connection)

    def redo(self) -> str | None:
        """Do again what was undone last. Returns what it was, or None."""
        self.db.about_to_change()
        with self.db.transaction():
            return change.redo(self.db.connection)

    def history(self, limit: int = 20) -> list[tuple[str, str, bool]]:
        """The newest changes first: when (UTC), what, and whether it is undone."""
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
        """File a motif. Returns the short name it got: `motif.name` made typable and free.

        Its geometry is kept on a grid of 1/512 mm (see grid.py), and to the last bit from then
        on. `original` is the file it was read from, `likeness` its measure from artwork.likeness.
        """
        from hingeleaf.catalogue.likeness import keep

        with self.db.write(f"Add {slug(motif.name)}") as change:
            motif_id, name = motifs.add(change, motif, original, original_name)
            keep(change, self.db, motif_id, 1, likeness)
        return name

    def motif(self, name: str, revision: int | None = None) -> Motif:
        """A motif, removed or not, as it is or as a revision was. Raises UnknownNameError."""
        return motifs.read(self.db, name, revision)

    def motifs(self, query: str = "") -> list[Motif]:
        """Every motif that a query finds, in order of name. Raises QueryError."""
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
        """Keep an edited motif; a change of geometry makes a new revision. Returns its number.

        `expected_revision` is the one that the edit began from. Give the whole motif that it began
        from as `base` to guard notes, tags and the rest as well. Raises ChangedElsewhereError
        instead of writing over somebody else's change, and UnknownNameError. Without a new
        `likeness` the shape counts as unchanged.
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
        """A motif's past, oldest first. Raises UnknownNameError."""
        return motifs.revisions(self.db, identify(self.db, name))

    def bring_back(self, name: str, revision: int) -> int:
        """Make an old revision the newest again, as a new one. Returns its number."""
        with self.db.write(f"Bring back revision {revision} of {name}") as change:
            return motifs.bring_back(change, self.db, name, revision)

    def original(self, name: str, revision: int | None = None) -> Original | None:
        """The file that a revision was read from, byte for byte, or None if it was not kept."""
        motif_id = identify(self.db, name)
        number = revision or self.db.value("SELECT revision FROM motif WHERE id = ?", (motif_id,))
        return motifs.original(self.db, motif_id, number)

    def remove(self, name: str) -> None:
        """Put a motif out of sight. Panels that use it keep it; `put_back` or undo restores it."""
        with self.db.write(f"Remove {name}") as change:
            change.update("motif", (identify(self.db, name),), {"removed": change.at})

    def put_back(self, name: str) -> None:
        """Bring a removed motif back."""
        with self.db.write(f"Put back {name}") as change:
            change.update("motif", (identify(self.db, name),), {"removed": None})

    def rename(self, name: str, new: str) -> str:
        """Give a motif another short name; panels follow. Returns the name it got.

        Raises UnknownNameError, UsageError for a name that is taken or has no letter or digit.
        """
        with self.db.write(f"Rename {name} to {new}") as change:
            return motifs.rename(change, identify(self.db, name), new)

    # Finding

    def search(
        self, query: str = "", *, limit: int | None = None, offset: int = 0
    ) -> list[MotifRow]:
        """The motifs that a query finds, by name or as `like:` orders. Raises QueryError."""
        return search.search(self.db, query, limit, offset)

    def count(self, query: str = "") -> int:
        """How many motifs a query finds. Raises QueryError."""
        return search.count(self.db, query)

    def names(self, query: str = "") -> list[str]:
        """The names of the motifs that a query finds, in its order. Raises QueryError."""
        return search.names(self.db, query)

    def explain(self, query: str) -> list[TermMatches]:
        """How each term of a query is understood, and what it finds by itself."""
        return search.explain(self.db, query)

    def like(self, vector: Sequence[float], *, limit: int = 5) -> list[tuple[str, float]]:
        """The motifs nearest in shape: name and distance, nearest first."""
        near = likeness.nearest(self.db, vector, limit)
        return [
            (self.db.value("SELECT name FROM motif WHERE id = ?", (motif_id,)), distance)
            for motif_id, distance in near
        ]

    # Upkeep

    def backup(self, target: Path) -> None:
        """Copy the library into a new file while it is in use, whole or not at all.

        Raises LibraryWriteError if the file exists already or cannot be written.
        """
        copy_to_new(self.db.connection, target)
        note_backup(self.db)

    def bundle(
        self, target: Path, names: Sequence[str], panels: Sequence[str] = ()
    ) -> tuple[int, int]:
        """Write motifs and panels with everything they refer to into a new file.

        Returns how many of each it holds. Raises UnknownNameError, UsageError where nothing was
        chosen, LibraryWriteError if the file exists already.
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
        """Save a panel that the library cannot take now in a bundle beside it, with its motifs.

        `restore` takes it up from there. Returns the file. Raises LibraryWriteError.
        """
        from hingeleaf.catalogue.bundle import write_panel

        return write_panel(self.db, name, recipe, placements, field)

    def compare(self, other: Path) -> Task[list[Difference]]:
        """What a bundle, a backup or another library would bring: new, same or different."""
        from hingeleaf.catalogue.bundle import look_into

        return look_into(self.db, other)

    def restore(
        self, other: Path, found: Sequence[Difference], choices: Resolutions
    ) -> Task[dict[str, str]]:
        """Take what was chosen among what `compare` found, as one change.

        Without a choice, what is new is taken and what differs is kept as it is here. Returns
        the names that motifs got here. Raises ChangedElsewhereError, UsageError.
        """
        from hingeleaf.catalogue.bundle import restore

        return restore(self.db, other, found, choices)

    def examine(self, *, repair: bool = False) -> Task[list[IntegrityProblem]]:
        """Check the library, and make safe repairs; see `integrity.examine`."""
        from hingeleaf.catalogue.integrity import examine

        return examine(self.db, repair=repair)

    def setting(self, name: str) -> Any:
        """Plain data that was set under a name for this library; None where there is none."""
        try:
            return read_json(self.db.setting(name) or "null")
        except ValueError:
            return None

    def set_setting(self, name: str, value: Any) -> None:
        """Set plain data under a name; not part of the history."""
        self.db.set_settings({name: json.dumps(value)})

    # What was computed

    def limits(self, settings: str) -> dict[tuple[str, int], Any]:
        """Size limits that were computed under these settings: (motif name, revision) → data.

        A cache: not part of the history, and safe to empty. The settings name the card's figures
        and the way of computing.
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
        """Keep what was computed for the next time, if the library is free."""
        with self.db.if_free():
            self.db.keep(
                "INSERT OR REPLACE INTO limits (motif_id, revision, settings, value) "
                "SELECT id, ?, ?, ? FROM motif WHERE name = ?",
                [
                    (revision, settings, json.dumps(value, separators=(",", ":")), name)
                    for (name, revision), value in values.items()
                ],
            )
