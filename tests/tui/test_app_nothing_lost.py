"""One undo for all that happens to a panel; unsaved work outlives the program."""

from __future__ import annotations

import json
import os
import signal
import sys
import termios
from pathlib import Path

import pytest
from textual.pilot import Pilot

from hingeleaf.catalogue.store import Library
from hingeleaf_tui import settings
from hingeleaf_tui.autosave import Autosave
from hingeleaf_tui.drafts import Draft, draft_of
from hingeleaf_tui.forms import recipe_form
from hingeleaf_tui.screens.bridges import BridgesScreen
from hingeleaf_tui.screens.dialogs import QuestionDialog
from hingeleaf_tui.screens.export import ExportScreen
from support.app_pilot import choose, laid, make_library, ours, press, running, seen
from support.machine_code import SHARED_MACHINE_CODE
from support.pseudo_terminal import PseudoTerminal


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    monkeypatch.chdir(tmp_path)


async def begin(pilot: Pilot[None], library: Path) -> tuple[object, ...]:
    """A panel with two motifs, arranged by hand; its placements."""
    await press(pilot, "f4")
    app = ours(pilot)
    filled = laid(library)
    app.services.panel.change_recipe(filled.recipe, "recipe")
    app.services.panel.arrange("filling", filled)
    app.screen.show_state()
    await press(pilot, "e", "6", "6")
    assert app.services.panel.placements != filled.filling.placements
    return app.services.panel.placements


async def lose_power(pilot: Pilot[None]) -> None:
    """Once the work is written as it goes, nothing more is at the end."""
    work = ours(pilot).services.work
    while work._is_due or ours(pilot).services.jobs.busy:
        await pilot.pause(0.02)
    work.save = lambda: False  # type: ignore[method-assign]


async def test_an_arranged_panel_comes_back_after_a_new_filling(library: Path) -> None:
    async with running(library) as pilot:
        await begin(pilot, library)
        session = ours(pilot).services.panel
        session.change_recipe(recipe_form.with_value(session.recipe, "budget", "draft"), "recipe")
        for *before, fill in (("escape", "g"), ("n",), ("e", "i", "r")):
            await press(pilot, *before)
            arranged = session.placements
            await press(pilot, fill)
            assert session.placements != arranged
            await press(pilot, "u")
            assert session.placements == arranged
            assert session.reviewed is not None
            await press(pilot, "y")
            assert session.placements != arranged
            await press(pilot, "u")


async def test_opening_a_saved_panel_can_be_undone_and_redone(library: Path) -> None:
    with Library.open(library) as opened:
        from hingeleaf_tui import panel_session

        panel_session.save(opened, "fern", laid(library, seed=9))
    async with running(library) as pilot:
        arranged = await begin(pilot, library)
        session = ours(pilot).services.panel
        await press(pilot, "o", "enter")
        assert session.name == "fern"
        await press(pilot, "u")
        assert (session.placements, session.name, session.unsaved) == (arranged, "", True)
        await press(pilot, "y")
        assert session.name == "fern"


