"""Recognise library files: by the two numbers in SQLite's header, and by their schema."""

import hashlib
import re
import sqlite3
from dataclasses import dataclass
from pathlib import Path

from hingeleaf.catalogue.locks import read_start
from hingeleaf.errors import LibraryWriteError, NewerLibraryError, NotALibraryError, reason_of

APPLICATION_ID = 0x48_4C_66_31
"""`HLf1` in ASCII, at byte 68 of the file (SQLite file format, section 1.3)."""

SCHEMA_VERSION = 12
"""Number of migrations in migrations.py."""

SCHEMA_DIGESTS = {
    1: "9c0893dc9dae32c6c9382229fe00e7b2",
    2: "6c019caf825178e58214a51a73c4b1be",
    3: "6d0d79cb8f2c13b8ad88c1a506236c7d",
    4: "8b7dd9f76b3aa54222d2167ea71bb9f0",
    5: "a17429cefa6ba6a192bdb80a4ecd0018",
    6: "cfb8b8f937663ddad62ba0dc0932ad65",
    7: "a806eddd61dc090a97c6a53600e83f3d",
    8: "887ef72a621e0aaa88606db1db63cb39",
    9: "6d59b89c6d236ce019b3ba7c07154e7a",
    10: "f88af0327b3e421179343895610dd0d3",
    11: "d11fe4767304ef356a6c0877d37be605",
    12: "8c9c85d5e88d95e1f409d824f22acf6d",
}
"""Result of `schema_digest` after each migration."""

_MAGIC = b"SQLite format 3\0"
_HEADER_BYTES = 100
"""SQLite's file format, 1.3."""
_NAME_ANOTHER = "Name another file; without --library your own library is used."


@dataclass(frozen=True, slots=True)
class Header:
    """What the first hundred bytes tell."""

    write_ahead: bool


def read_header(path: Path) -> Header | None:
    """The header of a library file, or None if the file is empty.

    Reads a hundred bytes without connecting, so a refused file is never touched. Raises
    NotALibraryError, NewerLibraryError, or LibraryWriteError if the file may not be read.
    """
    try:
        if not path.is_file() and path.exists() and not path.is_dir():
            raise NotALibraryError(
                f"{path} is a device or a pipe, not a library file.", _NAME_ANOTHER
            )
        head = read_start(path, _HEADER_BYTES)
    except FileNotFoundError as error:
        raise NotALibraryError(
            f"There is no library at {path}.",
            "`hingeleaf add` begins one; --library names another.",
        ) from error
    except IsADirectoryError as error:
        raise NotALibraryError(f"{path} is a folder, not a library file.", _NAME_ANOTHER) from error
    except OSError as error:
        raise LibraryWriteError(
            f"{path} cannot be read ({reason_of(error)}).", "Check the permissions of the file."
        ) from error
    if not head:
        return None
    if len(head) < _HEADER_BYTES or not head.startswith(_MAGIC):
        raise NotALibraryError(f"{path} is not a Hingeleaf library.", _NAME_ANOTHER)
    if _number(head, 68) != APPLICATION_ID:
        raise NotALibraryError(f"{path} is the database of another program.", _NAME_ANOTHER)
    refuse_newer(path, _number(head, 60))
    return Header(write_ahead=head[18] == 2)


def refuse_newer(path: Path, version: int) -> None:
    """Raise NewerLibraryError if a file has migrations that this program does not know."""
    if version > SCHEMA_VERSION:
        raise NewerLibraryError(
            f"{path} was written by a newer Hingeleaf (library version {version}, "
            f"this program knows {SCHEMA_VERSION}).",
            "Update Hingeleaf and try again; nothing was changed.",
        )


def _number(head: bytes, offset: int) -> int:
    return int.from_bytes(head[offset : offset + 4], "big")


def refuse_unknown_schema(path: Path, connection: sqlite3.Connection) -> None:
    """Raise NotALibraryError unless the schema is exactly the one made by our migrations.

    So no foreign trigger or view ever runs. Raises NewerLibraryError.
    """
    before, version = -1, _user_version(connection)
    while before != version:  # while another program migrates the file
        before, digest = version, schema_digest(connection)
        version = _user_version(connection)
    refuse_newer(path, version)
    if digest != SCHEMA_DIGESTS.get(version):
        raise NotALibraryError(
            f"{path} does not have the structure of a Hingeleaf library.",
            "Ask for another copy of it.",
        )


def _user_version(connection: sqlite3.Connection) -> int:
    version: int = connection.execute("PRAGMA user_version").fetchone()[0]
    return version


def schema_digest(connection: sqlite3.Connection) -> str:
    """A digest of the tables, indexes, views and triggers of a file.

    Of the tables made by SQLite's word index and sqlite-utils only type and name count, since their
    SQL differs between versions.
    """
    question = "SELECT type, name, tbl_name, sql FROM sqlite_schema ORDER BY type, name"
    known = [
        (kind, name, table, "" if _GENERATED_TABLES.fullmatch(name) else sql)
        for kind, name, table, sql in connection.execute(question)
        if not name.startswith("sqlite_stat")
    ]
    return hashlib.sha256(repr(known).encode()).hexdigest()[:32]


_GENERATED_TABLES = re.compile(r"\w+_words_(data|idx|docsize|config)|_sqlite_migrations")
