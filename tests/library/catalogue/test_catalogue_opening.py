"""Opening: new files, foreign, newer, damaged, locked, read-only, on a full disk, on a share."""

from __future__ import annotations

import multiprocessing
import os
import sqlite3
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from hingeleaf.catalogue import connections, database
from hingeleaf.catalogue.connections import is_network_share
from hingeleaf.catalogue.file_header import APPLICATION_ID, SCHEMA_VERSION
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import (
    DamagedLibraryError,
    LibraryNotice,
    LibraryWriteError,
    NewerLibraryError,
    NotALibraryError,
    UsageError,
)
from hingeleaf.tasks import finish
from support.catalogue_motifs import dump, is_sound, leaf, plain_square, quick, taller

FORK = multiprocessing.get_context("fork")


def a_library(path: Path) -> Path:
    with Library.open(path) as library:
        library.add(leaf("wren", tags=("bird",)), original=b"<svg/>", original_name="wren.svg")
    return path


def state(folder: Path) -> dict[str, tuple[bytes, int]]:
    """Content and time of every file in a folder."""
    return {
        item.name: (item.read_bytes(), item.stat().st_mtime_ns)
        for item in folder.iterdir()
        if item.is_file()
    }


def foreign_text(path: Path) -> None:
    path.write_text("a shopping list that is longer than the hundred bytes of a header " * 3)


def short(path: Path) -> None:
    path.write_bytes(b"SQLite format 3\0")


def foreign_database(path: Path) -> None:
    with sqlite3.connect(path) as connection:
        connection.execute("CREATE TABLE recipe (name TEXT)")


def foreign_database_with_number(path: Path) -> None:
    foreign_database(path)
    with sqlite3.connect(path) as connection:
        connection.execute("PRAGMA application_id = 0x0f055112")


@pytest.mark.parametrize(
    "make", [foreign_text, short, foreign_database, foreign_database_with_number]
)
@pytest.mark.parametrize("create", [True, False])
def test_a_foreign_file_is_refused_untouched(
    tmp_path: Path, make: Callable[[Path], None], create: bool
) -> None:
    make(tmp_path / "other.db")
    before = state(tmp_path)
    with pytest.raises(NotALibraryError) as caught:
        Library.open(tmp_path / "other.db", create=create)
    assert "other.db" in caught.value.message and caught.value.remedy
    assert state(tmp_path) == before


STRANGE = {
    "a trigger": "CREATE TRIGGER harm AFTER UPDATE ON motif BEGIN DELETE FROM motif; END",
    "an endless view": "ALTER TABLE tag RENAME TO old_tag; CREATE VIEW tag AS "
    "WITH RECURSIVE n(id, name) AS (SELECT 1, 'a' UNION ALL SELECT id + 1, 'a' FROM n) "
    "SELECT * FROM n",
    "a column": "ALTER TABLE motif ADD COLUMN more TEXT",
    "a changed column": "ALTER TABLE motif RENAME COLUMN notes TO remarks",
    "a table": "CREATE TABLE more (name TEXT)",
    "no index": "DROP INDEX motif_source",
}


@pytest.mark.parametrize("sql", STRANGE.values(), ids=STRANGE)
def test_a_library_that_is_built_otherwise_is_refused_untouched(tmp_path: Path, sql: str) -> None:
    path = a_library(tmp_path / "library.db")
    with sqlite3.connect(path) as connection:
        connection.executescript(sql)
    connection.close()
    before = path.read_bytes()
    with pytest.raises(
        NotALibraryError, match="does not have the structure of a Hingeleaf library"
    ):
        Library.open(path)
    assert path.read_bytes() == before


def test_a_newer_library_is_refused_untouched(tmp_path: Path) -> None:
    path = a_library(tmp_path / "library.db")
    with sqlite3.connect(path) as connection:
        connection.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
        connection.execute("PRAGMA journal_mode = DELETE")
    connection.close()
    before = state(tmp_path)
    with pytest.raises(NewerLibraryError, match="written by a newer Hingeleaf"):
        Library.open(path)
    assert state(tmp_path) == before


def test_a_newer_library_is_known_by_its_log(tmp_path: Path) -> None:
    """The newer version may still be in the write-ahead log only, after a crash."""
    path = a_library(tmp_path / "library.db")
    writer = sqlite3.connect(path)
    writer.execute(f"PRAGMA user_version = {SCHEMA_VERSION + 1}")
    main = path.read_bytes()
    assert int.from_bytes(main[60:64], "big") == SCHEMA_VERSION
    with pytest.raises(NewerLibraryError):
        Library.open(path)
    assert path.read_bytes() == main
    writer.close()


