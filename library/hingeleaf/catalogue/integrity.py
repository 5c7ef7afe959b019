"""Check a library for damage, broken references and values out of range; repair what is safe.

Only data that can be recomputed or that nothing refers to is repaired. The user's own data are
never changed; problems with them are reported with a remedy.
"""

import re
import sqlite3
from collections import Counter
from collections.abc import Callable, Generator, Iterable, Iterator
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from hingeleaf.catalogue import backup
from hingeleaf.catalogue.cards import Cards
from hingeleaf.catalogue.change import unpack
from hingeleaf.catalogue.column_types import BYTES, COLUMN_TYPES, ColumnType
from hingeleaf.catalogue.connections import is_network_share
from hingeleaf.catalogue.database import ANOTHER, Database
from hingeleaf.catalogue.geometry import bridges_from_text, from_blob
from hingeleaf.catalogue.migrations import WORDS
from hingeleaf.catalogue.motifs import unpack_original
from hingeleaf.catalogue.panels import Panels
from hingeleaf.catalogue.sqlite_errors import backup_remedy
from hingeleaf.errors import DamagedLibraryError
from hingeleaf.model import Severity
from hingeleaf.tasks import Progress, Task, map_results
from hingeleaf.text import first_of


@dataclass(frozen=True, slots=True)
class IntegrityProblem:
    """One problem of a library file, with its repair if there is a safe one."""

    kind: str
    """integrity, references, words, kinds, numbers, missing, geometry, original, orphans, backup,
    place."""
    severity: Severity
    message: str
    remedy: str = ""
    repair: tuple[str, ...] = ()
    """SQL that repairs it; empty if only the user can."""
    repaired: bool = False
    motifs: tuple[str, ...] = ()
    """The motifs that alone are affected; empty if other items may be."""


Check = Callable[[Database], Iterable[IntegrityProblem]]


def examine(db: Database, *, repair: bool = False) -> Task[list[IntegrityProblem]]:
    """Check the library; with `repair`, make all safe repairs in one transaction.

    Each step yields the problems found so far. Raises LibraryWriteError if repairing cannot write.
    Repairs are not part of the history, since they change none of the user's data.
    """
    found: list[IntegrityProblem] = []
    for done, (message, check) in enumerate(CHECKS):
        yield Progress(done, len(CHECKS), f"Checking the {message}", list(found))
        try:
            found += check(db)
        except (DamagedLibraryError, sqlite3.DatabaseError, ValueError, TypeError) as error:
            found.append(_broken(f"The {message} cannot be read: {error}."))
    if repair:
        found = _repair(db, found)
    return found


def find_damaged_motifs(
    other: Database, file: Path
) -> Generator[Progress[Any], None, frozenset[str]]:
    """The motifs of another library, `file`, open as a copy, that cannot be read.

    Raises DamagedLibraryError for a fault that may affect other items.
    """
    found = yield from map_results(examine(other), lambda _: None)
    faults = [problem for problem in found if problem.severity is Severity.FAULT]
    for problem in faults:
        if not problem.motifs:
            message = problem.message.replace(str(other.path), file.name)
            raise DamagedLibraryError(f"{file} is damaged: {message}", ANOTHER)
    return frozenset(name for problem in faults for name in problem.motifs)


def _fault(
    kind: str, message: str, first: str = "", motifs: Iterable[str] = ()
) -> IntegrityProblem:
    """A problem that only a backup can fix, or the action to try `first`."""
    remedy = backup_remedy(first)
    return IntegrityProblem(kind, Severity.FAULT, message, remedy, motifs=tuple(motifs))


def _broken(message: str) -> IntegrityProblem:
    return _fault("integrity", message)


def _repair(db: Database, found: list[IntegrityProblem]) -> list[IntegrityProblem]:
    """Make the safe repairs; if rows are missing, orphans stay, since they may be remains."""
    broken = any(problem.severity is Severity.FAULT for problem in found)
    repairable = [
        problem
        for problem in found
        if problem.repair and not (broken and problem.kind == "orphans")
    ]
    if not repairable:
        return found
    with db.transaction():
        for problem in repairable:
            for sql in problem.repair:
                db.connection.execute(sql)
    return [replace(problem, repaired=problem in repairable) for problem in found]


def _integrity(db: Database) -> Iterator[IntegrityProblem]:
    for message in db.column("PRAGMA integrity_check(20)"):
        if message != "ok":
            yield _broken(f"SQLite finds the file damaged: {message}.")


def _references(db: Database) -> Iterator[IntegrityProblem]:
    """Rows that refer to a row that does not exist."""
    found = Counter((table, other) for table, _, other, _ in db.rows("PRAGMA foreign_key_check"))
    for (table, other), count in found.items():
        rows, name = ("1 row", "names") if count == 1 else (f"{count} rows", "name")
        yield _fault(
            "references", f"{rows} of the {table} table {name} a {other} that is not there."
        )


