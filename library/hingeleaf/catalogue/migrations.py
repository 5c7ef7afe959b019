"""Database schema as a series of migrations. A released one is never edited: add another.

`user_version` counts the migrations applied to a file, so that opening need not load sqlite-utils
to see that none is pending. Migrations only ever add columns and tables: the history keeps images
of rows by column name, and a missing column would break an old undo.
"""

from sqlite_utils import Database, Migrations

from hingeleaf.catalogue.file_header import APPLICATION_ID, SCHEMA_VERSION

migrations = Migrations("hingeleaf")


def apply(db: Database, version: int | None = None) -> None:
    """Migrate a library, or an empty file, to the newest schema, or up to `version`.

    The caller holds the transaction: either all pending migrations are applied or none.
    """
    later = [] if version is None else [step.name for step in migrations.pending(db)[version:]]
    migrations.apply(db, stop_before=later)
    _run(
        db,
        f"PRAGMA user_version = {version or SCHEMA_VERSION}",
        f"PRAGMA application_id = {APPLICATION_ID}",
    )


@migrations()
def motifs(db: Database) -> None:
    """Motifs and their revisions; geometry and originals are append-only."""
    _run(
        db,
        """
        CREATE TABLE source (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            maker TEXT NOT NULL DEFAULT '',
            title TEXT NOT NULL DEFAULT '',
            origin TEXT NOT NULL DEFAULT '',
            receipt TEXT NOT NULL DEFAULT '',
            licence TEXT NOT NULL DEFAULT '',
            may_sell TEXT NOT NULL DEFAULT 'unknown' CHECK (may_sell IN ('yes', 'no', 'unknown')),
            copies_limit INTEGER,
            credit TEXT NOT NULL DEFAULT ''
        )
        """,
        """
        CREATE TABLE motif (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            name TEXT NOT NULL UNIQUE,
            revision INTEGER NOT NULL,
            hold TEXT NOT NULL,
            size REAL NOT NULL,
            turn_limit REAL NOT NULL DEFAULT 180,
            may_mirror INTEGER NOT NULL DEFAULT 1,
            notes TEXT NOT NULL DEFAULT '',
            source_id INTEGER REFERENCES source (id),
            added TEXT NOT NULL,
            removed TEXT
        )
        """,
        "CREATE INDEX motif_source ON motif (source_id)",
        """
        CREATE TABLE original (
            id INTEGER PRIMARY KEY,
            sha256 BLOB NOT NULL UNIQUE,
            content BLOB NOT NULL
        )
        """,
        """
        CREATE TABLE revision (
            motif_id INTEGER NOT NULL,
            number INTEGER NOT NULL,
            made TEXT NOT NULL,
            size REAL NOT NULL,
            hold TEXT NOT NULL,
            scaling TEXT NOT NULL,
            bridges TEXT NOT NULL,
            original_id INTEGER REFERENCES original (id),
            original_name TEXT NOT NULL DEFAULT '',
            windows BLOB NOT NULL,
            slits BLOB NOT NULL,
            footprint BLOB NOT NULL,
            UNIQUE (motif_id, number)
        )
        """,
        """
        CREATE TABLE likeness (
            motif_id INTEGER NOT NULL,
            revision INTEGER NOT NULL,
            vector BLOB NOT NULL,
            PRIMARY KEY (motif_id, revision)
        ) WITHOUT ROWID
        """,
        """
        CREATE TABLE limits (
            motif_id INTEGER NOT NULL,
            revision INTEGER NOT NULL,
            settings TEXT NOT NULL,
            value TEXT NOT NULL,
            PRIMARY KEY (settings, motif_id, revision)
        ) WITHOUT ROWID
        """,
    )


@migrations()
def tags(db: Database) -> None:
    """Tags; `hedgerow/birds` is within `hedgerow`."""
    _run(
        db,
        "CREATE TABLE tag (id INTEGER PRIMARY KEY AUTOINCREMENT, name TEXT NOT NULL UNIQUE)",
        """
        CREATE TABLE motif_tag (
            motif_id INTEGER NOT NULL REFERENCES motif (id),
            tag_id INTEGER NOT NULL REFERENCES tag (id),
            PRIMARY KEY (motif_id, tag_id)
        ) WITHOUT ROWID
        """,
        "CREATE INDEX motif_tag_by_tag ON motif_tag (tag_id, motif_id)",
    )


@migrations()
def panels(db: Database) -> None:
    """Cards, and panels with their recipe and placements."""
    _run(
        db,
        """
        CREATE TABLE card (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            name TEXT NOT NULL UNIQUE,
            grammage REAL NOT NULL,
            caliper REAL NOT NULL,
            least_web REAL NOT NULL,
            least_window REAL NOT NULL,
            measured INTEGER NOT NULL DEFAULT 0
        )
        """,
        """
        CREATE TABLE panel (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            name TEXT NOT NULL UNIQUE,
            made TEXT NOT NULL,
            changed TEXT NOT NULL,
            recipe TEXT NOT NULL,
            field TEXT NOT NULL DEFAULT '',
            area BLOB,
            outline BLOB
        )
        """,
        """
        CREATE TABLE placement (
            panel_id INTEGER NOT NULL REFERENCES panel (id),
            place INTEGER NOT NULL,
            motif_id INTEGER NOT NULL REFERENCES motif (id),
            revision INTEGER NOT NULL,
            x REAL NOT NULL,
            y REAL NOT NULL,
            turn REAL NOT NULL,
            size REAL NOT NULL,
            mirrored INTEGER NOT NULL,
            pinned INTEGER NOT NULL,
            PRIMARY KEY (panel_id, place)
        ) WITHOUT ROWID
        """,
        "CREATE INDEX placement_motif ON placement (motif_id, panel_id)",
    )


