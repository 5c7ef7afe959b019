"""Record changes with images of the rows they touch, for undo and redo.

For every row that a change touches, the history keeps an image of the row before (none for an added
row). Undoing restores the images and stores in their place those of the rows they replaced, for
redo. Undo and redo are strictly last-in first-out over all programs that write to the file, so an
image always meets the row as the change left it.
"""

import base64
import json
import sqlite3
import zlib
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from hingeleaf.catalogue.column_types import read_json, refuse_values
from hingeleaf.catalogue.sqlite_errors import backup_remedy
from hingeleaf.errors import DamagedLibraryError

KEYS = {
    "motif": ("id",),
    "source": ("id",),
    "tag": ("id",),
    "motif_tag": ("motif_id", "tag_id"),
    "card": ("id",),
    "panel": ("id",),
    "placement": ("panel_id", "place"),
    "trial": ("id",),
    "done": ("id",),
}
"""Tables covered by undo, with their key columns. All other tables are append-only."""

LONG_TEXT = 400
"""Characters from which history entries are compressed (our own choice)."""

Row = dict[str, Any]


@dataclass(frozen=True, slots=True)
class Image:
    """The earlier state of one row; `row` is None if it did not exist."""

    table: str
    key: tuple[Any, ...]
    row: Row | None


class Change:
    """A change in progress: writes within a transaction and records them."""

    def __init__(self, connection: sqlite3.Connection, message: str, at: str) -> None:
        self.connection = connection
        self.message = message
        self.at = at
        self._images: list[Image] = []

    def column(self, sql: str, values: Sequence[Any] = ()) -> list[Any]:
        """The first column of all rows, as seen within the change."""
        return [row[0] for row in self.connection.execute(sql, values)]

    def value(self, sql: str, values: Sequence[Any] = ()) -> Any:
        """The first value of the first row, or None."""
        return next(iter(self.column(sql, values)), None)

    def insert(self, table: str, row: Row) -> int:
        """Add a row and return its id."""
        row_id = _insert(self.connection, table, row)
        names = KEYS[table]
        key = (row_id,) if names == ("id",) else tuple(row[name] for name in names)
        self._images.append(Image(table, key, None))
        return row_id

    def update(self, table: str, key: Sequence[Any], values: Row) -> None:
        """Set some columns of an existing row."""
        self._images.append(self._image(table, key))
        _update(self.connection, table, key, values)

    def delete(self, table: str, key: Sequence[Any]) -> None:
        """Delete a row; the history still holds it."""
        self._images.append(self._image(table, key))
        _delete(self.connection, table, key)

    def add_only(self, table: str, row: Row) -> int:
        """Add a row that undo leaves in place: geometry and originals, which are never deleted."""
        return _insert(self.connection, table, row)

    @contextmanager
    def part(self) -> Iterator[None]:
        """A nested change: if it fails, only it is rolled back."""
        mark = len(self._images)
        self.connection.execute("SAVEPOINT part")
        try:
            yield
        except BaseException:
            del self._images[mark:]
            if self.connection.in_transaction:
                self.connection.execute("ROLLBACK TO part")
                self.connection.execute("RELEASE part")
            raise
        self.connection.execute("RELEASE part")

    def record(self) -> None:
        """Write the history entry; undone changes can no longer be redone."""
        if not self._images:
            return
        self.connection.execute("DELETE FROM history WHERE undone = 1")
        self.connection.execute(
            "INSERT INTO history (at, says, images) VALUES (?, ?, ?)",
            (self.at, self.message, _pack(self._images)),
        )

    def _image(self, table: str, key: Sequence[Any]) -> Image:
        return Image(table, tuple(key), read_row(self.connection, table, key))


def undo(connection: sqlite3.Connection) -> str | None:
    """Undo the newest change within the caller's transaction. Returns its description."""
    return _swap_newest(connection, "SELECT max(id) FROM history WHERE undone = 0", undone=1)


