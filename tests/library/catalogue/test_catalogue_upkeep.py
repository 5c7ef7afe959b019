"""Backups while in use, and the doctor: what it finds, what it mends, what it leaves alone."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from pathlib import Path

import pytest
from shapely import MultiPolygon, box

from hingeleaf.catalogue.file_copies import free_path, put_in_place
from hingeleaf.catalogue.integrity import IntegrityProblem
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import LibraryWriteError
from hingeleaf.model import Field, Placement, Pose, Severity
from hingeleaf.tasks import finish
from support.catalogue_motifs import dump, is_sound, leaf, plain_square, quick, taller


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    with quick(tmp_path / "library.db") as library:
        library.add(leaf("wren", tags=("bird",)), original=b"<svg/>" * 9, original_name="wren.svg")
        library.add(leaf("moth"), likeness=[1, 2])
        library.panels.save("nora", {}, [Placement("wren", 1, Pose(0, 0, 0, 25))])
        library.trials.record("wren", "card-220", [(25, "held")])
        yield library


def examine(library: Library, *, repair: bool = False) -> list[IntegrityProblem]:
    return finish(library.examine(repair=repair))


def harm(library: Library, sql: str) -> None:
    """Change the file behind the catalogue's back."""
    library.db.connection.execute("PRAGMA foreign_keys = OFF")
    library.db.connection.execute(sql)
    library.db.connection.execute("PRAGMA foreign_keys = ON")


def test_a_sound_library_has_no_ailment(library: Library) -> None:
    assert examine(library) == []


HARMS = {
    "references": "UPDATE motif SET source_id = 77",
    "words": "INSERT INTO motif_words (motif_words, rowid, name, notes) "
    "VALUES ('delete', 1, 'wren', '')",
    "numbers": "UPDATE motif SET size = 1, hold = 'flat' WHERE name = 'wren'",
    "missing": "DELETE FROM revision WHERE motif_id = 2",
    "geometry": "UPDATE revision SET windows = x'0102' WHERE motif_id = 2",
    "original": "UPDATE original SET content = x'789c0300000000 01'".replace(" 01", "01"),
    "orphans": "DELETE FROM history",
}
MENDED = {"words", "numbers", "orphans"}


@pytest.mark.parametrize("kind", HARMS)
def test_every_harm_is_found_and_only_what_is_safe_is_mended(library: Library, kind: str) -> None:
    if kind == "orphans":
        library.undo()
        library.add(plain_square("passing", 1), original=b"gone")
        library.undo()
    harm(library, HARMS[kind])
    before = dump(library)
    found = examine(library)
    assert kind in {problem.kind for problem in found}
    assert dump(library) == before, "looking changes nothing"
    mended = examine(library, repair=True)
    assert {problem.kind for problem in mended if problem.repaired} == ({kind} & MENDED)
    left = {problem.kind for problem in examine(library)}
    assert (kind in left) == (kind not in MENDED)
    if kind != "numbers":
        assert dump(library) == before, "what the user made is left alone"


def test_repaired_numbers_are_those_of_the_geometry(library: Library) -> None:
    rows = library.search()
    harm(library, HARMS["numbers"])
    assert library.search() != rows
    examine(library, repair=True)
    assert library.search() == rows


def test_of_many_wrong_sizes_five_are_named_and_the_rest_counted(library: Library) -> None:
    for number in range(5):
        library.add(plain_square("oak", number))
    harm(library, "UPDATE motif SET size = 1")
    (wrong,) = (problem for problem in examine(library) if problem.kind == "numbers")
    assert "wren, moth, oak, oak-2, oak-3 and 2 more" in wrong.message
    harm(library, "UPDATE motif SET size = (SELECT size FROM revision r WHERE r.motif_id = id)")
    harm(library, "UPDATE motif SET size = 1 WHERE name < 'n'")
    (wrong,) = (problem for problem in examine(library) if problem.kind == "numbers")
    assert wrong.message.endswith("stale for moth.")


@pytest.mark.parametrize("checksum", [bytes(32), b"\xff" * 32])
def test_an_original_with_another_checksum_is_damaged(library: Library, checksum: bytes) -> None:
    rows = library.db.connection
    rows.execute("UPDATE original SET sha256 = ? WHERE id = 1", (checksum,))
    assert [problem.kind for problem in examine(library)] == ["original"]


