"""Two programs on one library, and programs that are killed in the middle of anything."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import subprocess
import sys
from collections import defaultdict
from contextlib import suppress
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random

import numpy as np
import pytest

from hingeleaf.catalogue.file_header import read_header
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import ChangedElsewhereError
from support.call_counts import calls, killed_at
from support.catalogue_motifs import is_sound, leaf, plain_square, taller
from support.catalogue_workload import Told, begin, check, work

pytestmark = pytest.mark.reliability

FORK = multiprocessing.get_context("fork")


def add_many(path: Path, name: str, count: int) -> None:
    with Library.open(path, timeout=60) as library:
        library.db.connection.execute("PRAGMA synchronous = NORMAL")
        for number in range(count):
            given = library.add(plain_square("square", number), original=f"{name}{number}".encode())
            library.tags.change([given], add=[name, f"{name}/{number % 3}"])


def test_two_programs_write_and_nothing_is_lost(tmp_path: Path) -> None:
    path = tmp_path / "library.db"
    Library.open(path).close()
    both = [FORK.Process(target=add_many, args=(path, name, 25)) for name in ("desk", "shed")]
    for process in both:
        process.start()
    for process in both:
        process.join(120)
        assert process.exitcode == 0
    with Library.open(path) as library:
        assert library.count() == 50
        assert library.count("tag:desk") == library.count("tag:shed") == 25
        numbers = {int(name.partition("-")[2] or 1) for name in library.names()}
        assert numbers == set(range(1, 51)), "both drew from one row of names"
        originals = {library.original(name) for name in library.names()}
        assert len(originals) == 50
        while library.undo():
            pass
        assert library.count() == 0
    assert is_sound(path)


def test_the_second_sees_a_changed_motif_and_does_not_overwrite_it(tmp_path: Path) -> None:
    path = tmp_path / "library.db"
    with Library.open(path) as desk, Library.open(path) as shed:
        desk.add(leaf("wren"))
        mine, theirs = desk.motif("wren"), shed.motif("wren")
        stamp = desk.data_version()
        shed.update(taller(theirs), expected_revision=theirs.revision, base=theirs)
        assert desk.data_version() != stamp, "the desk can see that something happened"
        with pytest.raises(ChangedElsewhereError):
            desk.update(taller(mine, 2), expected_revision=mine.revision, base=mine)
        assert desk.motif("wren").size == pytest.approx(50)
        again = desk.motif("wren")
        desk.update(taller(again, 2), expected_revision=again.revision, base=again)
        assert shed.motif("wren").size == pytest.approx(100)


LOOK_AND_LEAVE = """
import sys
from pathlib import Path
from hingeleaf.catalogue.store import Library
with Library.open(Path(sys.argv[1])) as library:
    print(*library.names())
"""


def names_seen_elsewhere(path: Path) -> list[str]:
    """What a program that comes and goes finds."""
    command = [sys.executable, "-c", LOOK_AND_LEAVE, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return done.stdout.split()


def test_a_second_look_from_here_keeps_others_from_taking_the_log_away(tmp_path: Path) -> None:
    """sqlite.org/howtocorrupt.html, 2.2: closing a descriptor drops every lock of its process."""
    path = tmp_path / "library.db"
    with Library.open(path) as library:
        library.add(plain_square("oak", 1))
        Library.open(path).close()
        read_header(path)
        assert names_seen_elsewhere(path) == ["oak"]
        library.rename("oak", "ash")
        with Library.open(path) as again:
            assert again.names() == ["ash"]
        assert names_seen_elsewhere(path) == ["ash"]
    assert names_seen_elsewhere(path) == ["ash"]


@pytest.mark.parametrize("gone", ["closed", "forgotten"])
def test_nothing_stays_open_after_the_last_connection(tmp_path: Path, gone: str) -> None:
    path = tmp_path / "library.db"
    library = Library.open(path)
    for _ in range(3):
        read_header(path)
    assert len(open_files(path)) == 2, "SQLite's and ours"
    if gone == "closed":
        library.close()
    del library
    gc.collect()
    assert not open_files(path)


def open_files(path: Path) -> list[str]:
    """Descriptors of this process on a file (proc(5))."""
    found = []
    for entry in Path("/proc/self/fd").iterdir():
        with suppress(OSError):
            if entry.samefile(path):
                found.append(entry.name)
    return found


def test_undo_takes_back_the_newest_change_whoever_made_it(tmp_path: Path) -> None:
    path = tmp_path / "library.db"
    with Library.open(path) as desk, Library.open(path) as shed:
        desk.add(leaf("wren"))
        shed.tags.change(["wren"], add=["bird"])
        assert desk.undo() == "Tag wren +bird"
        assert shed.tags.of("wren") == ()
        assert shed.redo() == "Tag wren +bird"
        assert desk.tags.of("wren") == ("bird",)


def work_for_ever(path: Path, seed: int, told: Connection) -> None:
    with Library.open(path) as library:
        told.send(("ready", ""))
        for _ in work(library, seed, lambda kind, what: told.send((kind, what))):
            pass


def kill_while_working(folder: Path, times: int, chance: int) -> None:
    path, random = begin(folder), Random(chance)
    told: Told = defaultdict(list)
    for seed in range(times):
        ours, theirs = FORK.Pipe(duplex=False)
        child = FORK.Process(target=work_for_ever, args=(path, seed, theirs))
        child.start()
        theirs.close()
        for _ in range(random.randrange(12)):
            kind, what = ours.recv()
            told[kind].append(what)
        assert child.pid is not None
        os.kill(child.pid, signal.SIGKILL)
        child.join()
        with suppress(EOFError):
            while True:
                kind, what = ours.recv()
                told[kind].append(what)
        check(path, told)
    del told["ready"]
    assert sum(map(len, told.values())) > times, "some of what they did was waited for"


def test_killed_at_random_moments_nothing_acknowledged_is_lost(
    tmp_path: Path, effort: float, chance: int
) -> None:
    kill_while_working(tmp_path, round(12 * effort), chance)


@pytest.mark.parametrize("part", np.linspace(0, 1, 12))
def test_killed_while_creating_leaves_no_half_library(tmp_path: Path, part: float) -> None:
    """At a call some part of the way through the work, which is counted beforehand."""
    total = calls(lambda path: add_many(path, "desk", 3), tmp_path / "counted.db")
    path = tmp_path / "library.db"
    killed_at(1 + round(part * total), lambda: add_many(path, "desk", 3))
    if path.exists():
        assert is_sound(path)
    with Library.open(path) as library:
        library.add(leaf("wren"))
        assert "wren" in library.names()