def redo(connection: sqlite3.Connection) -> str | None:
    """Redo the change undone last. Returns its description."""
    return _swap_newest(connection, "SELECT min(id) FROM history WHERE undone = 1", undone=0)


def _swap_newest(connection: sqlite3.Connection, which: str, undone: int) -> str | None:
    (change_id,) = connection.execute(which).fetchone()
    if change_id is None:
        return None
    message, images = connection.execute(
        "SELECT says, images FROM history WHERE id = ?", (change_id,)
    ).fetchone()
    connection.execute("PRAGMA defer_foreign_keys = ON")
    replaced = [_swap(connection, image) for image in reversed(unpack(images))]
    connection.execute(
        "UPDATE history SET undone = ?, images = ? WHERE id = ?",
        (undone, _pack(replaced), change_id),
    )
    return str(message)


def _swap(connection: sqlite3.Connection, image: Image) -> Image:
    """Put an image in place of its row; returns the image of the row it replaced."""
    current = read_row(connection, image.table, image.key)
    if image.row is None:
        _delete(connection, image.table, image.key)
    elif current is None:
        _insert(connection, image.table, image.row)
    else:
        _update(connection, image.table, image.key, image.row)
    return Image(image.table, image.key, current)


def read_row(connection: sqlite3.Connection, table: str, key: Sequence[Any]) -> Row | None:
    """A row by its key, as {column: value}."""
    cursor = connection.execute(f"SELECT * FROM {table} WHERE {_matches(table)}", tuple(key))
    values = cursor.fetchone()
    if values is None:
        return None
    return {column[0]: value for column, value in zip(cursor.description, values, strict=True)}


def _insert(connection: sqlite3.Connection, table: str, row: Row) -> int:
    refuse_values(row)
    holes = ", ".join("?" * len(row))
    cursor = connection.execute(
        f"INSERT INTO {table} ({', '.join(row)}) VALUES ({holes})", tuple(row.values())
    )
    return int(cursor.lastrowid or 0)


def _update(connection: sqlite3.Connection, table: str, key: Sequence[Any], row: Row) -> None:
    refuse_values(row)
    sets = ", ".join(f"{column} = ?" for column in row)
    connection.execute(f"UPDATE {table} SET {sets} WHERE {_matches(table)}", (*row.values(), *key))


def _delete(connection: sqlite3.Connection, table: str, key: Sequence[Any]) -> None:
    connection.execute(f"DELETE FROM {table} WHERE {_matches(table)}", tuple(key))


def _matches(table: str) -> str:
    return " AND ".join(f"{column} = ?" for column in KEYS[table])


def _pack(images: Sequence[Image]) -> str | bytes:
    """Images as JSON, compressed if long."""
    rows = [[image.table, image.key, image.row] for image in images]
    text = json.dumps(rows, separators=(",", ":"), ensure_ascii=False, default=_wrap_bytes)
    return text if len(text) < LONG_TEXT else zlib.compress(text.encode())


def unpack(packed: str | bytes) -> list[Image]:
    """The images of a history entry, in the order in which the rows were changed.

    Raises DamagedLibraryError.
    """
    try:
        text = packed if isinstance(packed, str) else zlib.decompress(packed)
        rows = read_json(text, object_hook=_unwrap_bytes)
        return [Image(table, tuple(key), row) for table, key, row in rows]
    except (zlib.error, ValueError, TypeError) as error:
        raise DamagedLibraryError("The history is damaged.", backup_remedy()) from error


def _wrap_bytes(value: object) -> dict[str, str]:
    if isinstance(value, bytes):
        return {"base64": base64.b64encode(value).decode("ascii")}
    raise TypeError(f"{type(value).__name__} is no column value")


def _unwrap_bytes(found: dict[str, Any]) -> Any:
    return base64.b64decode(found["base64"]) if found.keys() == {"base64"} else found