def test_nothing_there(tmp_path: Path) -> None:
    with pytest.raises(NotALibraryError, match="There is no library at"):
        Library.open(tmp_path / "none.db", create=False)
    with pytest.raises(NotALibraryError, match="is a folder"):
        Library.open(tmp_path)
    (tmp_path / "empty.db").touch()
    with pytest.raises(NotALibraryError, match=r"empty\.db is empty"):
        Library.open(tmp_path / "empty.db", create=False)
    assert (tmp_path / "empty.db").stat().st_size == 0
    assert [item.name for item in tmp_path.iterdir()] == ["empty.db"]


@pytest.mark.parametrize("name", ["new.db", "folders/that/are/new.db", "100% ?#ä b.db"])
def test_a_new_library_stands_whole_in_its_place(tmp_path: Path, name: str) -> None:
    path = tmp_path / name
    with Library.open(path) as library:
        assert library.writable and library.count() == 0
        assert library.db.value("PRAGMA application_id") == APPLICATION_ID
    assert [item.name for item in path.parent.iterdir() if item.is_file()] == [path.name]
    assert is_sound(path)


@pytest.mark.parametrize("again", [False, True])
def test_a_change_that_is_told_as_done_is_on_the_disk(tmp_path: Path, again: bool) -> None:
    """FULL is 2: SQLite waits for the disk at every commit (sqlite.org, PRAGMA synchronous)."""
    path = tmp_path / "library.db"
    if again:
        a_library(path)
    with Library.open(path) as library:
        assert library.db.value("PRAGMA synchronous") == 2


@pytest.mark.parametrize("what", ["library", "backup", "bundle"])
def test_a_new_file_is_on_the_disk_before_it_takes_its_name_and_then_that_is(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, what: str
) -> None:
    path = a_library(tmp_path / "desk.db")
    target, synced, named = tmp_path / "target.db", [], []

    def note(handle: int) -> None:
        status = os.fstat(handle)
        if os.path.samestat(status, tmp_path.stat()):
            named.append(target.exists())
            return
        assert not target.exists()
        synced.append((status.st_ino, status.st_size))

    monkeypatch.setattr(os, "fsync", note)
    if what == "library":
        Library.open(target).close()
    else:
        with Library.open(path) as library:
            library.backup(target) if what == "backup" else library.bundle(target, ["wren"])
    assert (target.stat().st_ino, target.stat().st_size) in synced
    assert named[-1], "the folder is synced after the name was given"


def test_an_empty_file_becomes_a_library(tmp_path: Path) -> None:
    (tmp_path / "library.db").touch()
    assert is_sound(a_library(tmp_path / "library.db"))


@pytest.mark.reliability
def test_two_that_create_at_once_share_one_library(tmp_path: Path) -> None:
    path = tmp_path / "library.db"

    def create(name: str) -> None:
        with Library.open(path) as library:
            library.add(leaf(name))

    both = [FORK.Process(target=create, args=(name,)) for name in ("one", "two")]
    for process in both:
        process.start()
    for process in both:
        process.join(120)
        assert process.exitcode == 0
    with Library.open(path) as library:
        assert library.names() == ["one", "two"]


@pytest.mark.parametrize("page", range(1, 12))
def test_a_damaged_page_is_never_a_traceback(tmp_path: Path, page: int) -> None:
    path = a_library(tmp_path / "library.db")
    content = bytearray(path.read_bytes())
    start = max(100, (page - 1) * 4096)
    content[start : page * 4096] = b"\xa5" * (page * 4096 - start)
    path.write_bytes(content)
    found = []
    try:
        with Library.open(path) as library:
            found = finish(library.examine())
            (
                library.tags.counts(),
                library.search("wr b"),
                library.motif("wren"),
                library.panels.all(),
            )
    except DamagedLibraryError as error:
        assert error.remedy
        return
    assert found, "if everything can still be read, the doctor knows better"


def test_a_library_cut_short_is_damaged(tmp_path: Path) -> None:
    path = a_library(tmp_path / "library.db")
    path.write_bytes(path.read_bytes()[: 2 * 4096])
    with pytest.raises(DamagedLibraryError), Library.open(path) as library:
        library.search()