def test_a_finished_copy_takes_no_name_that_is_taken(library: Library, tmp_path: Path) -> None:
    copy, taken = tmp_path / "copy", tmp_path / "taken.db"
    for file in (copy, taken):
        file.write_text(file.name)
    assert not put_in_place(copy, taken) and taken.read_text() == "taken.db"
    assert free_path(taken) == tmp_path / "taken-2.db"
    assert put_in_place(copy, free_path(taken))
    assert free_path(taken) == tmp_path / "taken-3.db"
    assert free_path(tmp_path / "free.db") == tmp_path / "free.db"


def test_a_panel_whose_field_lost_a_part_has_none(library: Library) -> None:
    area = MultiPolygon([box(0, 0, 9, 9)])
    field = Field("letter", "M", area, area, ((0.0, 9.0), (4.5, -0.5)))
    library.panels.save("maud", {}, [], field=field)
    assert library.panels.get("maud").field == field
    for column in ("area", "outline"):
        harm(library, f"UPDATE panel SET {column} = NULL WHERE name = 'maud'")
        assert library.panels.get("maud").field is None


def test_a_repaired_word_index_finds_again(library: Library) -> None:
    harm(library, HARMS["words"])
    assert library.names("wren") == []
    examine(library, repair=True)
    assert library.names("wren") == ["wren"]


def test_what_redo_could_bring_back_is_no_orphan(library: Library) -> None:
    library.add(leaf("gull"), original=b"gull")
    library.undo()
    assert examine(library, repair=True) == []
    library.redo()
    assert library.original("gull") is not None


def test_old_revisions_are_no_orphans(library: Library) -> None:
    for _ in range(2):
        motif = library.motif("moth")
        library.update(taller(motif), expected_revision=motif.revision)
    library.undo()
    assert examine(library, repair=True) == []
    assert [past.number for past in library.revisions("moth")] == [1, 2, 3]


def test_a_page_that_went_bad_is_an_ailment_not_a_crash(library: Library) -> None:
    path = library.path
    library.close()
    content = bytearray(path.read_bytes())
    root = _page_of(path, "revision")
    content[root * 4096 : (root + 1) * 4096] = b"\xa5" * 4096
    path.write_bytes(content)
    with Library.open(path) as damaged:
        found = examine(damaged)
    assert any(
        problem.kind == "integrity" and problem.severity is Severity.FAULT for problem in found
    )


def _page_of(path: Path, table: str) -> int:
    with Library.open(path) as library:
        page = library.db.value("SELECT rootpage FROM sqlite_schema WHERE name = ?", (table,))
    return int(page) - 1


def test_a_copy_left_by_a_stopped_program_is_reported(library: Library) -> None:
    left = library.path.with_name(".library.db.4711.new")
    left.touch()
    (problem,) = examine(library)
    assert str(left) in problem.message and problem.severity is Severity.NOTE
    assert left.exists()


def test_a_backup_is_the_same_library(library: Library, tmp_path: Path) -> None:
    library.backup(tmp_path / "copies" / "backup.db")
    with Library.open(tmp_path / "copies" / "backup.db") as copy:
        assert dump(copy) == dump(library)
        for table in ("revision", "original", "likeness", "history"):
            question = f"SELECT * FROM {table}"
            assert copy.db.rows(question) == library.db.rows(question)
        assert copy.undo() == "Record 1 trials of wren"
    assert is_sound(tmp_path / "copies" / "backup.db")


def test_a_backup_never_writes_over_a_file(library: Library, tmp_path: Path) -> None:
    (tmp_path / "precious").write_text("mine")
    with pytest.raises(LibraryWriteError, match="exists already"):
        library.backup(tmp_path / "precious")
    assert (tmp_path / "precious").read_text() == "mine"
    assert not list(tmp_path.glob(".*.new"))


def test_a_backup_while_another_writes_is_whole(library: Library, tmp_path: Path) -> None:
    begun, stop = threading.Event(), threading.Event()
    written = []

    def write() -> None:
        with Library.open(library.path, create=False) as second:
            second.db.connection.execute("PRAGMA synchronous = OFF")
            while not stop.is_set():
                with second.change("Two"):
                    for _ in range(2):
                        written.append(second.add(plain_square("square", len(written))))
                begun.set()

    writer = threading.Thread(target=write)
    writer.start()
    try:
        assert begun.wait(60)
        for number in range(3):
            library.backup(tmp_path / f"{number}.db")
    finally:
        stop.set()
        writer.join()
    assert written
    for number in range(3):
        assert is_sound(tmp_path / f"{number}.db")
        with Library.open(tmp_path / f"{number}.db") as copy:
            assert copy.count("square") % 2 == 0, "no half change"