async def test_every_step_can_be_gone_back_to_the_beginning(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        session = ours(pilot).services.panel
        first = session.state
        await choose(pilot, "height", "70")
        await choose(pilot, "text", "L")
        await begin(pilot, library)
        for _ in range(20):
            await pilot.press("u")
        await press(pilot, "u")
        assert session.state == first
        assert "There is nothing to undo." in seen(pilot)


async def test_a_changed_recipe_takes_the_verdict_back_and_export_says_what_it_writes(
    library: Path, tmp_path: Path
) -> None:
    async with running(library) as pilot:
        await begin(pilot, library)
        await press(pilot, "escape")
        assert "Nothing falls out." in seen(pilot)
        await choose(pilot, "gap", "3")
        assert "Nothing falls out." not in seen(pilot)
        assert "Recipe changed" in seen(pilot)
        await press(pilot, "x")
        assert isinstance(pilot.app.screen, ExportScreen)
        shown = " ".join(seen(pilot).split())
        assert "heart, 203.2 x 254 mm" in shown
        assert "The recipe was changed since" in shown
        await press(pilot, "escape", "u")
        assert "Nothing falls out." in seen(pilot)


async def test_after_any_end_the_next_start_offers_to_go_on(library: Path) -> None:
    async with running(library) as pilot:
        placements = await begin(pilot, library)
        await lose_power(pilot)
    for key in ("n", "y", "d"):
        async with running(library) as pilot:
            await press(pilot)
            assert isinstance(pilot.app.screen, QuestionDialog)
            assert "the panel heart" in seen(pilot)
            await press(pilot, key)
            session = ours(pilot).services.panel
            if key == "y":
                assert session.placements == placements
                assert session.unsaved
            else:
                assert session.filled is None
            await lose_power(pilot)
    async with running(library) as pilot:
        assert not isinstance(pilot.app.screen, QuestionDialog)


async def test_edited_bridges_are_gone_on_with(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "end", "up", "enter")
        await press(pilot, "right", "right", "d")
        screen = pilot.app.screen
        assert isinstance(screen, BridgesScreen)
        assert screen.now is not None
        edited = screen.now.motif.bridges
        await lose_power(pilot)
    async with running(library) as pilot:
        await press(pilot, "y")
        screen = pilot.app.screen
        assert isinstance(screen, BridgesScreen)
        assert screen.now is not None
        assert screen.now.motif.bridges == edited
        await press(pilot, "s")
    with Library.open(library) as opened:
        assert len(opened.motif("life-ring").bridges) == 1


async def test_what_is_saved_is_not_offered(library: Path) -> None:
    async with running(library) as pilot:
        await begin(pilot, library)
        await press(pilot, "escape", "s", "enter")
    async with running(library) as pilot:
        assert not isinstance(pilot.app.screen, QuestionDialog)


async def test_a_recipe_that_was_set_up_is_there_again_without_a_question(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        await choose(pilot, "height", "83")
    async with running(library) as pilot:
        await press(pilot, "f4")
        assert recipe_form.values_of(ours(pilot).services.panel.recipe)["height"] == "83 mm"
        draft = Draft(draft_of(ours(pilot).services.panel.state))
        await choose(pilot, "height", "91")
        ours(pilot)._resume(draft)  # it may be read after the panel was gone to
        await press(pilot)
        assert "83 mm" in seen(pilot)


@pytest.mark.parametrize("content", [b"", b"\xff\x00", b"[]", b'{"panel": {"recipe": 3}}'])
async def test_a_damaged_file_of_unsaved_work_stops_nothing(library: Path, content: bytes) -> None:
    async with running(library) as pilot:
        path = ours(pilot).services.work._autosave.path
    path.write_bytes(content)
    async with running(library) as pilot:
        assert not isinstance(pilot.app.screen, QuestionDialog)
    assert path.with_suffix(".unreadable").read_bytes() == content


def test_two_programs_at_once_write_files_of_their_own(tmp_path: Path) -> None:
    one, other = (Autosave(tmp_path / "harbour.db", tmp_path) for _ in range(2))
    assert one.begin() is None
    assert other.begin() is None
    assert one.path != other.path
    one.close()
    other.close()


MODES = {b"1049", b"1000", b"1003", b"1004", b"1006", b"2004"}
"""Other screen, mouse, focus, paste (xterm's control sequences): on by h, off by l."""


def app_at_work(folder: Path, library: Path) -> PseudoTerminal:
    """The app in a terminal; still to be waited for."""
    command = [sys.executable, "-m", "hingeleaf_tui", "--library", str(library)]
    environ = {
        "PATH": os.environ["PATH"],
        "HOME": str(folder),
        "TERM": "xterm-256color",
        "LANG": "C.UTF-8",
        "PYTHONPATH": os.environ.get("PYTHONPATH", ""),
        **SHARED_MACHINE_CODE,
    }
    return PseudoTerminal(command, 80, 24, environ)


def change_the_height(terminal: PseudoTerminal) -> None:
    """To 205 mm, as unsaved work."""
    terminal.wait_for("6 motifs", 60)
    terminal.type(b"\x1bOS")
    terminal.wait_for("then g fills it", 60)
    terminal.type(b"\x1b[B\x1b[B\x1b[BX")  # Textual reads a sequence whole before the next key
    terminal.type(b"\x1b[C")
    terminal.wait_for("205 mm", 60)


def saved_height(folder: Path) -> float:
    (file,) = (folder / ".local" / "state" / "hingeleaf").glob("*.json")
    height: float = json.loads(file.read_text())["panel"]["recipe"]["field"]["style"]["height"]
    return height


@pytest.mark.parametrize("name", ["SIGTERM", "SIGHUP", "SIGINT"])
def test_a_signal_leaves_the_terminal_clean_and_the_work_saved(
    tmp_path: Path, library: Path, name: str
) -> None:
    with app_at_work(tmp_path, library) as terminal:
        before = termios.tcgetattr(terminal.main)
        change_the_height(terminal)
        terminal.process.send_signal(getattr(signal, name))
        while terminal.process.poll() is None:
            terminal.read(0.2)
        terminal.read(0.2)
        assert terminal.process.returncode == 128 + getattr(signal, name)
        assert termios.tcgetattr(terminal.main) == before
        for mode in MODES:
            on, off = (
                terminal.written.rfind(b"\x1b[?%bh" % mode),
                terminal.written.rfind(b"\x1b[?%bl" % mode),
            )
            assert off > on or on == -1, mode
        assert terminal.written.rfind(b"\x1b[?25h") > terminal.written.rfind(b"\x1b[?25l")
        assert b"Traceback" not in terminal.written
    assert saved_height(tmp_path) == 205


def test_an_app_whose_terminal_vanishes_without_a_signal_ends_with_its_work_saved(
    tmp_path: Path, library: Path
) -> None:
    with app_at_work(tmp_path, library) as terminal:
        change_the_height(terminal)
        terminal.vanish()
        assert terminal.process.wait(60) == 128 + signal.SIGHUP
    assert saved_height(tmp_path) == 205
