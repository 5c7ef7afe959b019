"""The doctor: is the file whole, does everything in it belong to something, do numbers agree?

Only what can be reckoned again or is reachable from nowhere is repaired. What the user made is
never touched: it is reported, with what to do.
"""

from __future__ import annotations

import hashlib
import re
import sqlite3
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass, replace

from hingeleaf.catalogue import backup
from hingeleaf.catalogue.change import unpack
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.faults import go_back
from hingeleaf.catalogue.geometry import from_blob
from hingeleaf.catalogue.kinds import BYTES, NUMBER, TEXT, WHOLE
from hingeleaf.catalogue.migrations import WORDS
from hingeleaf.catalogue.packing import inflate
from hingeleaf.catalogue.shares import is_network_share
from hingeleaf.errors import DamagedLibraryError
from hingeleaf.model import Severity
from hingeleaf.tasks import Progress, Task


@dataclass(frozen=True, slots=True)
class Ailment:
    """Something that is not as it should be."""

    kind: str
    """integrity, references, words, kinds, numbers, missing, geometry, original, orphans, backup,
    place."""
    severity: Severity
    message: str
    remedy: str = ""
    cure: tuple[str, ...] = ()
    """SQL that repairs it; empty where only the user can."""
    cured: bool = False


Look = Callable[[Database], Iterable[Ailment]]


def examine(db: Database, *, repair: bool = False) -> Task[list[Ailment]]:
    """Look the library over; with `repair`, mend what is safe to mend, in one go.

    Each step yields the ailments found so far. Raises LibraryWriteError where repairing cannot
    write. Repairs are not part of the history: they change nothing that the user made.
    """
    found: list[Ailment] = []
    for done, (says, look) in enumerate(LOOKS):
        yield Progress(done, len(LOOKS), says, list(found))
        try:
            found += look(db)
        except (DamagedLibraryError, sqlite3.DatabaseError, ValueError, TypeError) as error:
            found.append(_broken(f"The {says} cannot be read: {error}."))
    if repair:
        found = _cure(db, found)
    return found


def _broken(message: str) -> Ailment:
    return Ailment("integrity", Severity.FAULT, message, go_back())


def _cure(db: Database, found: list[Ailment]) -> list[Ailment]:
    """Mend. Where something is missing, what looks like an orphan may be what is left of it."""
    broken = any(ailment.severity is Severity.FAULT for ailment in found)
    curable = [
        ailment for ailment in found if ailment.cure and not (broken and ailment.kind == "orphans")
    ]
    if not curable:
        return found
    with db.transaction():
        for ailment in curable:
            for sql in ailment.cure:
                db.connection.execute(sql)
    return [replace(ailment, cured=ailment in curable) for ailment in found]


def _integrity(db: Database) -> Iterator[Ailment]:
    for says in db.column("PRAGMA integrity_check(20)"):
        if says != "ok":
            yield _broken(f"SQLite finds the file damaged: {says}.")


def references(db: Database) -> Iterator[Ailment]:
    """Rows that name a row which is not there."""
    for table, row_id, other, _ in db.rows("PRAGMA foreign_key_check"):
        yield Ailment(
            "references",
            Severity.FAULT,
            f"Row {row_id} of {table} names a {other} that is not there.",
            go_back(),
        )


def _words(db: Database) -> Iterator[Ailment]:
    if not db.writable:
        return  # SQLite checks a word index only where it may write
    for table in WORDS:
        check = f"INSERT INTO {table}_words ({table}_words, rank) VALUES ('integrity-check', 1)"
        try:
            db.connection.execute(check)
        except sqlite3.DatabaseError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_CORRUPT:
                raise
            yield Ailment(
                "words",
                Severity.CAUTION,
                f"The word index of the {table}s does not agree with them.",
                "A repair builds it anew.",
                cure=(f"INSERT INTO {table}_words ({table}_words) VALUES ('rebuild')",),
            )


