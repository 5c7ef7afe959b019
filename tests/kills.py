"""Programs killed in the middle of writing, at moments drawn by lot: is anything lost or torn?

python tests/kills.py 200 --seed 1

By turns a command that fills a panel and saves it over another (`fill --save`), one that goes back
to a backup (`restore --whole`), one before which an automatic backup is made and the oldest goes,
the app's settings, and the app itself that saves one panel after the other. Commands are killed at
a call drawn by lot, the app after a time drawn by lot.
"""

from __future__ import annotations

import argparse
import asyncio
import itertools
import os
import subprocess
import sys
import tempfile
import time
import warnings
from collections import Counter
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from unittest.mock import patch

from hingeleaf.catalogue.backup import BackupPlan, automatic_backups, write_plan
from hingeleaf.catalogue.store import Library
from hingeleaf.tasks import finish
from hingeleaf_tui import settings
from hingeleaf_tui.autosave import Autosave
from hingeleaf_tui.commands.root import main as hingeleaf
from support.app_pilot import laid, make_library, ours, press, running, type_in
from support.call_counts import calls, killed_at
from support.catalogue_motifs import is_sound, plain_square, quick

LONGEST = 3.0
"""Seconds that the app may save on before it is killed."""


def command(library: Path, *words: str) -> None:
    """Run a command in this process, silently."""
    with (
        suppress(SystemExit),
        Path(os.devnull).open("w") as nowhere,
        patch("sys.stdout", nowhere),
        patch("sys.stderr", nowhere),
    ):
        hingeleaf(["--library", str(library), *words], standalone_mode=False)


def names(path: Path) -> set[str]:
    with Library.open(path, create=False) as library:
        return set(library.names())


def check_doctor(path: Path) -> None:
    with Library.open(path) as library:
        assert not [each for each in finish(library.examine()) if each.severity == "fault"]


# --- one kill of each kind -----------------------------------------------------------------------


def filling(folder: Path, at: Callable[[Callable[[], object]], None]) -> str:
    """Fill a panel and save it over another."""
    path = make_library(folder)
    words = ("shape", "oval", "--size", "60x40mm", "--max", "20", "--budget", "quick")
    fill = ("fill", *words, "--save", "nora", "--replace")
    command(path, *fill, "--upright")
    before = saved_panel(path)
    at(lambda: command(path, *fill, "--card", "card-300"))
    assert is_sound(path)
    check_doctor(path)
    after = saved_panel(path)
    command(path, *fill, "--card", "card-300")
    later = saved_panel(path)
    assert after in (before, later) and before != later
    return "as it was" if after == before else "saved"


def saved_panel(path: Path) -> tuple[object, ...]:
    """The saved panel: its recipe and placements."""
    with Library.open(path, create=False) as library:
        panel = library.panels.get("nora")
    assert panel.placements
    return panel.recipe, panel.placements


def whole(folder: Path, at: Callable[[Callable[[], object]], None]) -> str:
    """Go back to a backup; what is in the library after the kill."""
    path = folder / "library.db"
    with quick(path) as library:
        library.add(plain_square("old", 1))
        library.backup(folder / "copy.db")
        library.add(plain_square("new", 2))
    at(lambda: command(path, "restore", "--whole", str(folder / "copy.db"), "--yes"))
    assert is_sound(path)
    found = names(path)
    assert found in ({"old", "new"}, {"old"})
    if found == {"old"}:
        (aside,) = folder.glob("library-before-*.db")
        assert is_sound(aside) and names(aside) == {"old", "new"}
    check_doctor(path)
    return "gone back" if found == {"old"} else "as it was"


