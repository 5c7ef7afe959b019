"""Simulate power losses: replay the recorded writes of a session up to a point, with lost sectors.

python tests/power_losses.py 250 --seed 1

strace (Linux) records what a session of changes, backups and a replaced library writes. At each
moment drawn by lot only what was synced is sure to be on the disk: of every later write each sector
is there or not by chance, and of the names made, moved and deleted since the folder was last
synced only the first so many. Whatever is left must open, be sound, and hold all that was told as
done.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import subprocess
import sys
import tempfile
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

from hingeleaf.catalogue.backup import BackupPlan, automatic_backups
from hingeleaf.catalogue.replace import replace_library
from hingeleaf.catalogue.store import Library
from hingeleaf.tasks import finish
from support.catalogue_motifs import is_sound, plain_square
from support.catalogue_workload import Told, begin, check, work

SECTOR = 512
"""Smallest common size, in bytes, of an atomic disk write."""
CALLS = "openat,close,pwrite64,write,fsync,fdatasync,ftruncate,rename,link,unlink,mkdir"


# --- the session that is recorded ----------------------------------------------------------------


def tell(kind: str, what: str) -> None:
    os.write(1, json.dumps([kind, what]).encode() + b"\n")


def session(folder: Path, seed: int, days: int) -> None:
    """Some days of work, each starting with an automatic backup; the library is restored at the
    end."""
    path = begin(folder)
    tell("begun", "")
    for day in range(days):
        with Library.open(path) as library:
            library.db.clock = lambda day=day: datetime.now(UTC) + timedelta(days=day)
            for _, _ in zip(range(12), work(library, seed * 100 + day, tell), strict=False):
                pass
            copy = folder / f"copy-{day}.db"
            library.backup(copy)
            tell("backup", copy.name)
    with Library.open(path) as library:
        tell("later", library.add(plain_square("later", seed)))
    tell("putting back", "")
    finish(replace_library(path, copy))
    tell("put back", "")


# --- simulated disk -------------------------------------------------------------------------------


@dataclass(slots=True)
class Inode:
    """A file's synced content, and the writes since."""

    synced: bytearray = field(default_factory=bytearray)
    since: list[tuple[int, bytes | None]] = field(default_factory=list)
    """Offset and bytes; None truncates the file at the offset."""

    def sync(self) -> None:
        for offset, data in self.since:
            write(self.synced, offset, data)
        self.since.clear()

    def after_loss(self, random: Random) -> bytes:
        """The content after a loss: each unsynced sector was written or not, at random."""
        content, share = bytearray(self.synced), random.choice((0.0, 0.5, 0.9, 1.0))
        for offset, data in self.since:
            if data is None:
                if random.random() < share:
                    write(content, offset, None)
                continue
            for start in range(0, len(data), SECTOR):
                if random.random() < share:
                    write(content, offset + start, data[start : start + SECTOR])
        return bytes(content)


def write(content: bytearray, offset: int, data: bytes | None) -> None:
    if data is None:
        del content[offset:]
    content.extend(bytes(max(0, offset - len(content))))
    if data is not None:
        content[offset : offset + len(data)] = data


Names = dict[str, Inode]


@dataclass(frozen=True, slots=True)
class Call:
    """A system call that succeeded."""

    name: str
    texts: list[bytes]
    numbers: list[int]
    rest: str
    result: int

    @property
    def paths(self) -> list[str]:
        return [] if "write" in self.name else [os.fsdecode(text) for text in self.texts]


@dataclass
class Disk:
    """A folder tree whose names and contents are synced separately."""

    synced: Names = field(default_factory=dict)
    since: list[tuple[str, Inode | None]] = field(default_factory=list)
    """Names added or, with None, removed since their folder was synced."""
    now: Names = field(default_factory=dict)
    told: list[tuple[str, str]] = field(default_factory=list)
    open: dict[int, tuple[str, Inode, int]] = field(default_factory=dict)
    """Path, file and write position by descriptor."""
    folders: dict[int, str] = field(default_factory=dict)

    def knows(self, call: Call, root: str) -> bool:
        """Whether a call concerns files in the folder, or reports something."""
        if call.paths:
            return all(path.startswith(root) for path in call.paths)
        known = self.open.keys() | self.folders.keys()
        return call.numbers[0] in known or (call.name == "write" and call.numbers[0] == 1)

    def do(self, call: Call) -> None:
        """Apply a call."""
        change = getattr(self, f"_{call.name}", None)
        if change:
            change(call)

    def after_loss(self, random: Random) -> dict[str, bytes]:
        """The files after a loss."""
        names = dict(self.synced)
        for name, inode in self.since[: random.randint(0, len(self.since))]:
            give(names, name, inode)
        return {name: inode.after_loss(random) for name, inode in names.items()}

    def _name(self, path: str, inode: Inode | None) -> None:
        self.since.append((path, inode))
        give(self.now, path, inode)

    def _openat(self, call: Call) -> None:
        path = call.paths[0].rstrip("/")
        if path not in self.now and "O_CREAT" not in call.rest:
            self.folders[call.result] = path
            return
        if path not in self.now:
            self._name(path, Inode())
        elif "O_TRUNC" in call.rest:
            self.now[path].since.append((0, None))
        self.open[call.result] = (path, self.now[path], 0)

    def _close(self, call: Call) -> None:
        self.open.pop(call.numbers[0], None)
        self.folders.pop(call.numbers[0], None)

    def _fsync(self, call: Call) -> None:
        folder = self.folders.get(call.numbers[0])
        if folder is None:
            self.open[call.numbers[0]][1].sync()
            return
        here = [each for each in self.since if str(Path(each[0]).parent) == folder]
        for name, inode in here:
            give(self.synced, name, inode)
        self.since = [each for each in self.since if each not in here]

    _fdatasync = _fsync

    def _write(self, call: Call) -> None:
        if call.numbers[0] == 1:
            kind, what = json.loads(call.texts[0])
            self.told.append((kind, what))
            return
        path, inode, place = self.open[call.numbers[0]]
        inode.since.append((place, call.texts[0]))
        self.open[call.numbers[0]] = (path, inode, place + call.result)

    def _pwrite64(self, call: Call) -> None:
        assert len(call.texts[0]) == call.result
        self.open[call.numbers[0]][1].since.append((call.numbers[2], call.texts[0]))

    def _ftruncate(self, call: Call) -> None:
        self.open[call.numbers[0]][1].since.append((call.numbers[1], None))

    def _unlink(self, call: Call) -> None:
        self._name(call.paths[0], None)

    def _link(self, call: Call) -> None:
        self._name(call.paths[1], self.now[call.paths[0]])

    def _rename(self, call: Call) -> None:
        self._link(call)
        self._unlink(call)


