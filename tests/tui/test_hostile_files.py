"""Fonts, lists of names, settings and unsaved work, damaged by chance: read, or refused plainly."""

from __future__ import annotations

import io
import json
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from hingeleaf.errors import HingeleafError
from hingeleaf_tui import settings
from hostile_files import (
    BRIDGES,
    LISTS,
    SETTINGS,
    Use,
    fonts,
    use_font,
    use_list,
    use_settings,
    use_unsaved_work,
)
from support.artwork_hostile import mutations
from support.audit_hooks import forbidden_events
from support.call_counts import Calls

pytestmark = pytest.mark.reliability

CALLS = 1_000_000
"""At most for one file: well under a second's worth."""
DEEP = (
    *(b"[" * 100_000, b'{"a":' * 100_000, b"a = " + b"[" * 100_000, b"a = " + b"{a=" * 100_000),
    *(b"name,copies\nWren," + b"9" * 5000, b'name,size\n"' + b"W" * 200_000, b"a = " + b"9" * 5000),
    *(b"\0" * 999, b"\xff\xfe" * 99, b""),
)
"""Nested without end, values without end, no text, nothing at all."""
PANEL = {"recipe": {"field": {"kind": "letter"}}, "name": "nora", "unsaved": True}
WORK = [json.dumps({"panel": PANEL, "bridges": [BRIDGES]}).encode()]
READERS: dict[str, tuple[str, Use, Callable[[], list[bytes]]]] = {
    "font": ("strange.ttf", use_font, fonts),
    "list": ("names.csv", use_list, lambda: LISTS),
    "settings": (settings.FILE, use_settings, lambda: SETTINGS),
    "unsaved work": ("unsaved.json", use_unsaved_work, lambda: WORK),
}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("files")


@pytest.fixture(scope="module")
def events(folder: Path) -> Iterator[list[str]]:
    for name, use, sound in READERS.values():  # what is imported once is not a file's doing
        check(use, folder / name, sound()[0])
    with forbidden_events() as seen:
        yield seen


def check(use: Use, file: Path, data: bytes) -> str:
    file.write_bytes(data)
    with Calls() as made:
        try:
            use(file)
            outcome = "read"
        except HingeleafError as error:
            assert error.message and error.remedy and "\n" not in error.message
            outcome = type(error).__name__
    assert made.count < CALLS, data[:2000]
    return outcome


@pytest.mark.parametrize("reader", READERS)
def test_files_damaged_by_chance(
    folder: Path, events: list[str], reader: str, effort: float, chance: int
) -> None:
    name, use, sound = READERS[reader]
    events.clear()
    damaged = mutations(sound(), round(25 * effort), chance)
    found = {check(use, folder / name, data) for data in (*sound(), *DEEP, *damaged)}
    assert "read" in found and (reader != "font" or "FontError" in found)
    outside = [event for event in events if str(folder) not in event]
    assert not [event for event in outside if not event.startswith("compile")], (
        "cattrs and attrs compile our own annotations"
    )


def test_a_font_whose_capitals_have_no_height_is_refused(folder: Path) -> None:
    """Found by a long run."""
    _, truetype, _ = fonts()
    font, out = TTFont(io.BytesIO(truetype)), io.BytesIO()
    for glyph in font["glyf"].glyphs.values():
        glyph.expand(font["glyf"])
        for place in range(len(getattr(glyph, "coordinates", ()))):
            glyph.coordinates[place] = (glyph.coordinates[place][0], 0)
    font.save(out)
    assert check(use_font, folder / "flat.ttf", out.getvalue()) == "FontError"
