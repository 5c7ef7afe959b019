"""The README's ten minutes, walked in the app: from a drawing to a panel and its files."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from hingeleaf.catalogue.store import Library
from hingeleaf.panel.rebuild import rebuild_panel
from hingeleaf_tui import actions, settings
from support.app_pilot import choose, make_library, press, running, seen, turn_to, type_in
from support.readme import README, block


@pytest.fixture
def library(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(settings, "folder", lambda: tmp_path / "settings")
    monkeypatch.chdir(tmp_path)
    drawing = re.search(r"<svg.*?</svg>", block("kite.svg"), re.S)
    assert drawing
    (tmp_path / "kite.svg").write_text(drawing[0], encoding="utf-8")
    return make_library(tmp_path)


async def test_from_a_drawing_to_a_panel(library: Path, tmp_path: Path) -> None:
    async with running(library) as pilot:
        await press(pilot, "a")
        for key, value in (("place", "kite.svg"), ("tags", "harbour"), ("maker", "our own")):
            await choose(pilot, key, value)
        await turn_to(pilot, "hold", "spine")
        assert "Both wings lift" in seen(pilot)
        await press(pilot, "s")
        assert "Imported as kite" in seen(pilot)

        await press(pilot, "escape", "f3")
        assert "kite on card-220." in seen(pilot)
        assert re.search(r"Lift +\d", seen(pilot)) and re.search(r"Safe +from \d", seen(pilot))
        await press(pilot, "l")
        assert "kite: plans, best first" in seen(pilot)

        await press(pilot, "escape", "f6", "end", "up", "up", "x", "enter")  # card-220
        assert (tmp_path / "test-card-220.svg").exists()
        await press(pilot, "f5", "x", "enter")
        assert (tmp_path / "ladder-kite.svg").exists()
        for size, outcome in (("22", "tore"), ("24", "held"), ("43", "held")):
            await press(pilot, "n")
            await choose(pilot, "size", size)
            await turn_to(pilot, "outcome", outcome)
            await press(pilot, "s")
        assert "held at 24 to 43 mm" in seen(pilot)

        await press(pilot, "f2", "slash")
        await type_in(pilot, "tag:harbour")
        await press(pilot, "enter", "p")
        for key, value in (("height", "80"), ("smallest", "14"), ("seed", "7")):
            await choose(pilot, key, value)
        await turn_to(pilot, "budget", "draft")
        await press(pilot, "g", "s", "enter")
        assert "Saved as letter-b-80mm." in seen(pilot)
        await press(pilot, "f8", "f8")
        assert "Paper by the pull that tears it" in seen(pilot)
        await press(pilot, "x")
        for key in ("assembly", "picture"):
            await turn_to(pilot, key, "yes")
        await press(pilot, "x")
        written = {path.name for path in tmp_path.glob("letter-b-80mm*")}
        endings = (".svg", ".png", "-assembly.pdf")
        assert written == {f"letter-b-80mm{ending}" for ending in endings}

        await press(pilot, "f6", "o", "x", "enter", "escape")
        assert len(list(tmp_path.glob("harbour-20*.db"))) == 1
        await press(pilot, "f2", "n")
        await turn_to(pilot, "kind", "rosette")
        await press(pilot, "s")
        assert "Added as rosette" in seen(pilot)
    with Library.open(library) as opened:
        assert "kite" in opened.names("hold:spine state:proven maker:our")
        kinds = {piece.motif.name for piece in rebuild_panel(opened, "letter-b-80mm").pieces}
        assert kinds <= set(opened.names("tag:harbour"))


KEYS = (
    *(("F2", "everywhere.motifs"), ("F3", "everywhere.bridges"), ("F4", "everywhere.panel")),
    *(("/", "motifs.find"), ("n", "motifs.make"), ("p", "motifs.fill_with"), ("g", "panel.fill")),
    *(("x", "panel.export"), ("F1", "everywhere.help"), ("F6", "everywhere.workshop")),
    *(("u", "panel.undo"), ("F12", "everywhere.legend"), ("z", "motifs.closer")),
    *(("v", "motifs.farther"), ("F8", "panel.look"), ("5", "panel.variants")),
    *(("e", "panel.arrange"), ("a", "placing.circle"), ("#", "placing.edits")),
    *(("l", "bridges.compare"), ("s", "panel.keep")),
    *(("o", "workshop.backups"), ("f", "workshop.check"), ("h", "bridges.hold")),
)


@pytest.mark.parametrize(("key", "id"), KEYS)
def test_the_keys_that_it_names_are_those_of_the_app(key: str, id: str) -> None:
    assert key in actions.key_labels(actions.find(id).keys).split()
    assert re.search(rf"(?<!\w){re.escape(key)}(?!\w)", README)