def give(names: Names, path: str, inode: Inode | None) -> None:
    names.pop(path, None)
    if inode is not None:
        names[path] = inode


CALL = re.compile(r"^(?:\d+ +)?(\w+)\((.*)\) += (-?\d+)")
TEXT = re.compile(r'"((?:\\x[0-9a-f]{2})*)"')


def calls(record: Path) -> Iterator[Call]:
    """All successful calls in a record."""
    with record.open() as lines:
        for line in lines:
            if (found := CALL.match(line)) and int(found[3]) >= 0:
                texts = [bytes.fromhex(text.replace("\\x", "")) for text in TEXT.findall(found[2])]
                rest = TEXT.sub("", found[2])
                numbers = [int(number) for number in re.findall(r"(?<![\w.])\d+", rest)]
                yield Call(found[1], texts, numbers, rest, int(found[3]))


def replay(record: Path, root: str) -> Iterator[Disk]:
    """The disk after each call that concerns files of a folder."""
    disk = Disk()
    for call in calls(record):
        if disk.knows(call, root):
            disk.do(call)
            yield disk


# --- checks after a loss ---------------------------------------------------------------


def look_over(folder: Path, told: list[tuple[str, str]]) -> str:
    """Check the library after a loss. Returns a description of its state."""
    sorted_told: Told = defaultdict(list)
    for kind, what in told:
        sorted_told[kind].append(what)
    path = folder / "library.db"
    for name in sorted_told["backup"]:
        assert is_sound(folder / name)
    for backup in automatic_backups(path, BackupPlan()):
        assert is_sound(backup.path)
    if not path.exists():
        assert not sorted_told["begun"]
        return "not begun"
    if not sorted_told["begun"]:
        assert is_sound(path)
        return "begun"
    check(path, sorted_told)
    with Library.open(path) as library:
        assert not [each for each in finish(library.examine()) if each.severity == "fault"]
        later = "later" in library.names()
        if sorted_told["put back"]:
            assert not later
            return "put back"
        assert later or sorted_told["putting back"] or not sorted_told["later"]
        return "being put back" if sorted_told["putting back"] else "at work"


def recorded(folder: Path, seed: int, days: int) -> tuple[Path, str]:
    """Record a session. Returns the record and the folder that it was in."""
    place = folder / "place"
    place.mkdir()
    record = folder / "calls"
    watch = ["strace", "-f", "-xx", "-s", str(1 << 26), "-e", f"trace={CALLS}", "-o", record]
    deed = [__file__, "--session", place, "--seed", str(seed), "--days", str(days)]
    subprocess.run([*watch, sys.executable, *deed], check=True, stdout=subprocess.DEVNULL)
    return record, str(place)


def lose(record: Path, root: str, moments: list[int], random: Random) -> Iterator[str]:
    """Simulate losses at the given calls. Yields the state after each."""
    due: dict[int, int] = defaultdict(int)
    for moment in moments:
        due[moment] += 1
    for number, disk in enumerate(replay(record, root)):
        for _ in range(due[number]):
            with tempfile.TemporaryDirectory() as left:
                for name, content in disk.after_loss(random).items():
                    file = Path(left, os.path.relpath(name, root))
                    file.parent.mkdir(exist_ok=True)
                    file.write_bytes(content)
                yield look_over(Path(left), disk.told)


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("losses", type=int, nargs="?", default=250)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--days", type=int, default=6)
    parser.add_argument("--session", type=Path, help="do the work that is recorded, in a folder")
    asked: Any = parser.parse_args()
    if asked.session:
        session(asked.session, asked.seed, asked.days)
        return
    with tempfile.TemporaryDirectory() as folder:
        record, root = recorded(Path(folder), asked.seed, asked.days)
        count = sum(1 for _ in replay(record, root))
        random = Random(asked.seed)
        moments = [random.randrange(count) for _ in range(asked.losses)]
        found: dict[str, int] = defaultdict(int)
        for outcome in lose(record, root, moments, random):
            found[outcome] += 1
        sys.stdout.write(
            f"{asked.losses} losses within {count} calls, all survived: {dict(found)}\n"
        )


if __name__ == "__main__":
    main()