def kinds(db: Database) -> Iterator[Ailment]:
    """Texts where numbers belong, and their like."""
    tables = "SELECT name FROM sqlite_schema WHERE type = 'table' AND sql LIKE 'CREATE TABLE%'"
    for table in db.column(tables):
        columns = 'SELECT name, type, "notnull" FROM pragma_table_info(?)'
        for column, declared, needed in db.rows(columns, (table,)):
            wrong = _OTHER_KINDS.get(declared)
            if wrong is None or (table, column) in _ANY_KIND:
                continue
            allowed = "0" if needed else f"{column} IS NULL"
            question = f"SELECT count(*) FROM {table} WHERE {wrong} AND NOT {allowed}"
            if db.value(question.replace("VALUE", column)):
                yield Ailment(
                    "kinds",
                    Severity.FAULT,
                    f"What the {table} table holds as {column} is {_NONE[declared]}.",
                    go_back(),
                )


_OTHER_KINDS = {
    "INTEGER": "typeof(VALUE) <> 'integer'",
    "REAL": "(typeof(VALUE) NOT IN ('real', 'integer') OR abs(VALUE) > 1e300)",
    "TEXT": "typeof(VALUE) <> 'text'",
    "BLOB": "typeof(VALUE) <> 'blob'",
}
"""What a column must not hold by its declared type: SQLite itself would take anything."""
_NONE = {each.declared: each.says for each in (WHOLE, NUMBER, TEXT, BYTES)}
_ANY_KIND = {("history", "images")}
"""Columns that hold text or bytes, whatever is shorter."""


def missing(db: Database) -> Iterator[Ailment]:
    """Revisions that something names and that are not there."""
    without = "NOT EXISTS (SELECT 1 FROM revision r WHERE r.motif_id = {0} AND r.number = {1})"
    for name, number in db.rows(
        f"SELECT m.name, m.revision FROM motif m WHERE {without.format('m.id', 'm.revision')}"
    ):
        yield Ailment(
            "missing",
            Severity.FAULT,
            f"The geometry of {name}, revision {number}, is missing.",
            go_back("Add the motif again"),
        )
    for table, what in (("placement", "A placement"), ("trial", "A trial")):
        for name, number in db.rows(
            f"SELECT DISTINCT m.name, t.revision FROM {table} t JOIN motif m ON m.id = t.motif_id "
            f"WHERE {without.format('t.motif_id', 't.revision')}"
        ):
            yield Ailment(
                "missing",
                Severity.FAULT,
                f"{what} uses {name}, revision {number}, which is missing.",
                go_back(),
            )


def _numbers(db: Database) -> Iterator[Ailment]:
    stale = (
        "FROM motif m JOIN revision r ON r.motif_id = m.id AND r.number = m.revision "
        "WHERE m.size <> r.size OR m.hold <> r.hold"
    )
    names = db.column(f"SELECT m.name {stale}")
    if names:
        yield Ailment(
            "numbers",
            Severity.CAUTION,
            f"Size or hold style in the list is stale for {_some(names)}.",
            "A repair takes them from the geometry.",
            cure=(
                f"""
                UPDATE motif SET (size, hold) = (
                    SELECT r.size, r.hold FROM revision r
                    WHERE r.motif_id = motif.id AND r.number = motif.revision
                ) WHERE id IN (SELECT m.id {stale})
                """,
            ),
        )


def _geometry(db: Database) -> Iterator[Ailment]:
    rows = db.connection.execute(
        "SELECT coalesce(m.name, 'a motif that was taken back'), r.number, "
        "r.windows, r.slits, r.footprint "
        "FROM revision r LEFT JOIN motif m ON m.id = r.motif_id"
    )
    for name, number, *blobs in rows:
        try:
            for blob in blobs:
                from_blob(blob)
        except ValueError:
            yield Ailment(
                "geometry",
                Severity.FAULT,
                f"The geometry of {name}, revision {number}, cannot be read.",
                go_back("Add the motif again"),
            )


def _originals(db: Database) -> Iterator[Ailment]:
    for original_id, sha256, content in db.connection.execute(
        "SELECT id, sha256, content FROM original"
    ):
        try:
            sound = hashlib.sha256(inflate(content)).digest() == sha256
        except ValueError:
            sound = False
        if not sound:
            names = db.column(
                "SELECT DISTINCT original_name FROM revision WHERE original_id = ?",
                (original_id,),
            )
            yield Ailment(
                "original",
                Severity.FAULT,
                f"The original file {_some(names)} is damaged: its checksum differs.",
                go_back("Add the file again"),
            )


