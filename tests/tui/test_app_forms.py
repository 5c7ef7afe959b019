"""Forms take or refuse what is typed, however the line is left."""

from __future__ import annotations

import threading
from pathlib import Path

import numpy as np
import pytest
from textual.pilot import Pilot

from hingeleaf.tasks import Progress, Task
from hingeleaf_tui import settings
from hingeleaf_tui.drawing.canvas import Picture
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.forms.lines import values_of
from hingeleaf_tui.screens.dialogs import FormDialog
from hingeleaf_tui.screens.making import MakingScreen
from hingeleaf_tui.screens.panel import PanelScreen
from hingeleaf_tui.widgets.form import Form, FormLine
from hingeleaf_tui.widgets.typed_line import TypedLine, complete
from support.app_pilot import choose, make_library, ours, press, running, seen, settled, type_in


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    monkeypatch.chdir(tmp_path)


async def begin_typing(pilot: Pilot[None], key: str, text: str) -> FormLine:
    """Type into a line of the form on top, and leave it open."""
    line = pilot.app.screen.query_one(Form).line(key)
    line.focus()
    await press(pilot, "enter")
    await pilot.press("delete")
    await type_in(pilot, text)
    return line


def height(pilot: Pilot[None]) -> str:
    return recipe_form.values_of(ours(pilot).services.panel.recipe)["height"]


async def test_what_is_typed_is_taken_by_any_key_that_leads_elsewhere(library: Path) -> None:
    async with running(library) as pilot:
        for number, key in enumerate(("tab", "shift+tab", "down", "f6", "f2", "f1")):
            await press(pilot, "f4")
            line = await begin_typing(pilot, "height", f"{123 + number}")
            await press(pilot, key)
            assert TypedLine.within(line) is None
            assert height(pilot) == line.value == f"{123 + number} mm"