def rotation(folder: Path, at: Callable[[Callable[[], object]], None]) -> str:
    """Change a library when a backup is due and the oldest must go."""
    path = folder / "library.db"
    with quick(path) as library:
        write_plan(library.db, BackupPlan(keep=2))
    for day in range(3):
        with quick(path) as library, warnings.catch_warnings():
            warnings.simplefilter("ignore")
            library.db.clock = lambda day=day: datetime.now(UTC) - timedelta(days=10 - day)
            library.add(plain_square("square", day))
    before = automatic_backups(path, BackupPlan())
    at(lambda: command(path, "tag", "square", "+kept"))
    assert is_sound(path)
    after = automatic_backups(path, BackupPlan())
    assert all(is_sound(each.path) for each in after)
    assert len(after) >= 2 and after[0].number >= before[0].number
    check_doctor(path)
    command(path, "tag", "square", "+later")
    assert len(automatic_backups(path, BackupPlan())) == 2
    with Library.open(path) as library:
        tags = set(library.tags.of("square"))
    assert "later" in tags
    return "changed" if "kept" in tags else "as it was"


def chosen(folder: Path, at: Callable[[Callable[[], object]], None]) -> str:
    """Write the app's settings over others."""
    old, new = (settings.Settings(card=card * 500, keys={"undo": card}) for card in "ab")
    assert settings.write(old, folder)
    at(lambda: settings.write(new, folder))
    found = settings.read(folder)
    assert found in (old, new)
    return "changed" if found == new else "as it was"


def save_for_ever(path: Path) -> None:
    async def work() -> None:
        async with running(path) as pilot:
            await press(pilot, "f4")
            session, screen = ours(pilot).services.panel, ours(pilot).screen
            for number in itertools.count():
                session.arrange("filling", laid(path, number))
                screen.show_state()
                await press(pilot, "s", "delete")
                await type_in(pilot, f"panel{number}")
                await press(pilot, "enter")
                os.write(1, b"panel%d\n" % number)

    asyncio.run(work())


def app(folder: Path, random: Random) -> str:
    """Save one panel after the other in the app."""
    path = make_library(folder)
    child = subprocess.Popen(
        [sys.executable, __file__, "--save", str(path)], stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    told = [child.stdout.readline().strip()]
    time.sleep(random.uniform(0, LONGEST))
    child.kill()
    told += child.stdout.read().split()
    child.wait()
    assert is_sound(path)
    with Library.open(path) as library:
        panels = {row.name: row.count for row in library.panels.all()}
    assert set(told) <= set(panels) and set(panels.values()) == {2}
    check_doctor(path)
    work = Autosave(path, folder / "state")
    work.begin()
    work.close()
    assert not list((folder / "state").glob("*.unreadable"))
    return "not told" if len(panels) > len(told) else "all told"


KINDS = {"fill --save": filling, "restore --whole": whole, "rotation": rotation, "settings": chosen}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("kills", type=int, nargs="?", default=200)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--save", type=Path, help="save in a library until killed")
    asked = parser.parse_args()
    if asked.save:
        save_for_ever(asked.save)
    random, found = Random(asked.seed), Counter[str]()
    most: dict[str, int] = {}
    for number in range(asked.kills):
        kind = (*KINDS, "app")[number % (len(KINDS) + 1)]
        with tempfile.TemporaryDirectory() as folder:
            if kind == "app":
                outcome = app(Path(folder), random)
            else:
                if kind not in most:
                    with tempfile.TemporaryDirectory() as trial:

                        def count(work: Callable[[], object], kind: str = kind) -> None:
                            most[kind] = calls(lambda _: work(), None)

                        KINDS[kind](Path(trial), count)
                left = most[kind] // random.choice((1, 5, 100))  # what is written comes late
                moment = most[kind] - random.randrange(left)
                outcome = KINDS[kind](Path(folder), lambda work: killed_at(moment, work))  # noqa: B023
        found[f"{kind}: {outcome}"] += 1
        sys.stdout.write(f"{number + 1}: {kind}, {outcome}\n")
        sys.stdout.flush()
    sys.stdout.write(f"{asked.kills} kills, all survived: {dict(found)}\n")


if __name__ == "__main__":
    main()
