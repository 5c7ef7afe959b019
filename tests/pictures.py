"""Regenerate the README's pictures of the app: `python tests/pictures.py FOLDER`.

A library of the starter patterns is filled into a letter; the screens are written as SVG.
"""

from __future__ import annotations

import asyncio
import re
import sys
import tempfile
from pathlib import Path

from hingeleaf.catalogue.store import Library
from hingeleaf.paper.card_stock import DEFAULT
from hingeleaf.starter import add_patterns
from hingeleaf.tasks import finish
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.settings import Settings
from support.app_pilot import ours, press, running

SIZE = (120, 36)
BLANK_BRAILLE = "\N{BRAILLE PATTERN BLANK}"


async def make(folder: Path) -> None:
    with tempfile.TemporaryDirectory() as place:
        library = Path(place) / "hedgerow.db"
        with Library.open(library) as opened:
            finish(add_patterns(opened, DEFAULT))
        async with running(library, size=SIZE, user_settings=Settings()) as pilot:
            await press(pilot, "slash", "o", "a", "k", "enter")
            await press(pilot, "c", "b")
            write(folder / "bridges.svg", pilot.app.export_screenshot(title="hingeleaf"))
        async with running(library, size=SIZE, user_settings=Settings(light=True)) as pilot:
            await press(pilot, "f4")
            session = ours(pilot).services.panel
            session.change_recipe(
                recipe_form.with_value(session.recipe, "budget", "quick"), "recipe"
            )
            await press(pilot, "f2", "f4")
            await press(pilot, "g")
            assert session.reviewed is not None
            write(folder / "panel.svg", pilot.app.export_screenshot(title="hingeleaf"))


def write(file: Path, picture: str) -> None:
    """Write a picture with blanks between braille characters as wide as these, in any font."""

    def even(match: re.Match[str]) -> str:
        words = match[1]
        if any("\u2801" <= sign <= "\u28ff" for sign in words):
            words = words.replace("&#160;", BLANK_BRAILLE)
        return f">{words}</text>"

    file.write_text(re.sub(r">([^<]*)</text>", even, picture), encoding="utf-8")


if __name__ == "__main__":
    folder = Path(sys.argv[1])
    folder.mkdir(parents=True, exist_ok=True)
    asyncio.run(make(folder))