@migrations()
def history(db: Database) -> None:
    """The history of changes, each with the row images that undo it."""
    _run(
        db,
        """
        CREATE TABLE history (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            at TEXT NOT NULL,
            says TEXT NOT NULL,
            undone INTEGER NOT NULL DEFAULT 0,
            images TEXT NOT NULL
        )
        """,
        "CREATE INDEX history_undone ON history (undone, id)",
    )


@migrations()
def words(db: Database) -> None:
    """Full-text indexes over names and notes, tags, and sources, kept by triggers."""
    for table, columns in WORDS.items():
        _index_words(db, table, columns)


@migrations()
def trials(db: Database) -> None:
    """Recorded test cuts. Cards are stored by name, since common stock has no row."""
    _run(
        db,
        """
        CREATE TABLE trial (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            motif_id INTEGER NOT NULL REFERENCES motif (id),
            revision INTEGER NOT NULL,
            card TEXT NOT NULL,
            size REAL NOT NULL CHECK (size > 0),
            outcome TEXT NOT NULL CHECK (outcome IN ('held', 'tore', 'fell')),
            made TEXT NOT NULL,
            blade TEXT NOT NULL DEFAULT '',
            remark TEXT NOT NULL DEFAULT ''
        )
        """,
        "CREATE INDEX trial_motif ON trial (motif_id, revision, card, size)",
    )


@migrations()
def sizes(db: Database) -> None:
    """The sizes to which the owner limits a motif; NULL if open."""
    _run(
        db,
        "ALTER TABLE motif ADD COLUMN smallest REAL CHECK (smallest > 0)",
        "ALTER TABLE motif ADD COLUMN largest REAL CHECK (largest > 0)",
    )


@migrations()
def settings(db: Database) -> None:
    """Settings of the library itself, such as its backups."""
    _run(db, "CREATE TABLE setting (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID")


@migrations()
def card_material(db: Database) -> None:
    """A card's grain direction, and its measured strength and stiffness, as JSON."""
    _run(
        db,
        "ALTER TABLE card ADD COLUMN grain TEXT NOT NULL DEFAULT 'unknown' "
        "CHECK (grain IN ('unknown', 'long', 'short'))",
        "ALTER TABLE card ADD COLUMN material TEXT",
    )


@migrations()
def lists(db: Database) -> None:
    """A covering index for lists of motifs in order of name."""
    _run(db, "CREATE INDEX motif_listed ON motif (name, removed, hold, size, source_id, added)")


@migrations()
def bending(db: Database) -> None:
    """Whether a motif may be bent, and the cubic map that bends a placement, as JSON."""
    _run(
        db,
        "ALTER TABLE motif ADD COLUMN may_bend INTEGER NOT NULL DEFAULT 0",
        "ALTER TABLE placement ADD COLUMN bend TEXT",
    )


@migrations()
def orders(db: Database) -> None:
    """Customer and due date of a panel; its cut copies, with the cut files."""
    _run(
        db,
        "ALTER TABLE panel ADD COLUMN customer TEXT NOT NULL DEFAULT ''",
        "ALTER TABLE panel ADD COLUMN due TEXT NOT NULL DEFAULT ''",
        """
        CREATE TABLE done (
            id INTEGER PRIMARY KEY AUTOINCREMENT,
            panel_id INTEGER NOT NULL,
            at TEXT NOT NULL,
            copies INTEGER NOT NULL CHECK (copies > 0),
            motifs TEXT NOT NULL
        )
        """,
        "CREATE INDEX done_panel ON done (panel_id)",
        """
        CREATE TABLE done_file (
            done_id INTEGER NOT NULL,
            place INTEGER NOT NULL,
            name TEXT NOT NULL,
            original_id INTEGER NOT NULL REFERENCES original (id),
            PRIMARY KEY (done_id, place)
        ) WITHOUT ROWID
        """,
    )


WORDS = {
    "motif": ("name", "notes"),
    "tag": ("name",),
    "source": ("maker", "title", "origin", "receipt", "licence", "credit"),
}
"""The columns searched for plain words."""


def _index_words(db: Database, table: str, columns: tuple[str, ...]) -> None:
    """An index without its own copy of the text, and the three triggers that keep it up to date."""
    names = ", ".join(columns)
    new = ", ".join(f"new.{column}" for column in columns)
    old = ", ".join(f"old.{column}" for column in columns)
    add = f"INSERT INTO {table}_words (rowid, {names}) VALUES (new.id, {new});"
    drop = (
        f"INSERT INTO {table}_words ({table}_words, rowid, {names}) "
        f"VALUES ('delete', old.id, {old});"
    )
    _run(
        db,
        f"""
        CREATE VIRTUAL TABLE {table}_words USING fts5 (
            {names}, content='{table}', content_rowid='id', prefix='1 2',
            tokenize='unicode61 remove_diacritics 2'
        )
        """,
        f"INSERT INTO {table}_words ({table}_words) VALUES ('rebuild')",
        f"CREATE TRIGGER {table}_words_add AFTER INSERT ON {table} BEGIN {add} END",
        f"CREATE TRIGGER {table}_words_drop AFTER DELETE ON {table} BEGIN {drop} END",
        f"CREATE TRIGGER {table}_words_change AFTER UPDATE OF {names} ON {table} "
        f"BEGIN {drop} {add} END",
    )


def _run(db: Database, *statements: str) -> None:
    for statement in statements:
        db.conn.execute(statement)
