"""Two programs on one library, and programs that are killed in the middle of anything."""

from __future__ import annotations

import gc
import multiprocessing
import os
import signal
import subprocess
import sys
from collections import Counter, defaultdict
from contextlib import suppress
from multiprocessing.connection import Connection
from pathlib import Path
from random import Random

import numpy as np
import pytest

from catalogue_motifs import dump, is_sound, leaf, plain_square, quick, taller
from counted import calls, killed_at
from hingeleaf.catalogue.file_header import read_header
from hingeleaf.catalogue.library_diff import ItemKind
from hingeleaf.catalogue.restore import Resolution
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import ChangedElsewhereError
from hingeleaf.model import Placement, Pose
from hingeleaf.tasks import finish

pytestmark = pytest.mark.reliability

FORK = multiprocessing.get_context("fork")


def add_many(path: Path, name: str, count: int) -> None:
    with Library.open(path, patience=60) as library:
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
        stamp = desk.stamp()
        shed.update(taller(theirs), expected_revision=theirs.revision, base=theirs)
        assert desk.stamp() != stamp, "the desk can see that something happened"
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


Told = dict[str, list[str]]
"""What a program was told is done, by kind: it may be killed, but this must last."""


class Worker:
    """Does all kinds of things, telling each one only after the library has acknowledged it."""

    def __init__(self, library: Library, seed: int, told: Connection) -> None:
        self.library, self.seed, self.told = library, seed, told
        self.number = 0

    def add(self) -> None:
        name = self.library.add(plain_square("single", self.number), original=os.urandom(2000))
        self.told.send(("single", name))

    def batch(self) -> None:
        stem = f"batch-{self.seed}x{self.number}"
        with self.library.change(stem):
            for _ in range(4):
                self.library.add(plain_square(stem, self.number), original=b"b")
        self.told.send(("batch", stem))

    def edit(self) -> None:
        motif = self.library.motif("base")
        number = self.library.update(taller(motif, 1.0001), expected_revision=motif.revision)
        self.told.send(("revision", str(number)))

    def tag(self) -> None:
        tag = f"t{self.seed}-{self.number}"
        self.library.tags.change(["base"], add=[tag])
        self.told.send(("tag", tag))

    def merge(self) -> None:
        tags = [tag for tag in self.library.tags.of("base") if tag.startswith("t")][:3]
        self.told.send(("to merge", " ".join(tags)))
        self.library.tags.merge(tags, "all")
        self.told.send(("merged", " ".join(tags)))

    def panel(self) -> None:
        self.library.panels.save(f"p{self.seed}-{self.number}", {}, [_stand("base")] * 3)
        self.told.send(("panel", f"p{self.seed}-{self.number}"))

    def trial(self) -> None:
        self.library.trials.record("base", "card", [(10, "held"), (20, "held")])
        self.told.send(("trials", ""))

    def restore(self) -> None:
        gift = self.library.path.with_name("gift.db")
        found = finish(self.library.compare(gift))
        both = {(ItemKind.MOTIF, name): Resolution.COPY for name in ("one-given", "two-given")}
        names = finish(self.library.restore(gift, found, both))
        self.told.send(("restored", names["two-given"]))

    def undo(self) -> None:
        self.library.tags.change(["base"], add=[f"passing{self.seed}-{self.number}"])
        self.library.undo()


def _stand(name: str) -> Placement:
    return Placement(name, 1, Pose(0, 0, 0, 20))


DEEDS = (
    Worker.add,
    Worker.batch,
    Worker.edit,
    Worker.tag,
    Worker.merge,
    Worker.panel,
    Worker.trial,
    Worker.restore,
    Worker.undo,
)


def work_for_ever(path: Path, seed: int, told: Connection) -> None:
    random = Random(seed)
    with Library.open(path) as library:
        worker = Worker(library, seed, told)
        told.send(("ready", ""))
        while True:
            worker.number += 1
            random.choice(DEEDS)(worker)


def check(path: Path, told: Told) -> None:
    """Everything that was acknowledged is there, and nothing is half there."""
    assert is_sound(path)
    with Library.open(path) as library:
        names = library.names()
        assert set(told["single"]) <= set(names)
        assert all(library.original(name) for name in told["single"][-5:])
        batches = Counter(
            name.removeprefix("batch-").split("-")[0] for name in names if name.startswith("batch-")
        )
        assert set(batches.values()) <= {4}
        assert {stem.removeprefix("batch-") for stem in told["batch"]} <= set(batches)
        tags = set(library.tags.of("base"))
        merging = {tag for some in told["to merge"] for tag in some.split()}
        merged = {tag for some in told["merged"] for tag in some.split()}
        assert set(told["tag"]) <= tags | merging and not merged & tags
        assert not merged or "all" in tags
        assert library.motif("base").revision >= max(map(int, told["revision"]), default=1)
        trials = len(library.trials.all())
        assert trials % 2 == 0 and trials >= 2 * len(told["trials"])
        given = Counter(name[:9] for name in names if name[3:9] == "-given")
        assert given["one-given"] == given["two-given"] and set(told["restored"]) <= set(names)
        panels = {row.name: row.count for row in library.panels.all()}
        assert set(panels.values()) <= {3} and set(told["panel"]) <= set(panels)
        state = dump(library)
        assert library.undo() is not None
        library.redo()
        assert dump(library) == state


def kill_while_working(folder: Path, times: int, chance: int) -> None:
    path = folder / "library.db"
    random = Random(chance)
    with quick(folder / "giver.db") as giver:
        for name in ("one given", "two given"):
            giver.add(leaf(name), original=name.encode() * 300)
        giver.bundle(folder / "gift.db", giver.names())
    with Library.open(path) as library:
        library.add(leaf("base"))
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
