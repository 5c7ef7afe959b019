"""Odd words on the command line, one table for what any command may be given."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from catalogue_motifs import leaf, quick
from hingeleaf_tui.commands.root import main

SQUARE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">'
    '<path id="tile" d="M5 5h30v30h-30z"/></svg>'
)
ODD = [
    (("add", "tile.svg", "--turn", "nan"), "'nan' is no number"),
    (("add", "tile.svg", "--faintest", "nan"), "'nan' is no number"),
    (("export", "oak", "--out", "x.png", "--dpi", "nan"), "'nan' is no number"),
    (("cards", "heavy", "--grammage", "nan"), "'nan' is no number"),
    (("add", ""), "The name is empty"),
    (("bundle", "wren", "--out", ""), "The name is empty"),
    (("backup", "--out", ""), "The name is empty"),
    (("export", "oak", "--out", ""), "The name is empty"),
    (("list", "--library", ""), "The name is empty"),
]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a library of one motif, and a drawing."""
    with quick(tmp_path / "library.db") as library:
        library.add(leaf("wren"))
    (tmp_path / "tile.svg").write_text(SQUARE)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(("words", "says"), ODD, ids=[" ".join(words) for words, _ in ODD])
def test_it_is_refused_in_a_sentence_and_changes_nothing(
    folder: Path, words: tuple[str, ...], says: str
) -> None:
    before = {file: file.read_bytes() for file in folder.iterdir()}
    result = CliRunner().invoke(
        main, words, env={"HINGELEAF_LIBRARY": "library.db", "COLUMNS": "200"}
    )
    assert result.exit_code == 2, result.output
    assert says in result.stderr
    assert {file: file.read_bytes() for file in folder.iterdir()} == before
