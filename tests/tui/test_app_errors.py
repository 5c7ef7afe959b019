"""Each kind of refusal on screen: where it belongs, with what to do next, and nothing lost."""

from __future__ import annotations

import shutil
import sqlite3
from collections.abc import Awaitable, Callable, Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

import pytest
from textual.pilot import Pilot

from hingeleaf import errors
from hingeleaf.catalogue.store import Library
from hingeleaf.errors import HingeleafError
from hingeleaf_tui import settings
from hingeleaf_tui.forms import recipe_form
from support.app_pilot import choose, make_library, ours, press, running, seen, settled, type_in

SVG = '<svg xmlns="http://www.w3.org/2000/svg" width="60mm" height="40mm">{}</svg>'
Do = Callable[[Pilot[None], Path], Awaitable[None]]


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    monkeypatch.chdir(tmp_path)


def leave(library: Path) -> None:
    """The library as it is."""


def spoil(library: Path) -> None:
    with library.open("r+b") as file:
        file.seek(4096)
        file.write(b"\xff" * 40_960)


def make_newer(library: Path) -> None:
    with closing(sqlite3.connect(library)) as connection:
        connection.execute("PRAGMA user_version = 99")


def make_foreign(library: Path) -> None:
    library.write_bytes(b"a shopping list, not a library " * 9)


def bringing_in(content: str | None) -> Do:
    async def do(pilot: Pilot[None], folder: Path) -> None:
        if content is not None:
            (folder / "drawing.svg").write_text(content, encoding="utf-8")
        await press(pilot, "a")
        await choose(pilot, "place", "drawing.svg")

    return do


def filling(**values: str) -> Do:
    async def do(pilot: Pilot[None], folder: Path) -> None:
        session = ours(pilot).services.panel
        for key, text in {"budget": "draft", "height": "70", **values}.items():
            session.change_recipe(recipe_form.with_value(session.recipe, key, text), "recipe")
        await press(pilot, "f4")
        await press(pilot, "g")

    return do


def pressing(*keys: str) -> Do:
    async def do(pilot: Pilot[None], folder: Path) -> None:
        for key in keys:
            await press(pilot, key)

    return do


async def finding(pilot: Pilot[None], folder: Path) -> None:
    await press(pilot, "slash")
    await type_in(pilot, "hold:soggy")


async def typing_a_height(pilot: Pilot[None], folder: Path) -> None:
    await press(pilot, "f4")
    await choose(pilot, "height", "tall")


async def keeping_what_changed(pilot: Pilot[None], folder: Path) -> None:
    await press(pilot, "end", "up", "enter")
    await press(pilot, "right")
    with Library.open(folder / "harbour.db") as other:
        other.tags.change(["life-ring"], add=["rescue"])
    await press(pilot, "s")


async def opening_what_is_gone(pilot: Pilot[None], folder: Path) -> None:
    with Library.open(folder / "harbour.db") as other:
        other.rename("berry", "currant")
    await press(pilot, "home", "b")


async def tagging_a_locked_library(pilot: Pilot[None], folder: Path) -> None:
    with closing(sqlite3.connect(folder / "harbour.db", isolation_level=None)) as other:
        other.execute("BEGIN IMMEDIATE")
        await press(pilot, "t")
        await type_in(pilot, "+rescue")
        await press(pilot, "enter")
        other.execute("ROLLBACK")


async def tagging_a_replaced_library(pilot: Pilot[None], folder: Path) -> None:
    shutil.copy(folder / "harbour.db", folder / "same.db")
    (folder / "same.db").replace(folder / "harbour.db")
    await press(pilot, "t")
    await type_in(pilot, "+rescue")
    await press(pilot, "enter")


async def exporting_onto_a_folder(pilot: Pilot[None], folder: Path) -> None:
    await filling()(pilot, folder)
    (folder / "taken.svg").mkdir()
    await press(pilot, "x")
    await choose(pilot, "name", "taken")
    await press(pilot, "x")
    await press(pilot, "x")


async def writing_a_ladder_over_another_file(pilot: Pilot[None], folder: Path) -> None:
    (folder / "ladder-life-ring.svg").write_text("precious", encoding="utf-8")
    await press(pilot, "end", "up", "f5")
    await press(pilot, "x")
    await press(pilot, "enter")


DEEP = SVG.format("<g>" * 5000 + "<path d='M0 0h9v9z'/>" + "</g>" * 5000)


@dataclass(frozen=True)
class Case:
    """An error of the tree: how it comes about, what is said, and what to do next."""

    kind: type[HingeleafError]
    do: Do
    message: str
    remedy: str
    before: Callable[[Path], None] = leave

    def __str__(self) -> str:
        return self.kind.__name__


