"""Fonts, lists of names, settings and unsaved work, damaged by chance: read, or refused plainly."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from pathlib import Path

import font_manrope
import font_source_sans_pro
import pytest
from fontTools import subset
from fontTools.ttLib import TTFont

from artwork_hostile import mutations
from audit_hooks import forbidden_events
from call_counts import Calls
from hingeleaf.errors import HingeleafError
from hingeleaf.field.letters import Lettering
from hingeleaf.fonts import find_fonts, open_font
from hingeleaf.orders.lists import read_orders
from hingeleaf_tui import settings
from hingeleaf_tui.autosave import Autosave
from text_fields import word_field

pytestmark = pytest.mark.reliability

CALLS = 1_000_000
"""At most for one file: well under a second's worth."""
FONTS = (
    Path(font_manrope.__file__).parent / "files" / "Manrope-VariableFont_wght.ttf",
    Path(font_source_sans_pro.__file__).parent / "files" / "SourceSansPro-Bold.ttf",
    Path(font_source_sans_pro.__file__).parent / "files" / "SourceSansPro-Bold.otf",
)
LISTS = [
    b"Wren\nMum & Dad\n# for the harbour fair\nIda\n",
    'name;size;copies;motifs\n"Oak\nFern";90x55mm;2;tag:leaf\nÉva;3,5in;1;\n'.encode(),
    b"names,height,font,with\nWren,40mm,Fredoka One,\n" + b"Ida,1 1/2in,,harbour\n" * 9,
]
DEEP = (
    *(b"[" * 100_000, b'{"a":' * 100_000, b"a = " + b"[" * 100_000, b"a = " + b"{a=" * 100_000),
    *(b"name,copies\nWren," + b"9" * 5000, b'name,size\n"' + b"W" * 200_000, b"a = " + b"9" * 5000),
    *(b"\0" * 999, b"\xff\xfe" * 99, b""),
)
"""Nested without end, values without end, no text, nothing at all."""


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("files")


@pytest.fixture(scope="module")
def events(folder: Path, fonts: list[bytes]) -> Iterator[list[str]]:
    use_font(folder, fonts[0])  # what is imported once is not a file's doing
    for use, sound in READERS.values():
        use(folder, sound[0])
    with forbidden_events() as seen:
        yield seen


@pytest.fixture(scope="module")
def fonts() -> list[bytes]:
    """A few letters of a variable, a TrueType and a CFF font: small, so that damage is felt."""
    found = []
    for file in FONTS:
        font = TTFont(file)
        letters = subset.Subsetter()
        letters.populate(text="WHrené")
        letters.subset(font)
        out = io.BytesIO()
        font.save(out)
        found.append(out.getvalue())
    return found


def use_font(folder: Path, data: bytes) -> None:
    file = folder / "strange.ttf"
    file.write_bytes(data)
    find_fonts([folder])
    face = open_font(file)
    word_field("Wren", Lettering(40.0, font=face, weight=face.weights and face.weights[1]))


def use_list(folder: Path, data: bytes) -> None:
    file = folder / "names.csv"
    file.write_bytes(data)
    read_orders(file)


def use_settings(folder: Path, data: bytes) -> None:
    (folder / settings.FILE).write_bytes(data)
    found = settings.read(folder)
    settings.write(found, folder)
    assert settings.read(folder) == found


def use_unsaved_work(folder: Path, data: bytes) -> None:
    work = Autosave(folder / "library.db", folder)
    work._number = 1
    work.path.write_bytes(data)
    work._number = 0
    work.begin()
    assert work.path.exists() != work.path.with_suffix(".unreadable").exists()
    work.close()
    for left in folder.glob("library-*"):
        left.unlink()


SETTINGS = b'light = true\nink = "braille"\ncard = "harbour"\n\n[keys]\n"undo" = "ctrl+u"\n'
WORK = {
    "panel": {"recipe": {"field": {"kind": "letter"}}, "name": "nora", "unsaved": True},
    "bridges": [{"motif": "wren", "revision": 1, "hold": "door", "bridges": [[[1.5, 2], 0, 5, 5]]}],
}
READERS = {
    "list": (use_list, LISTS),
    "settings": (use_settings, [SETTINGS]),
    "unsaved work": (use_unsaved_work, [json.dumps(WORK).encode()]),
}


def check(use: object, folder: Path, data: bytes) -> str:
    with Calls() as made:
        try:
            use(folder, data)  # type: ignore[operator]
            outcome = "read"
        except HingeleafError as error:
            assert error.message and error.remedy and "\n" not in error.message
            outcome = type(error).__name__
    assert made.count < CALLS, data[:2000]
    return outcome


def elsewhere(events: list[str], folder: Path) -> list[str]:
    """What was done outside a folder; cattrs and attrs compile our own annotations."""
    return [
        event for event in events if str(folder) not in event and not event.startswith("compile")
    ]


@pytest.mark.parametrize("reader", READERS)
def test_files_damaged_by_chance(
    folder: Path, events: list[str], reader: str, effort: float, chance: int
) -> None:
    use, sound = READERS[reader]
    events.clear()
    for data in (*DEEP, *mutations(sound, round(25 * effort), chance)):
        check(use, folder, data)
    assert not elsewhere(events, folder)


def test_fonts_damaged_by_chance(
    folder: Path, events: list[str], fonts: list[bytes], effort: float, chance: int
) -> None:
    events.clear()
    damaged = mutations(fonts, round(25 * effort), chance)
    found = {check(use_font, folder, data) for data in (*fonts, *DEEP, *damaged)}
    assert {"read", "FontError"} <= found
    assert not elsewhere(events, folder)