def test_another_programs_lock_is_waited_for_and_then_told(tmp_path: Path) -> None:
    path = a_library(tmp_path / "library.db")
    other = sqlite3.connect(path, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    with Library.open(path, timeout=0.1) as library:
        assert library.names() == ["wren"], "reading goes on"
        with pytest.raises(LibraryWriteError, match="written to by another program"):
            library.add(leaf("gull"))
        other.execute("ROLLBACK")
        library.add(leaf("gull"))
        assert library.names() == ["gull", "wren"]
    other.close()


def test_a_lock_is_waited_for_longer_than_until_it_is_told(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(database, "NOTICE_DELAY", 0.02)
    path = a_library(tmp_path / "library.db")
    other = sqlite3.connect(path, isolation_level=None, check_same_thread=False)
    other.execute("BEGIN IMMEDIATE")
    with Library.open(path, timeout=60) as library:
        library.db.before_first_change = None
        ends = threading.Timer(0.2, other.execute, ["ROLLBACK"])
        ends.start()
        with pytest.warns(LibraryNotice, match="Waiting until another program has written"):
            library.add(leaf("gull"))
        ends.join()
    other.close()


@pytest.mark.reliability
def test_a_full_disk_loses_nothing(tmp_path: Path) -> None:
    path = a_library(tmp_path / "library.db")
    with Library.open(path) as library:
        pages = library.db.value("PRAGMA page_count")
        library.db.value(f"PRAGMA max_page_count = {pages + 4}")
        before = dump(library)
        with (
            pytest.raises(
                LibraryWriteError,
                match=r"The disk is full: nothing was written to .* Free some space",
            ),
            library.change("Add many"),
        ):
            for number in range(200):
                library.add(plain_square("square", number), original=os.urandom(3000))
        assert dump(library) == before
        with pytest.raises(LibraryWriteError), library.change("Edit"):
            for _ in range(50):
                wren = library.motif("wren")
                library.update(taller(wren, 1.001), expected_revision=wren.revision)
        assert dump(library) == before
        library.db.value("PRAGMA max_page_count = 1000000")
        library.add(leaf("gull"))
    assert is_sound(path)


@pytest.mark.reliability
def test_a_full_disk_of_the_system_is_told_plainly(tmp_path: Path) -> None:
    """The limit on a process's file size fails writes as a full disk does (POSIX setrlimit)."""
    path = a_library(tmp_path / "library.db")
    script = """
import resource, signal, sys
from pathlib import Path
from support.catalogue_motifs import leaf
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import LibraryWriteError
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (40_000, 40_000))
with Library.open(Path(sys.argv[1])) as library:
    try:
        for number in range(100):
            library.add(leaf(str(number)), original=bytes(range(256)) * 40)
    except LibraryWriteError as error:
        print(error)
"""
    ran = subprocess.run(
        [sys.executable, "-c", script, str(path)],
        capture_output=True,
        text=True,
        check=True,
        env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[2])},
    )
    assert "disk" in ran.stdout.lower() and "Traceback" not in ran.stderr
    assert is_sound(path)
    with Library.open(path) as library:
        assert "wren" in library.names()


