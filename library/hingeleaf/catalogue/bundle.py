"""Write bundles: a chosen part of a library as a small library file."""

from __future__ import annotations

import tempfile
from collections.abc import Sequence
from contextlib import closing, suppress
from pathlib import Path
from typing import TYPE_CHECKING, Any

from hingeleaf.catalogue import motifs, panels
from hingeleaf.catalogue.database import Database
from hingeleaf.catalogue.file_copies import copy_to_new, free_path
from hingeleaf.catalogue.slugs import identify, slug
from hingeleaf.catalogue.sqlite_errors import file_errors_of, sqlite_errors_of
from hingeleaf.errors import LibraryWriteError, UsageError

if TYPE_CHECKING:
    from hingeleaf.model import Field, Motif, Placement

_CHOSEN_MOTIFS = "SELECT id FROM chosen WHERE kind = 'motif'"
_CHOSEN_PANELS = "SELECT id FROM chosen WHERE kind = 'panel'"

_PARTS = (
    ("source", f"id IN (SELECT source_id FROM motif WHERE id IN ({_CHOSEN_MOTIFS}))"),
    ("motif", f"id IN ({_CHOSEN_MOTIFS})"),
    ("original", f"id IN (SELECT original_id FROM revision WHERE motif_id IN ({_CHOSEN_MOTIFS}))"),
    ("revision", f"motif_id IN ({_CHOSEN_MOTIFS})"),
    ("likeness", f"motif_id IN ({_CHOSEN_MOTIFS})"),
    (
        "tag",
        "id IN (SELECT outer_tag.id FROM tag outer_tag JOIN tag inner_tag "
        "ON inner_tag.id = outer_tag.id "
        "OR (inner_tag.name > outer_tag.name || '/' AND inner_tag.name < outer_tag.name || '0') "
        "JOIN motif_tag mt ON mt.tag_id = inner_tag.id "
        f"WHERE mt.motif_id IN ({_CHOSEN_MOTIFS}))",
    ),
    ("motif_tag", f"motif_id IN ({_CHOSEN_MOTIFS})"),
    ("trial", f"motif_id IN ({_CHOSEN_MOTIFS})"),
    ("card", f"name IN (SELECT card FROM trial WHERE motif_id IN ({_CHOSEN_MOTIFS}))"),
    ("panel", f"id IN ({_CHOSEN_PANELS})"),
    ("placement", f"panel_id IN ({_CHOSEN_PANELS})"),
)
"""Tables that are copied, in order of references; panels bring the motifs placed on them."""


def write(
    db: Database, target: Path, names: Sequence[str], panel_names: Sequence[str]
) -> tuple[int, int]:
    """Write motifs and panels, with everything they refer to, into a new file.

    Returns the numbers of motifs and panels in it. Raises UnknownNameError, UsageError if nothing
    was chosen, LibraryWriteError if the file exists or cannot be written.
    """
    panel_ids = [panels.panel_id_of(db, name) for name in panel_names]
    motif_ids = {identify(db, name) for name in names}
    for panel_id in panel_ids:
        motif_ids.update(
            db.column("SELECT motif_id FROM placement WHERE panel_id = ?", (panel_id,))
        )
    if not (motif_ids or panel_ids):
        raise UsageError("Nothing was chosen for the bundle.", "Name motifs, a query or a panel.")
    chosen = [("motif", each) for each in sorted(motif_ids)]
    chosen += [("panel", each) for each in sorted(panel_ids)]
    with file_errors_of(target):
        target.parent.mkdir(parents=True, exist_ok=True)
        folder = tempfile.TemporaryDirectory(prefix=f".{target.name}.", dir=target.parent)
        with folder as place, closing(Database.open(Path(place) / "bundle.db")) as part:
            _copy(db, part, chosen)
            copy_to_new(part.connection, target)
    return len(motif_ids), len(panel_ids)


def motif_in(path: Path, name: str) -> Motif:
    """A motif of another library, which is not modified. Raises UnknownNameError."""
    with Database.open_copy(path) as other:
        return motifs.read(other, name)


def write_panel(
    db: Database,
    name: str,
    recipe: dict[str, Any],
    placements: Sequence[Placement],
    field: Field | None,
) -> Path:
    """Write a panel that the library cannot store now, with its motifs, to a bundle next to it.

    Returns the new file. Raises LibraryWriteError if no folder is writable.
    """
    names = {placement.motif for placement in placements}
    for folder in (db.path.parent, Path.cwd(), Path(tempfile.gettempdir())):
        target = free_path(folder / f"{slug(name, 'panel')}-unsaved.db")
        with suppress(LibraryWriteError):
            write(db, target, sorted(names), [])
            with closing(Database.open(target)) as part:
                panels.Panels(part).save(name, recipe, placements, field=field)
            return target
    raise LibraryWriteError(f"The panel {name} could not be kept.", "Make room and fill it again.")


def _copy(db: Database, part: Database, chosen: Sequence[tuple[str, int]]) -> None:
    """Copy the chosen rows from one consistent state."""
    home = db.connection
    part.connection.execute("PRAGMA synchronous = OFF")  # the finished file is synced
    with sqlite_errors_of(db.path), part.transaction():
        home.execute("CREATE TEMP TABLE chosen (kind TEXT, id INTEGER)")
        home.executemany("INSERT INTO chosen VALUES (?, ?)", chosen)
        home.execute("SAVEPOINT bundle")
        try:
            for table, which in _PARTS:
                rows = home.execute(f"SELECT * FROM {table} WHERE {which}")
                holes = ", ".join("?" * len(rows.description))
                part.connection.executemany(f"INSERT INTO {table} VALUES ({holes})", rows)
        finally:
            home.execute("RELEASE bundle")
            home.execute("DROP TABLE chosen")