CASES = [
    Case(
        errors.UnreadableArtworkError,
        bringing_in(None),
        "There is no drawing.svg.",
        "Check the spelling of its name.",
    ),
    Case(
        errors.HostileArtworkError,
        bringing_in(DEEP),
        "drawing.svg nests its groups too deeply.",
        "save it again as plain SVG",
    ),
    Case(
        errors.NothingToCutError,
        bringing_in(SVG.format("")),
        "drawing.svg draws nothing that can be cut.",
        "It may hold only text, pictures or hidden layers.",
    ),
    Case(
        errors.BridgeError,
        pressing("home", "b", "m"),
        "The motif has no bridge.",
        "Add one, or plan them all.",
    ),
    Case(
        errors.FieldError,
        filling(kind="border", inner="20x30in"),
        "does not fit inside 203.2 mm by 254 mm.",
        "Make the opening smaller or the frame larger.",
    ),
    Case(
        errors.FontError,
        filling(text="\N{SNOWMAN}"),
        "No font at hand has '\N{SNOWMAN}' (U+2603)",
        "Name a font that has it as a further font.",
    ),
    Case(
        errors.FieldTooSmallError,
        filling(height="5mm"),
        "No motif fits.",
        "Allow smaller motifs, keep less distance",
    ),
    Case(
        errors.NotALibraryError,
        pressing(),
        "is not a Hingeleaf library.",
        "Name another file",
        make_foreign,
    ),
    Case(
        errors.NewerLibraryError,
        pressing(),
        "was written by a newer Hingeleaf",
        "Update Hingeleaf and try again; nothing was changed.",
        make_newer,
    ),
    Case(
        errors.DamagedLibraryError,
        pressing("end"),
        "harbour.db is damaged.",
        "or go back to a backup: `hingeleaf restore --whole BACKUP`.",
        spoil,
    ),
    Case(
        errors.LibraryWriteError,
        tagging_a_locked_library,
        "is being written to by another program.",
        "Wait until it is done and try again.",
    ),
    Case(
        errors.LibraryMovedError,
        tagging_a_replaced_library,
        "nothing more is written to it.",
        "`hingeleaf restore --whole` puts that back.",
    ),
    Case(
        errors.ChangedElsewhereError,
        keeping_what_changed,
        "life-ring was changed elsewhere since it was read.",
        "Look at it as it is now, then make the edit again.",
    ),
    Case(
        errors.UnknownNameError,
        opening_what_is_gone,
        "No motif is called 'berry'.",
        "shows the names there are.",
    ),
    Case(
        errors.ExportError,
        exporting_onto_a_folder,
        "taken.svg could not be written: is a directory.",
        "Choose another folder; any file of that name is unchanged.",
    ),
    Case(
        errors.WouldReplaceError,
        writing_a_ladder_over_another_file,
        "is there already, and was not written by Hingeleaf",
        "Leave it as it is",
    ),
    Case(
        errors.UsageError,
        typing_a_height,
        "'tall' is not a length.",
        "Write for example 60mm, 6cm or 2.5in.",
    ),
    Case(
        errors.QueryError,
        finding,
        "There is no hold style 'soggy'.",
        "Choose rigid, door, spine, points, tongue or flat.",
    ),
]
KINDS_WITHOUT_OWN = (
    errors.ArtworkError,
    errors.PaperError,
    errors.CatalogueError,
)
"""Branches of the tree that screens only ever see as one of their twigs."""


def words_on_screen(pilot: Pilot[None]) -> str:
    """All words, each line by itself and then the right part of each line: a plate's sentences
    stand beside a list."""
    lines = seen(pilot).splitlines()
    beside = [line.rpartition("\u2595")[2] for line in lines]
    framed = [line.partition("\u2502")[2].partition("\u2502")[0] for line in lines]
    return " ".join(" ".join([*lines, *beside, *framed]).split())


@pytest.mark.parametrize("case", CASES, ids=str)
async def test_a_refusal_is_told_with_its_remedy_and_nothing_is_lost(
    tmp_path: Path, case: Case
) -> None:
    library = make_library(tmp_path)
    case.before(library)
    before = library.read_bytes()
    async with running(library, size=(100, 30)) as pilot:
        await case.do(pilot, tmp_path)
        await settled(pilot)
        words = words_on_screen(pilot)
        assert case.message in words
        assert case.remedy in words
        assert "Traceback" not in words
        assert "Something went wrong in Hingeleaf" not in words
        await press(pilot, "escape")
        await press(pilot, "f1")  # the app goes on
        assert "What can be done" in seen(pilot)
    if case.before is leave:
        with Library.open(library) as opened:
            assert opened.count() == 6
            assert opened.motif("life-ring").revision == 1
    else:
        assert library.read_bytes() == before


def test_every_kind_of_refusal_has_its_case() -> None:
    def twigs(kind: type[HingeleafError]) -> Iterator[type[HingeleafError]]:
        yield kind
        for below in kind.__subclasses__():
            if below.__module__ == errors.__name__:
                yield from twigs(below)

    told = {case.kind for case in CASES} | set(KINDS_WITHOUT_OWN)
    assert set(twigs(HingeleafError)) - told == {HingeleafError}  # a process that was ended
