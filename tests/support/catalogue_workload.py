"""A random workload of library changes, each reported when acknowledged, and a check for lost
ones."""

from __future__ import annotations

import os
from collections import Counter
from collections.abc import Callable, Iterator
from pathlib import Path
from random import Random

from hingeleaf.catalogue.library_diff import ItemKind, Resolution
from hingeleaf.catalogue.store import Library
from hingeleaf.model import Placement, Pose
from hingeleaf.tasks import finish
from support.catalogue_motifs import dump, is_sound, leaf, plain_square, quick, taller

Told = dict[str, list[str]]
"""Acknowledged changes by kind, which must survive when the program is killed."""
Tell = Callable[[str, str], object]


class Worker:
    """Makes random changes, and reports each after the library has acknowledged it."""

    def __init__(self, library: Library, seed: int, tell: Tell) -> None:
        self.library, self.seed, self.tell = library, seed, tell
        self.number = 0

    def add(self) -> None:
        name = self.library.add(plain_square("single", self.number), original=os.urandom(2000))
        self.tell("single", name)

    def batch(self) -> None:
        stem = f"batch-{self.seed}x{self.number}"
        with self.library.change(stem):
            for _ in range(4):
                self.library.add(plain_square(stem, self.number), original=b"b")
        self.tell("batch", stem)

    def edit(self) -> None:
        motif = self.library.motif("base")
        number = self.library.update(taller(motif, 1.0001), expected_revision=motif.revision)
        self.tell("revision", str(number))

    def tag(self) -> None:
        tag = f"t{self.seed}-{self.number}"
        self.library.tags.change(["base"], add=[tag])
        self.tell("tag", tag)

    def merge(self) -> None:
        tags = [tag for tag in self.library.tags.of("base") if tag.startswith("t")][:3]
        self.tell("to merge", " ".join(tags))
        self.library.tags.merge(tags, "all")
        self.tell("merged", " ".join(tags))

    def panel(self) -> None:
        self.library.panels.save(f"p{self.seed}-{self.number}", {}, [_stand("base")] * 3)
        self.tell("panel", f"p{self.seed}-{self.number}")

    def trial(self) -> None:
        self.library.trials.record("base", "card", [(10, "held"), (20, "held")])
        self.tell("trials", "")

    def restore(self) -> None:
        gift = self.library.path.with_name("gift.db")
        found = finish(self.library.compare(gift))
        both = {(ItemKind.MOTIF, name): Resolution.COPY for name in ("one-given", "two-given")}
        names = finish(self.library.restore(gift, found, both))
        self.tell("restored", names["two-given"])

    def undo(self) -> None:
        self.library.tags.change(["base"], add=[f"passing{self.seed}-{self.number}"])
        self.library.undo()


def _stand(name: str) -> Placement:
    return Placement(name, 1, Pose(0, 0, 0, 20))


CHANGES = (
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


def begin(folder: Path) -> Path:
    """Create a library, and beside it a bundle to restore from."""
    with quick(folder / "giver.db") as giver:
        for name in ("one given", "two given"):
            giver.add(leaf(name), original=name.encode() * 300)
        giver.bundle(folder / "gift.db", giver.names())
    with Library.open(folder / "library.db") as library:
        library.add(leaf("base"))
        return library.path


def work(library: Library, seed: int, tell: Tell) -> Iterator[None]:
    """Make one change after another, endlessly."""
    random, worker = Random(seed), Worker(library, seed, tell)
    while True:
        worker.number += 1
        random.choice(CHANGES)(worker)
        yield


def check(path: Path, told: Told) -> None:
    """Assert that every acknowledged change is present, and none is partial."""
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