def _words(db: Database) -> Iterator[IntegrityProblem]:
    if not db.writable:
        return  # SQLite can check a word index only with write access
    for table in WORDS:
        check = f"INSERT INTO {table}_words ({table}_words, rank) VALUES ('integrity-check', 1)"
        try:
            db.connection.execute(check)
        except sqlite3.DatabaseError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_CORRUPT:
                raise
            yield IntegrityProblem(
                "words",
                Severity.CAUTION,
                f"The word index of the {table}s does not agree with them.",
                "A repair rebuilds it.",
                repair=(f"INSERT INTO {table}_words ({table}_words) VALUES ('rebuild')",),
            )


def _values(db: Database) -> Iterator[IntegrityProblem]:
    """Values that are invalid in their columns: text instead of numbers, numbers out of range."""
    tables = "SELECT name FROM sqlite_schema WHERE type = 'table' AND sql LIKE 'CREATE TABLE%'"
    for table in db.column(tables):
        for column in db.column("SELECT name FROM pragma_table_info(?)", (table,)):
            kind = COLUMN_TYPES.get(column)
            if kind is None or (table, column) in _ANY_TYPE:
                continue
            if not all(kind.takes(some) for some in _some_values(db, table, column, kind)):
                yield _fault(
                    "kinds", f"What the {table} table holds as {column} is not {kind.what}."
                )


def _some_values(
    db: Database, table: str, column: str, kind: ColumnType
) -> Iterator[Iterable[object]]:
    """The values of a column in batches. SQLite checks long data itself, without reading them."""
    if kind is BYTES:
        strange = f"SELECT {column} FROM {table} WHERE typeof({column}) NOT IN ('blob', 'null')"
        yield [db.connection.execute(f"{strange} LIMIT 1").fetchone()]
        return
    rows = db.connection.execute(f"SELECT {column} FROM {table}")
    while some := rows.fetchmany(10_000):
        yield (value for (value,) in some)


_ANY_TYPE = {("history", "images")}
"""Columns that hold text or bytes, whichever is shorter."""


def _missing(db: Database) -> Iterator[IntegrityProblem]:
    """Revisions that are referred to but do not exist."""
    without = "NOT EXISTS (SELECT 1 FROM revision r WHERE r.motif_id = {0} AND r.number = {1})"
    for name, number in db.rows(
        f"SELECT m.name, m.revision FROM motif m WHERE {without.format('m.id', 'm.revision')}"
    ):
        yield _fault(
            "missing",
            f"The geometry of {name}, revision {number}, is missing.",
            "Add the motif again",
        )
    for table, what in (("placement", "A placement"), ("trial", "A trial")):
        for name, number in db.rows(
            f"SELECT DISTINCT m.name, t.revision FROM {table} t JOIN motif m ON m.id = t.motif_id "
            f"WHERE {without.format('t.motif_id', 't.revision')}"
        ):
            yield _fault("missing", f"{what} uses {name}, revision {number}, which is missing.")


def _numbers(db: Database) -> Iterator[IntegrityProblem]:
    stale = (
        "FROM motif m JOIN revision r ON r.motif_id = m.id AND r.number = m.revision "
        "WHERE m.size <> r.size OR m.hold <> r.hold"
    )
    names = db.column(f"SELECT m.name {stale}")
    if names:
        yield IntegrityProblem(
            "numbers",
            Severity.CAUTION,
            f"Size or hold style in the list is stale for {first_of(names, 5)}.",
            "A repair takes them from the geometry.",
            repair=(
                f"""
                UPDATE motif SET (size, hold) = (
                    SELECT r.size, r.hold FROM revision r
                    WHERE r.motif_id = motif.id AND r.number = motif.revision
                ) WHERE id IN (SELECT m.id {stale})
                """,
            ),
        )


_GEOMETRY_KINDS = ("MultiPolygon", "MultiLineString", "Polygon")
_SHORT = 32
"""Bytes up to which geometry shared by many motifs, such as no slits, is read only once (our own
choice)."""


def _geometry(db: Database) -> Iterator[IntegrityProblem]:
    rows = db.connection.execute(
        "SELECT m.name, r.number, r.bridges, r.windows, r.slits, r.footprint "
        "FROM revision r LEFT JOIN motif m ON m.id = r.motif_id"
    )
    short: set[tuple[bytes, str]] = set()
    for name, number, bridges, *blobs in rows:
        try:
            bridges_from_text(bridges)
            for blob, kind in zip(blobs, _GEOMETRY_KINDS, strict=True):
                if (blob, kind) not in short:
                    from_blob(blob, kind)
                if len(blob) < _SHORT:
                    short.add((blob, kind))
        except (ValueError, TypeError):
            yield _fault(
                "geometry",
                f"The geometry of {name or 'a motif that was taken back'}, revision {number}, "
                "cannot be read.",
                "Add the motif again",
                [name] if name else (),
            )


def _recipes(db: Database) -> Iterator[IntegrityProblem]:
    """Panels and cards that cannot be read."""
    for name in db.column("SELECT name FROM panel"):
        try:
            Panels(db).get(name)
        except DamagedLibraryError as error:
            yield _broken(error.message)
    try:
        Cards(db).all()
    except DamagedLibraryError as error:
        yield _broken(error.message)


