"""Open an SQLite file safely, read it, and write it in transactions.

Only creating and migrating load sqlite-utils; a plain open needs only the standard library.
"""

import errno
import os
import sqlite3
import tempfile
import warnings
from collections.abc import Callable, Iterable, Iterator, Sequence
from contextlib import closing, contextmanager, suppress
from datetime import UTC, datetime
from functools import partial
from pathlib import Path
from typing import Any, Self

from hingeleaf.catalogue.change import Change
from hingeleaf.catalogue.column_types import Row, validate_rows
from hingeleaf.catalogue.connections import (
    BUSY_TIMEOUT,
    check_log,
    connect_to,
    plain_connection,
    read_only_connection,
)
from hingeleaf.catalogue.file_copies import building_for, copy_pages, copy_to, put_in_place
from hingeleaf.catalogue.file_header import (
    SCHEMA_VERSION,
    read_header,
    refuse_newer,
    refuse_unknown_schema,
)
from hingeleaf.catalogue.locks import FileId, abandon, file_id, folder_lock
from hingeleaf.catalogue.sqlite_errors import (
    backup_remedy,
    file_errors_of,
    read_only,
    sqlite_errors_of,
)
from hingeleaf.errors import (
    DamagedLibraryError,
    LibraryMovedError,
    LibraryNotice,
    LibraryWriteError,
    NotALibraryError,
)

MAX_NAME_LENGTH = 220
"""Bytes; most file systems allow 255, and names derived from it are longer (our own choice)."""
NOTICE_DELAY = 1.0
"""Seconds of waiting after which a notice is given (our own choice)."""
ANOTHER = "Ask for another copy, or choose an older backup."
"""The remedy for a damaged file that is not the user's own library."""
_Files = tuple[FileId | None, ...]
Clock = Callable[[], datetime]