def test_a_full_disk_keeps_nobody_from_reading(tmp_path: Path) -> None:
    """A process that may make no file at all, as there is no room for SQLite's shared memory."""
    path = a_library(tmp_path / "library.db")
    script = """
import resource, signal, sys
from pathlib import Path
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import LibraryWriteError
signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
resource.setrlimit(resource.RLIMIT_FSIZE, (0, 0))
with Library.open(Path(sys.argv[1])) as library:
    print(library.names(), library.writable)
    try:
        library.tags.change(["wren"], add=["late"])
    except LibraryWriteError as error:
        print(error)
"""
    command = [sys.executable, "-c", script, str(path)]
    told = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert told.startswith("['wren'] False\n") and "read-only" in told
    assert is_sound(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes here")
def test_a_pipe_and_a_device_are_no_libraries(tmp_path: Path) -> None:
    os.mkfifo(tmp_path / "pipe.db")
    for path in (tmp_path / "pipe.db", Path("/dev/null"), Path("/dev/zero")):
        with pytest.raises(NotALibraryError, match="is a device or a pipe"):
            Library.open(path)


def test_a_name_that_is_too_long_is_told(tmp_path: Path) -> None:
    for length in (230, 300):
        with pytest.raises(LibraryWriteError, match="name too long"):
            Library.open(tmp_path / ("n" * length + ".db"))
    with pytest.raises(LibraryWriteError, match="name too long"):
        Library.open(tmp_path / ("n" * 218 + ".db"))
    with quick(tmp_path / ("n" * 217 + ".db")) as library:
        library.add(leaf("fern"))


def read_only_child(path: Path, results: multiprocessing.Queue[object]) -> None:
    """As a user who may read but not write (root may do everything)."""
    if os.getuid() == 0:
        os.setgroups([])
        os.setgid(65534)
        os.setuid(65534)
    try:
        with Library.open(path) as library:
            results.put((library.writable, library.names("wr"), library.motif("wren").tags))
            library.tags.change(["wren"], add=["nest"])
        results.put("written")
    except LibraryWriteError as error:
        results.put(str(error))


@pytest.mark.parametrize("folder_too", [True, False])
def test_a_read_only_library_can_be_looked_at(
    tmp_path_factory: pytest.TempPathFactory, folder_too: bool
) -> None:
    import tempfile

    with tempfile.TemporaryDirectory() as place:  # pytest's own folders are closed to others
        folder = Path(place) / "folder"
        folder.mkdir()
        path = a_library(folder / "library.db")
        path.chmod(0o444)
        folder.chmod(0o555 if folder_too else 0o777)
        Path(place).chmod(0o755)
        results: multiprocessing.Queue[object] = FORK.Queue()
        child = FORK.Process(target=read_only_child, args=(path, results))
        before = path.read_bytes()
        child.start()
        assert results.get(timeout=120) == (False, ["wren"], ("bird",))
        assert "is read-only. Make the file and its folder writable" in str(
            results.get(timeout=120)
        )
        child.join(120)
        folder.chmod(0o777)
        assert path.read_bytes() == before


def test_a_folder_that_cannot_be_written_is_told_plainly(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    with pytest.raises(LibraryWriteError, match="cannot be written"):
        Library.open(tmp_path / "file" / "library.db")


MOUNTS = """\
/dev/sda1 / ext4 rw 0 0
server:/home /home nfs4 rw 0 0
/dev/sdb1 /home/local\\040disk xfs rw 0 0
//nas/share /mnt/nas cifs rw 0 0
me@host: /mnt/ssh fuse.sshfs rw 0 0
"""


@pytest.mark.parametrize(
    ("place", "shared"),
    [
        ("/var/library.db", False),
        ("/home/library.db", True),
        ("/home/local disk/library.db", False),
        ("/homely/library.db", False),
        ("/mnt/nas/craft/library.db", True),
        ("/mnt/ssh/library.db", True),
    ],
)
def test_network_shares_are_recognised(tmp_path: Path, place: str, shared: bool) -> None:
    (tmp_path / "mounts").write_text(MOUNTS)
    assert is_network_share(Path(place), tmp_path / "mounts") is shared


def test_no_table_of_mounts(tmp_path: Path) -> None:
    assert is_network_share(Path("/somewhere"), tmp_path / "none") is False
    assert is_network_share(Path("//nas/share/library.db"), tmp_path / "none") is True


def test_a_library_on_a_share_keeps_no_write_ahead_log(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = a_library(tmp_path / "library.db")
    assert path.read_bytes()[18] == 2, "locally there is a log"
    mounts = tmp_path / "mounts"
    mounts.write_text(f"/dev/sda1 / ext4 rw 0 0\nserver:/ {tmp_path} nfs rw 0 0\n")
    monkeypatch.setattr(
        connections,
        "is_network_share",
        lambda place: is_network_share(place, mounts),
    )
    with Library.open(path) as library:
        assert library.db.value("PRAGMA journal_mode") == "delete"
        library.add(leaf("gull"))
        with Library.open(path) as second:
            assert second.names() == ["gull", "wren"]
            second.tags.change(["gull"], add=["harbour"])
        assert library.tags.counts() == [("bird", 1), ("harbour", 1)]
        assert not path.with_name("library.db-wal").exists()
    monkeypatch.undo()
    with Library.open(path) as library:
        assert library.db.value("PRAGMA journal_mode") == "wal"
    assert is_sound(path)


def test_signs_that_are_no_text_are_refused(tmp_path: Path) -> None:
    with quick(tmp_path / "library.db") as library, pytest.raises(UsageError, match="are not text"):
        library.motif("wren\udcff")


def test_opening_and_listing_load_no_geometry(tmp_path: Path) -> None:
    path = a_library(tmp_path / "library.db")
    script = (
        "import sys; from pathlib import Path; from hingeleaf.catalogue.store import Library\n"
        "library = Library.open(Path(sys.argv[1])); library.search('wr'); library.tags.counts()\n"
        "print([name for name in ('numpy', 'shapely', 'sqlite_utils') if name in sys.modules])"
    )
    ran = subprocess.run(
        [sys.executable, "-c", script, str(path)], capture_output=True, text=True, check=True
    )
    assert ran.stdout.strip() == "[]"
