"""What a library or a bundle from elsewhere calls things never leads out of a folder."""

from __future__ import annotations

import sqlite3
from contextlib import closing
from pathlib import Path

import pytest
from textual.widgets import Input

from hingeleaf.catalogue.store import Library
from hingeleaf.model import Placement, Pose
from hingeleaf.tasks import finish
from hingeleaf_tui.forms import export_form
from hingeleaf_tui.screens.dialogs import InputDialog
from hingeleaf_tui.settings import Settings
from support.app_pilot import make_library, press, running
from support.catalogue_motifs import leaf, quick

PATHS = ("../../harm", "/harm", "..", "a/../../../harm", "c:\\harm", "~/harm", ".harm")


def rename(file: Path, table: str, name: str) -> None:
    """As no program of ours would call it."""
    with closing(sqlite3.connect(file)) as connection, connection:
        connection.execute(f"UPDATE {table} SET name = ?", (name,))


@pytest.mark.parametrize("name", PATHS)
def test_an_export_begins_in_its_folder_whatever_the_panel_is_called(
    name: str, tmp_path: Path
) -> None:
    order = export_form.new_order(name, tmp_path)
    assert [file.parent for file in order.targets] == [tmp_path] * len(order.targets)
    assert not order.target.name.startswith(".")


@pytest.mark.parametrize("name", PATHS)
def test_what_a_bundle_brings_gets_a_short_name(name: str, tmp_path: Path) -> None:
    gift = tmp_path / "gift.db"
    with quick(tmp_path / "desk.db") as desk:
        desk.add(leaf("wren"))
        desk.panels.save("nora", {}, [Placement("wren", 1, Pose(0, 0, 0, 20))])
        desk.bundle(gift, ["wren"], ["nora"])
    for table in ("motif", "panel"):
        rename(gift, table, name)
    with quick(tmp_path / "shed.db") as shed:
        finish(shed.restore(gift, finish(shed.compare(gift)), {}))
        names = [*shed.names(), *(panel.name for panel in shed.panels.all())]
    assert len(names) == 2
    assert not any(sign in found for found in names for sign in "/\\.~:")


async def test_a_ladder_begins_in_its_folder_whatever_the_motif_is_called(tmp_path: Path) -> None:
    library = make_library(tmp_path)
    with Library.open(library) as opened:
        first, *others = opened.names()
        for name in others:
            opened.remove(name)
    with closing(sqlite3.connect(library)) as connection, connection:
        connection.execute("UPDATE motif SET name = '../../harm' WHERE name = ?", (first,))
    async with running(library, user_settings=Settings(export_folder=str(tmp_path))) as pilot:
        await press(pilot, "f5", "x")
        assert isinstance(pilot.app.screen, InputDialog)
        typed = Path(pilot.app.screen.query_one(Input).value)
        assert typed == tmp_path / "ladder-harm.svg"
