"""Sheets to fill in say all the time how they are left; the export sheet says what was found."""

from __future__ import annotations

from pathlib import Path

import pytest

from hingeleaf.catalogue.store import Library
from hingeleaf.model import Placement, Pose
from hingeleaf_tui import panel_session, settings
from hingeleaf_tui.screens.dialogs import FormDialog
from hingeleaf_tui.screens.export import FAULTS
from hingeleaf_tui.widgets.form import FormLine
from support.app_pilot import laid, make_library, ours, press, running, seen


@pytest.fixture
def library(tmp_path: Path) -> Path:
    """With two panels: discs that touch nearly, opened first, and one without a fault."""
    file = make_library(tmp_path)
    sound = laid(file)
    discs = [Placement("buoy", 1, Pose(x, 70, 0, 40)) for x in (60, 100.3)]
    motifs = {"buoy": sound.motifs["buoy"]}
    torn = panel_session.from_placements(sound.recipe, sound.recipe.field.build(), motifs, discs)
    with Library.open(file) as opened:
        panel_session.save(opened, "sound", sound)
        panel_session.save(opened, "torn", torn)
    return file


@pytest.fixture(autouse=True)
def own_settings(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    monkeypatch.chdir(tmp_path)


LEFT = (
    (("e",), "Enter Change"),
    (("f5", "n"), "s Save"),
    (("f6", "n"), "s Save"),
    (("f4", "o", "enter", "x"), "x Write"),
)


async def test_a_sheet_says_how_it_is_left_on_every_line(library: Path) -> None:
    async with running(library) as pilot:
        for keys, message in LEFT:
            await press(pilot, *keys)
            form = pilot.app.screen
            assert isinstance(form, FormDialog)
            for _ in form.query(FormLine):
                [keys_shown] = [line for line in seen(pilot).splitlines() if "Esc Back" in line]
                assert message in keys_shown
                await press(pilot, "down")
            await press(pilot, "escape")


async def test_a_panel_with_faults_can_be_written_but_says_so(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4")
        for keys, name in (((), "torn"), (("down",), "sound")):
            await press(pilot, "o", "home", *keys, "enter", "x", "down")
            assert ours(pilot).services.panel.name == name
            assert (FAULTS in seen(pilot)) is (name == "torn")
            await press(pilot, "x")
            assert "Written" in seen(pilot)