class Database:
    """A library's connection, for one thread; each thread opens its own."""

    def __init__(self, path: Path, connection: sqlite3.Connection, *, writable: bool) -> None:
        self.path = path
        self.writable = writable
        self.clock: Clock = partial(datetime.now, UTC)
        self.connection = connection
        self._files: _Files | None = None
        self._copy: Path | None = None
        self._change: Change | None = None
        self.before_first_change: Callable[[Database], object] | None = None
        """Called once, before this connection first changes the library."""
        self.timeout = BUSY_TIMEOUT

    @classmethod
    def open(cls, path: Path, *, create: bool = True, timeout: float = BUSY_TIMEOUT) -> Self:
        """Open a library file, creating it if it does not exist and `create` allows it.

        Raises NotALibraryError, NewerLibraryError or LibraryWriteError; a refused file is not
        modified.
        """
        path = Path(path).expanduser().absolute()
        with file_errors_of(path):
            if len(os.fsencode(path.name)) > MAX_NAME_LENGTH:
                raise OSError(errno.ENAMETOOLONG, os.strerror(errno.ENAMETOOLONG))
            if create and (not path.exists() or (path.is_file() and path.stat().st_size == 0)):
                _create(path)
        with folder_lock(path), sqlite_errors_of(path):
            header = read_header(path)
            if header is None:
                raise NotALibraryError(f"{path} is empty.", "Name a library file with --library.")
            check_log(path)
            connection, writable = connect_to(path, header.write_ahead, timeout)
            try:
                refuse_unknown_schema(path, connection)
                database = cls(path, connection, writable=writable)
                database.timeout = timeout
                database._migrate()
                database._files = _files_at(path)
            except BaseException:
                connection.close()
                raise
        return database

    @classmethod
    @contextmanager
    def open_copy(cls, path: Path) -> Iterator[Self]:
        """Open a copy of another library, so that the file itself is not changed.

        Its schema must be exactly the one made by our migrations, so that no foreign trigger or
        view ever runs. Raises NotALibraryError, NewerLibraryError, DamagedLibraryError.
        """
        path = Path(path).expanduser().absolute()
        if read_header(path) is None:
            raise NotALibraryError(f"{path} is empty.", "Name a library or a bundle.")
        with (
            tempfile.TemporaryDirectory(prefix="hingeleaf-") as folder,
            sqlite_errors_of(path, ANOTHER),
        ):
            copy = Path(folder) / "visitor.db"
            try:
                with closing(read_only_connection(path, BUSY_TIMEOUT)) as connection:
                    refuse_unknown_schema(path, connection)
                    copy_pages(connection, copy)
                visitor = cls.open(copy, create=False)
            except DamagedLibraryError as error:
                raise DamagedLibraryError(f"{path} is damaged.", ANOTHER) from error
            try:
                yield visitor
            finally:
                visitor.close()

    def close(self) -> None:
        """Close the file; all committed changes are in it."""
        if self._copy or self._is_in_place():
            self.connection.close()
        else:
            abandon(self.connection)

    def now(self) -> str:
        """The current time in UTC, as stored: `2026-11-25T10:32:45+00:00`."""
        return self.clock().astimezone(UTC).isoformat(timespec="seconds")

    def data_version(self) -> int:
        """A number that changes when another connection writes to the file."""
        return int(self.connection.execute("PRAGMA data_version").fetchone()[0])

    def rows(self, sql: str, values: Sequence[Any] | dict[str, Any] = ()) -> list[Row]:
        """All rows of a query. Raises DamagedLibraryError for a value of the wrong type."""
        with sqlite_errors_of(self.path):
            cursor = self.connection.execute(sql, values)
            return self._validated(cursor, cursor.fetchall())

    def row(self, sql: str, values: Sequence[Any] | dict[str, Any] = ()) -> Row | None:
        """The first row, or None. Raises DamagedLibraryError for a value of the wrong type."""
        with sqlite_errors_of(self.path):
            cursor = self.connection.execute(sql, values)
            row: Row | None = cursor.fetchone()
            return None if row is None else self._validated(cursor, [row])[0]

    def existing_row(self, sql: str, values: Sequence[Any] = ()) -> Row:
        """A row that another row refers to. Raises DamagedLibraryError if it does not exist."""
        row = self.row(sql, values)
        if row is None:
            raise DamagedLibraryError(
                f"{self.path} is damaged: it names a row that is not there.",
                backup_remedy("Run `hingeleaf doctor`"),
            )
        return row

    def _validated(self, cursor: sqlite3.Cursor, rows: list[Row]) -> list[Row]:
        return validate_rows(self.path, [column[0] for column in cursor.description or ()], rows)

    def value(self, sql: str, values: Sequence[Any] | dict[str, Any] = ()) -> Any:
        """The first value of the first row, or None."""
        row = self.row(sql, values)
        return None if row is None else row[0]

    def column(self, sql: str, values: Sequence[Any] | dict[str, Any] = ()) -> list[Any]:
        """The first column of all rows."""
        return [row[0] for row in self.rows(sql, values)]

    @contextmanager
    def write(self, message: str) -> Iterator[Change]:
        """One change, applied completely or not at all, and undone as one.

        A change within a change joins it. Raises LibraryWriteError if the file cannot be written.
        """
        if self._change is not None:
            with self._change.part():
                yield self._change
            return
        self.prepare_first_change()
        with self.transaction():
            self._change = Change(self.connection, message, self.now())
            try:
                yield self._change
                self._change.record()
            finally:
                self._change = None

    def prepare_first_change(self) -> None:
        """Run `before_first_change` before the first change of this connection."""
        prepare, self.before_first_change = self.before_first_change, None
        if prepare and self.writable:
            prepare(self)

    @contextmanager
    def transaction(self) -> Iterator[None]:
        """All or nothing, invisible to others before its end.

        Raises LibraryWriteError, or LibraryMovedError if the file at the library's path is no
        longer the one that was opened: the change is then in a copy next to it.
        """
        if not self.writable:
            raise read_only(self.path)
        with sqlite_errors_of(self.path):
            self._begin()
            try:
                yield
                self.connection.execute("COMMIT")
            except BaseException:
                if self.connection.in_transaction:
                    self.connection.execute("ROLLBACK")
                raise
        if self._copy:
            raise LibraryMovedError(
                f"{self.path.name} was moved or replaced while it was open: nothing more is "
                "written to it.",
                f"Your change is in {_shortest_path(self._copy, self.path)}; "
                "`hingeleaf restore --whole` puts that back.",
                self._copy,
            )

    @contextmanager
    def best_effort(self) -> Iterator[None]:
        """Write optional data; skipped if that would mean waiting or failing."""
        timeout, self.timeout = self.timeout, 0.0
        try:
            with suppress(LibraryWriteError):
                yield
        finally:
            self.timeout = timeout

    def _begin(self) -> None:
        """Begin to write, in a copy if the file is no longer the one that was opened."""
        try:
            self._wait_and_begin()
        except sqlite3.OperationalError:
            if self._copy or self._is_in_place():
                raise
        if not (self._copy or self._is_in_place()):
            if self.connection.in_transaction:
                self.connection.execute("ROLLBACK")
            self._continue_in_copy()
            self.connection.execute("BEGIN IMMEDIATE")

    def _wait_and_begin(self) -> None:
        """Take the write lock as soon as it is free; warn if that takes a while."""
        delay = min(self.timeout, NOTICE_DELAY)
        try:
            self._begin_within(delay)
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY or self.timeout <= delay:
                raise
            warnings.warn(
                f"Waiting until another program has written to {self.path.name}.",
                LibraryNotice,
                stacklevel=2,
            )
            self._begin_within(self.timeout - delay)

    def _begin_within(self, seconds: float) -> None:
        self.connection.execute(f"PRAGMA busy_timeout = {int(seconds * 1000)}")
        try:
            self.connection.execute("BEGIN IMMEDIATE")
        finally:
            self.connection.execute(f"PRAGMA busy_timeout = {int(self.timeout * 1000)}")

    def _is_in_place(self) -> bool:
        """Whether the file and its log are still those that were opened, and still a library."""
        try:
            return self._files is None or (
                self._files == _files_at(self.path) and read_header(self.path) is not None
            )
        except NotALibraryError:
            return False

    def _continue_in_copy(self) -> None:
        copy = self.path.with_name(f"{self.path.stem}-kept-{self.clock():%Y-%m-%d-%H%M%S}.db")
        try:
            copy_to(self.connection, copy)
        except LibraryWriteError:  # the folder is gone as well
            copy = Path(tempfile.gettempdir()) / copy.name
            copy_to(self.connection, copy)
        abandon(self.connection)
        self.connection = plain_connection(copy, "mode=rw", BUSY_TIMEOUT)
        self._copy = copy

    def setting(self, name: str) -> str | None:
        """A stored setting of this library, or None."""
        found: str | None = self.value("SELECT value FROM setting WHERE name = ?", (name,))
        return found

    def set_settings(self, values: dict[str, str]) -> None:
        """Store settings of this library; not part of the history."""
        self.executemany("INSERT OR REPLACE INTO setting VALUES (?, ?)", values.items())

    def executemany(self, sql: str, values: Iterable[Sequence[Any]]) -> None:
        """Write caches, i.e. recomputable data, outside the history."""
        if self._change is not None:
            self.connection.executemany(sql, values)
            return
        with self.transaction():
            self.connection.executemany(sql, values)

    def _migrate(self) -> None:
        version = self.value("PRAGMA user_version")
        refuse_newer(self.path, version)
        if version == SCHEMA_VERSION:
            return
        from sqlite_utils import Database as Tables

        from hingeleaf.catalogue import migrations

        if version:
            self._copy_before_migration(version)
        with self.transaction():
            try:
                migrations.apply(Tables(self.connection, execute_plugins=False))
            except sqlite3.DatabaseError as error:
                code = getattr(error, "sqlite_errorcode", sqlite3.SQLITE_ERROR)
                if code & 0xFF != sqlite3.SQLITE_ERROR:
                    raise
                raise DamagedLibraryError(
                    f"{self.path} is as it was: it cannot be brought up to date ({error}).",
                    backup_remedy(),
                ) from error

    def _copy_before_migration(self, version: int) -> None:
        """Copy the file before a migration, next to it, for use with the older program."""
        copy = self.path.with_name(f"{self.path.stem}.v{version}{self.path.suffix}")
        if self.writable and not copy.exists():
            copy_to(self.connection, copy)


def _create(path: Path) -> None:
    """Build a new library under a temporary name, then rename it: it is never incomplete."""
    with building_for(path) as building:
        with closing(sqlite3.connect(building, isolation_level=None)) as connection:
            connection.execute("PRAGMA synchronous = OFF")  # one wait for the disk, at the end
            Database(building, connection, writable=True)._migrate()
        if path.exists() and path.stat().st_size == 0:
            building.replace(path)
        else:
            put_in_place(building, path)  # or use the one that another program made meanwhile


def _shortest_path(file: Path, beside: Path) -> str:
    return f"{file.name} beside it" if file.parent == beside.parent else str(file)


def _files_at(path: Path) -> _Files:
    """Identity of the files at a library's path and its log's; None for one that does not exist."""
    found: list[FileId | None] = []
    for name in (path.name, path.name + "-wal"):
        try:
            found.append(file_id(path.with_name(name)))
        except OSError:
            found.append(None)
    return tuple(found)
