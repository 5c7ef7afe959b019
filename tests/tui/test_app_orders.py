"""Orders in the app: a list filled and laid on sheets, facts of saved panels, rates of work."""

from __future__ import annotations

from pathlib import Path

import pytest

from hingeleaf.catalogue.store import Library
from hingeleaf.orders.costs import rates_of
from hingeleaf_tui import panel_session, settings
from hingeleaf_tui.widgets.form import Form
from support.app_pilot import choose, laid, make_library, press, running, seen


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    monkeypatch.chdir(tmp_path)
    file = make_library(tmp_path)
    with Library.open(file) as opened:
        panel_session.save(opened, "nora", laid(file))
    return file


async def test_a_list_is_filled_saved_and_laid_on_sheets(library: Path, tmp_path: Path) -> None:
    (tmp_path / "names.csv").write_text("name,copies\nIL,2\n山,1\n", encoding="utf-8")
    async with running(library) as pilot:
        await press(pilot, "f4")
        for key, text in (("height", "60"), ("largest", "16"), ("smallest", "6")):
            await choose(pilot, key, text)
        await press(pilot, "p", "s")
        assert "Which list?" in seen(pilot)
        await choose(pilot, "names", "nowhere.csv")
        assert "There is no file nowhere.csv" in seen(pilot)
        await press(pilot, "escape")
        for key, text in (("names", "names.csv"), ("on", "12x12in")):
            await choose(pilot, key, text)
        await press(pilot, "s")
        shown = " ".join(seen(pilot).replace("│", " ").split())
        assert "1 panel saved, 1 sheet and the cut list written" in shown
        assert "Line 3 of" in shown and "names.csv: No font at hand has" in shown
    with Library.open(library) as opened:
        assert [row.name for row in opened.panels.search("place")] == ["place-il"]
    assert (tmp_path / "sheets.svg").read_text().count("edge") >= 1
    assert (tmp_path / "sheets.pdf").exists()


async def test_the_facts_of_a_saved_panel_and_the_rates_are_kept(library: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "o", "down", "e")
        for key, text in (("customer", "Maud"), ("due", "2026-12-24"), ("done", "2")):
            await choose(pilot, key, text)
        await press(pilot, "s")
        assert "nora, for Maud" in seen(pilot) and "2 done" in seen(pilot)
        await press(pilot, "escape", "f6", "number_sign")
        await choose(pilot, "speed", "40")
        await choose(pilot, "price", "0,45")
        await press(pilot, "s")
    with Library.open(library) as opened:
        (nora,) = opened.panels.search("for:maud due:2026 done:yes")
        assert (nora.customer, nora.due, nora.done) == ("Maud", "2026-12-24", 2)
        assert (rates_of(opened).speed, rates_of(opened).price) == (40, 0.45)


async def test_an_export_is_noted_as_cut_and_kept_if_the_panel_is_saved(
    library: Path, tmp_path: Path
) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "o", "down", "enter", "x")
        line = pilot.app.screen.query_one(Form).line("done")
        line.focus()
        await press(pilot, "right")
        assert line.value == "yes"
        assert "cuts, " in seen(pilot) and "1 sheet of card" in " ".join(seen(pilot).split())
        await press(pilot, "x")
    with Library.open(library) as opened:
        assert opened.done.copies("nora") == 1
        (kept,) = opened.done.files("nora")
    assert (tmp_path / kept[0]).read_bytes() == kept[1]


async def test_saved_panels_are_laid_on_sheets(library: Path, tmp_path: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "f4", "o", "x", "s")
        assert "On sheets of which size?" in seen(pilot)
        for key, text in (("on", "12x12in"), ("copies", "2"), ("query", "nobody")):
            await choose(pilot, key, text)
        await press(pilot, "s")
        assert "No saved panel matches." in seen(pilot)
        await choose(pilot, "query", "nora done:no")
        await press(pilot, "s")
        assert "1 panel saved before" in seen(pilot) and "cut list written" in seen(pilot)
    assert {"sheets.pdf"} < {file.name for file in tmp_path.glob("sheets*")}
