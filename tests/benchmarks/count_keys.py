"""Counts the keys that common jobs take in the app: python tests/benchmarks/count_keys.py

A typed value counts as one key, whatever its length. What the jobs took before is counted by hand
in the app as it was when these bounds were set; some could not be done in it.
"""

from __future__ import annotations

import asyncio
import os
import sys
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path

from rich.console import Console
from rich.table import Table
from textual.pilot import Pilot

sys.path.insert(0, str(Path(__file__).parents[1]))

from hingeleaf.catalogue.store import Library
from hingeleaf_tui import panel_session, settings
from hingeleaf_tui.forms import recipe_form
from support.app_pilot import laid, make_library, ours, press, running, settled, type_in

SVG = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="60mm" viewBox="0 0 60 60">'
    '<path d="M5 5h{0}v{1}h-9v9h-{2}z"/></svg>'
)
DRAWINGS, NAMES = 23, 60
STOP_TIMEOUT = 3600.0
"""Seconds to wait for the answer to a key: sixty fillings take minutes."""


class Typist:
    """Presses keys and counts them."""

    def __init__(self, pilot: Pilot[None]) -> None:
        self.pilot, self.keys = pilot, 0

    async def press(self, *keys: str) -> None:
        """Press keys, each of which counts."""
        self.keys += len(keys)
        for key in keys:
            await self.pilot.press(key)
            await settled(self.pilot, STOP_TIMEOUT)

    async def type(self, text: str) -> None:
        """Type a value, which counts once."""
        self.keys += 1
        await type_in(self.pilot, text)


async def folder_in(typist: Typist, folder: Path) -> None:
    """All drawings of a folder, with tag, maker and licence."""
    (folder / "hedge").mkdir()
    for number in range(DRAWINGS):
        drawing = SVG.format(20 + number, 40 - number, 11 + number // 2)
        (folder / "hedge" / f"drawing-{number:02}.svg").write_text(drawing)
    await typist.press("a", "enter")
    await typist.type("hedge")
    for fact in ("autumn", "our own", "CC0-1.0"):
        await typist.press("down", "enter")
        await typist.type(fact)
    await typist.press("enter", "s")
    with Library.open(folder / "harbour.db") as library:
        brought = [library.motif(name) for name in library.names("tag:autumn")]
    assert len(brought) == DRAWINGS, len(brought)
    assert {each.source.maker for each in brought} == {"our own"}


async def letter_from_a_search(typist: Typist, folder: Path) -> None:
    """A letter filled with what a search finds."""
    panel = ours(typist.pilot).services.panel
    for key, text in (("budget", "quick"), ("height", "80"), ("smallest", "8")):
        panel.change_recipe(recipe_form.with_value(panel.recipe, key, text), "recipe")
    await typist.press("slash")
    await typist.type("round")
    await typist.press("enter", "p", "g")
    assert panel.placements
    assert {each.motif for each in panel.placements} <= {"buoy", "berry"}


async def region_refilled(typist: Typist, folder: Path) -> None:
    """A circle about the chosen motif filled again."""
    await letter_from_a_search(typist, folder)
    typist.keys = 0
    await typist.press("e", "right", "a", "r")
    assert ours(typist.pilot).services.panel.history.last == "refill of a circle"


async def imports_tagged(typist: Typist, folder: Path) -> None:
    """The drawings that were just imported, tagged."""
    await folder_in(typist, folder)
    await press(typist.pilot, "escape")
    typist.keys = 0
    await typist.press("t")
    await typist.type("+hedge")
    await typist.press("enter")
    with Library.open(folder / "harbour.db") as library:
        assert len(library.names("tag:hedge")) == DRAWINGS


async def place_cards(typist: Typist, folder: Path) -> None:
    """A place card for each name of a list, on sheets."""
    names = [f"Wren {chr(65 + each // 26)}{chr(65 + each % 26)}" for each in range(NAMES)]
    lines = "\n".join(f"{name},90x55mm" for name in names)
    (folder / "guests.csv").write_text(f"name,size\n{lines}\n")
    panel = ours(typist.pilot).services.panel
    for key, text in (("budget", "quick"), ("smallest", "8")):
        panel.change_recipe(recipe_form.with_value(panel.recipe, key, text), "recipe")
    await typist.press("f4", "left", "left", "p", "enter")
    await typist.type("guests.csv")
    await typist.press("enter", "s")
    with Library.open(folder / "harbour.db") as library:
        assert len(library.panels.all()) == NAMES
    assert list(folder.glob("sheets*.svg")), list(folder.iterdir())


async def svg_and_pdf(typist: Typist, folder: Path) -> None:
    """Both cut files of a saved panel."""
    library = folder / "harbour.db"
    with Library.open(library) as opened:
        panel_session.save(opened, "wren", laid(library))
    await press(typist.pilot, "f4", "o", "enter")
    typist.keys = 0
    await typist.press("x", "down", "right", "x")
    assert {each.suffix for each in folder.glob("wren*")} == {".svg", ".pdf"}


JOBS: tuple[tuple[str, Callable[[Typist, Path], Awaitable[None]], int, str], ...] = (
    (
        "23 drawings of a folder in, with tag, maker, licence",
        folder_in,
        15,
        "18",
    ),
    ("a letter filled from a search", letter_from_a_search, 5, "6"),
    ("a region filled again", region_refilled, 5, "not in the app"),
    ("the 23 imports tagged", imports_tagged, 4, "26"),
    ("sixty place cards on sheets", place_cards, 12, "not in the app"),
    ("SVG and PDF of a panel", svg_and_pdf, 4, "7"),
)


async def count(job: Callable[[Typist, Path], Awaitable[None]]) -> int:
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        settings.folder = lambda: folder / "settings"
        os.chdir(folder)
        async with running(make_library(folder)) as pilot:
            typist = Typist(pilot)
            await job(typist, folder)
            return typist.keys


def main() -> int:
    table = Table("job", "keys before", "keys now", "asked")
    missed = 0
    wanted = sys.argv[1:]
    for what, job, most, before in JOBS:
        if wanted and job.__name__ not in wanted:
            continue
        keys = asyncio.run(count(job))
        missed += keys > most
        table.add_row(what, before, str(keys), f"at most {most}")
    Console().print(table)
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main())