async def test_from_a_line_that_was_just_hidden_keys_lead_to_those_beside_it(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        form = pilot.app.screen.query_one(Form)
        shown = [line for line in form.query(FormLine) if line.display]
        shown[1].display = False
        for way, reached in ((1, shown[2]), (-1, shown[0]), (2, shown[3]), (-9, shown[0])):
            form.move(shown[1], way)
            assert pilot.app.screen.focused is reached


async def test_what_is_typed_is_taken_by_a_click_elsewhere(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        line = await begin_typing(pilot, "height", "123")
        await pilot.click(pilot.app.screen.query_one(Form).line("text"))
        await press(pilot)
        assert TypedLine.within(line) is None
        assert height(pilot) == line.value == "123 mm"


async def test_what_cannot_be_used_stays_to_be_mended(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        before = height(pilot)
        for key in ("tab", "f2", "f1", "ctrl+q"):
            line = await begin_typing(pilot, "height", "tall")
            await press(pilot, key)
            assert isinstance(pilot.app.screen, PanelScreen)
            assert "'tall' is not a length" in seen(pilot)
            typing = TypedLine.within(line)
            assert typing is not None
            assert typing.has_focus
            assert typing.value == "tall"
            await press(pilot, "escape")
            assert height(pilot) == line.value == before


async def test_a_click_elsewhere_does_not_hide_that_a_value_was_refused(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        line = await begin_typing(pilot, "height", "tall")
        await pilot.click(pilot.app.screen.query_one(Form).line("text"))
        await press(pilot)
        assert "'tall' is not a length" in seen(pilot)
        typing = TypedLine.within(line)
        assert typing is not None
        assert typing.has_focus


FORMS = (
    (("a",), "size", "41", "41 mm"),
    (("f5", "n"), "size", "33", "33 mm"),
    (("f6", "n"), "least_web", "1.7", "1.7 mm"),
    (("f6", "e"), "folder", "pictures", "pictures"),
    (("f2", "e"), "notes", "for the gate", "for the gate"),
)


async def test_every_form_takes_what_is_left_with_tab(library: Path) -> None:
    async with running(library) as pilot:
        for keys, key, text, value in FORMS:
            await press(pilot, *keys)
            line = await begin_typing(pilot, key, text)
            await press(pilot, "tab")
            assert TypedLine.within(line) is None
            if isinstance(dialog := pilot.app.screen, FormDialog):
                assert values_of(dialog.bound, dialog.subject)[key] == value
            assert line.value == value
            await press(pilot, "escape")


async def test_a_motif_is_made_from_figures_and_changed_later(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "n")
        screen = pilot.app.screen
        assert isinstance(screen, MakingScreen)
        form = screen.query_one(Form)
        assert not form.line("leaf-veins").display
        form.line("kind").focus()
        await press(pilot, "right", "right")
        assert form.line("leaf-veins").display and not form.line("star-points").display
        form.line("leaf-veins").focus()
        await press(pilot, "right", "s")
        assert "Added as leaf" in seen(pilot)
        await press(pilot, "c", "r")
        assert "Veins          6" in seen(pilot)
        changed = pilot.app.screen
        assert isinstance(changed, MakingScreen)
        assert changed.subject.changed == "leaf"
        await choose(pilot, "joined", "heart@0,-40mm:12mm star@0,40mm:9mm:45")
        await press(pilot, "s")
        assert "leaf is at revision 2" in seen(pilot)
        await press(pilot, "c", "r")
        joined = pilot.app.screen.query_one(Form).line("joined").value
        assert joined == "heart@0,-40:12 star@0,40:9:45"
        await choose(pilot, "taken_off", "moon@0,0:9")
        assert "No motif is called 'moon'" in seen(pilot)
        await press(pilot, "c", "c")


@pytest.mark.parametrize("goes", ["screen", "app"])
async def test_a_drawing_that_ends_after_its_screen_is_not_shown(library: Path, goes: str) -> None:
    ends = threading.Event()

    def drawing() -> Task[Picture]:
        yield Progress(0, 1, "drawing")
        ends.wait()
        cells = np.zeros((2, 4), np.uint16)
        return Picture(cells.astype("<U1"), cells, cells)

    async with running(library) as pilot:
        await press(pilot, "n")
        screen = pilot.app.screen
        assert isinstance(screen, MakingScreen)
        ours(pilot).services.jobs.start("draw", drawing, done=screen._drawn)
        if goes == "screen":
            await pilot.press("escape")
            await pilot.pause()
        else:
            pilot.app._running = False  # what Textual does before it removes the screens
            await screen.remove_children()
        ends.set()
        await settled(pilot)
        assert pilot.app._exception is None


async def test_copies_are_made_of_a_motif_that_was_not_made(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "r")
        screen = pilot.app.screen
        assert isinstance(screen, MakingScreen)
        assert not screen.query_one(Form).line("kind").display
        await choose(pilot, "copies", "3")
        await choose(pilot, "away", "80%")
        await press(pilot, "s")
        assert "Added as berry-made" in seen(pilot)


def test_paths_are_completed_by_name_folders_with_a_slash(tmp_path: Path) -> None:
    (tmp_path / "oak drawings").mkdir()
    for name in ("oak.svg", "ash.svg", ".hidden.svg"):
        (tmp_path / name).touch()
    assert complete(f"{tmp_path}/oak ") == f"{tmp_path}/oak drawings/"
    assert complete(f"{tmp_path}/oak.") == f"{tmp_path}/oak.svg"
    assert complete(f"{tmp_path}/") == f"{tmp_path}/ash.svg"
    assert complete(f"{tmp_path}/birch") is None
    assert complete(f"{tmp_path}/nowhere/a") is None
    assert complete("") is None


async def test_a_folder_is_typed_with_completion(library: Path, tmp_path: Path) -> None:
    folder = tmp_path / "drawings"
    folder.mkdir()
    async with running(library) as pilot:
        await press(pilot, "a", "enter")
        await type_in(pilot, f"{tmp_path}/draw")
        await press(pilot, "right")
        assert TypedLine.within(pilot.app.screen).value == f"{folder}/"