def _remembered_motifs(db: Database) -> set[int]:
    """Motifs that undo or redo could bring back."""
    return {
        image.key[0]
        for (images,) in db.connection.execute("SELECT images FROM history")
        for image in unpack(images)
        if image.table == "motif"
    }


_ORPHANS = {
    "revisions that no motif has": (
        "revision",
        "motif_id NOT IN (SELECT id FROM motif UNION SELECT id FROM remembered)",
    ),
    "likenesses that no revision has": (
        "likeness",
        "NOT EXISTS (SELECT 1 FROM revision r "
        "WHERE r.motif_id = likeness.motif_id AND r.number = likeness.revision)",
    ),
    "reckoned limits that no revision has": (
        "limits",
        "NOT EXISTS (SELECT 1 FROM revision r "
        "WHERE r.motif_id = limits.motif_id AND r.number = limits.revision)",
    ),
    "original files that no revision has": (
        "original",
        "id NOT IN (SELECT original_id FROM revision WHERE original_id IS NOT NULL)",
    ),
}
"""In the order of repair: each may leave more for the next."""


def _orphans(db: Database) -> Iterator[Ailment]:
    db.connection.execute("CREATE TEMP TABLE IF NOT EXISTS remembered (id INTEGER PRIMARY KEY)")
    db.connection.execute("DELETE FROM remembered")
    remembered = ((motif_id,) for motif_id in _remembered_motifs(db))
    db.connection.executemany("INSERT INTO remembered VALUES (?)", remembered)
    for says, (table, which) in _ORPHANS.items():
        count = db.value(f"SELECT count(*) FROM {table} WHERE {which}")
        if count:
            yield Ailment(
                "orphans",
                Severity.NOTE,
                f"{count} {says}: left by changes that were taken back.",
                "A repair makes their room free.",
                cure=tuple(
                    f"DELETE FROM {below} WHERE {orphaned}" for below, orphaned in _ORPHANS.values()
                ),
            )


def _backups(db: Database) -> Iterator[Ailment]:
    first, newest = backup.first_change(db), backup.newest_backup(db)
    since = newest or first
    if since and abs(db.clock() - since) > backup.RECENT:
        yield Ailment(
            "backup",
            Severity.NOTE,
            f"The newest backup is of {newest:%Y-%m-%d}."
            if newest
            else "There is no backup of this library.",
            "Make one: `hingeleaf backup`.",
        )


def _place(db: Database) -> Iterator[Ailment]:
    folders = (db.path.parent, backup.backup_folder(db.path, backup.read_plan(db)))
    for left in sorted(file for folder in folders for file in folder.glob(".*.new")):
        if not _LEFT_OVER.fullmatch(left.name):
            continue
        yield Ailment(
            "place",
            Severity.NOTE,
            f"{left} was left by a program that was stopped while it wrote.",
            "Delete it, if nothing is being written just now.",
        )
    if is_network_share(db.path):
        yield Ailment(
            "place",
            Severity.NOTE,
            f"{db.path} lies on a network share, so it is kept without a write-ahead log.",
            "Two programs can take turns, but keep backups on a disk of your own.",
        )


def _some(names: list[str]) -> str:
    shown = ", ".join(names[:5])
    return f"{shown} and {len(names) - 5} more" if len(names) > 5 else shown


_LEFT_OVER = re.compile(r"\..+\.\d+(\.part)?\.new")
"""How a file is called while it is being written."""
LOOKS: tuple[tuple[str, Look], ...] = (
    ("file's integrity", _integrity),
    ("references", references),
    ("word indexes", _words),
    ("kinds of values", kinds),
    ("revisions", missing),
    ("sizes and hold styles", _numbers),
    ("geometry", _geometry),
    ("original files", _originals),
    ("orphans", _orphans),
    ("backups", _backups),
    ("file's place", _place),
)