_CONTENT = "SELECT content FROM original WHERE id = ?"
_MOTIFS_OF_ORIGINAL = (
    "SELECT DISTINCT m.name FROM revision r JOIN motif m ON m.id = r.motif_id "
    "WHERE r.original_id = ?"
)


def _originals(db: Database) -> Iterator[IntegrityProblem]:
    for original_id, sha256 in db.connection.execute("SELECT id, sha256 FROM original"):
        try:
            content = db.connection.execute(_CONTENT, (original_id,)).fetchone()[0]
            unpack_original("", sha256, content)
        except (DamagedLibraryError, sqlite3.DataError):
            names = db.column(
                "SELECT DISTINCT original_name FROM revision WHERE original_id = ?", (original_id,)
            )
            file = first_of(names, 5) or "of no motif"
            yield _fault(
                "original",
                f"The original file {file} is damaged: its checksum differs.",
                "Add the file again",
                db.column(_MOTIFS_OF_ORIGINAL, (original_id,)),
            )


def _remembered_motifs(db: Database) -> set[int]:
    """Motifs that undo or redo could restore."""
    return {
        image.key[0]
        for (images,) in db.connection.execute("SELECT images FROM history")
        for image in unpack(images)
        if image.table == "motif"
    }


_ORPHANS = {
    "Revisions that no motif has": (
        "revision",
        "motif_id NOT IN (SELECT id FROM motif UNION SELECT id FROM remembered)",
    ),
    "Likenesses that no revision has": (
        "likeness",
        "NOT EXISTS (SELECT 1 FROM revision r "
        "WHERE r.motif_id = likeness.motif_id AND r.number = likeness.revision)",
    ),
    "Computed limits that no revision has": (
        "limits",
        "NOT EXISTS (SELECT 1 FROM revision r "
        "WHERE r.motif_id = limits.motif_id AND r.number = limits.revision)",
    ),
    "Original files that no revision has": (
        "original",
        "id NOT IN (SELECT original_id FROM revision WHERE original_id IS NOT NULL) "
        "AND id NOT IN (SELECT original_id FROM done_file)",
    ),
}
"""In order of repair, since each may orphan rows of the next."""


def _orphans(db: Database) -> Iterator[IntegrityProblem]:
    db.connection.execute("CREATE TEMP TABLE IF NOT EXISTS remembered (id INTEGER PRIMARY KEY)")
    db.connection.execute("DELETE FROM remembered")
    remembered = ((motif_id,) for motif_id in _remembered_motifs(db))
    db.connection.executemany("INSERT INTO remembered VALUES (?)", remembered)
    for message, (table, which) in _ORPHANS.items():
        count = db.value(f"SELECT count(*) FROM {table} WHERE {which}")
        if count:
            yield IntegrityProblem(
                "orphans",
                Severity.NOTE,
                f"{message}: {count}, left by changes that were undone.",
                "A repair frees their space.",
                repair=tuple(
                    f"DELETE FROM {below} WHERE {orphaned}" for below, orphaned in _ORPHANS.values()
                ),
            )


def _backups(db: Database) -> Iterator[IntegrityProblem]:
    first, newest = backup.first_change(db), backup.newest_backup(db)
    since = newest or first
    if since and abs(db.clock() - since) > backup.BACKUP_AGE_LIMIT:
        yield IntegrityProblem(
            "backup",
            Severity.NOTE,
            f"The newest backup is of {newest:%Y-%m-%d}."
            if newest
            else "There is no backup of this library.",
            "Make one: `hingeleaf backup`.",
        )


def _place(db: Database) -> Iterator[IntegrityProblem]:
    folders = (db.path.parent, backup.backup_folder(db.path, backup.read_plan(db)))
    for left in sorted(file for folder in folders for file in folder.glob(".*.new")):
        if not _LEFT_OVER.fullmatch(left.name):
            continue
        yield IntegrityProblem(
            "place",
            Severity.NOTE,
            f"{left} was left by a program that was stopped while it wrote.",
            "Delete it, if nothing is being written just now.",
        )
    if is_network_share(db.path):
        yield IntegrityProblem(
            "place",
            Severity.NOTE,
            f"{db.path} lies on a network share, so it is kept without a write-ahead log.",
            "Two programs can take turns, but keep backups on a disk of your own.",
        )


_LEFT_OVER = re.compile(r"\..+\.\d+\.new")
"""Pattern of names of files that are being written."""
CHECKS: tuple[tuple[str, Check], ...] = (
    ("file's integrity", _integrity),
    ("references", _references),
    ("word indexes", _words),
    ("values", _values),
    ("revisions", _missing),
    ("sizes and hold styles", _numbers),
    ("geometry", _geometry),
    ("panels and cards", _recipes),
    ("original files", _originals),
    ("orphans", _orphans),
    ("backups", _backups),
    ("file's place", _place),
)
