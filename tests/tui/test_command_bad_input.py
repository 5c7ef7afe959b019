"""Odd words on the command line, one table for what any command may be given."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest
from click.testing import CliRunner

from hingeleaf.model import Placement, Pose
from hingeleaf_tui.commands.root import main
from support.catalogue_motifs import leaf, quick

SQUARE = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="40mm" viewBox="0 0 40 40">'
    '<path id="tile" d="M5 5h30v30h-30z"/></svg>'
)
TOO_LARGE = "9" * 20
"""For SQLite, whose whole numbers have 64 bits."""
ODD = [
    (("add", "tile.svg", "--turn", "nan"), "The turn cannot be nan"),
    (("add", "tile.svg", "--faintest", "nan"), "The least opacity of paint cannot be nan"),
    (("export", "oak", "--out", "x.png", "--dpi", "nan"), "The dpi cannot be nan"),
    (("cards", "heavy", "--grammage", "nan"), "The grammage cannot be nan"),
    (("add", ""), "The name is empty"),
    (("bundle", "wren", "--out", ""), "The name is empty"),
    (("backup", "--out", ""), "The name is empty"),
    (("export", "oak", "--out", ""), "The name is empty"),
    (("list", "--library", ""), "The name is empty"),
    (("list", "--limit", TOO_LARGE), "larger than a library can store"),
    (("source", "wren", "--copies", TOO_LARGE), "larger than a library can store"),
    (("add", "tile.svg", "--copies", TOO_LARGE), "larger than a library can store"),
    (("show", "wren", "--revision", TOO_LARGE), "larger than a library can store"),
    (("revisions", "wren", "--back", TOO_LARGE), "larger than a library can store"),
    (("trial", "--forget", TOO_LARGE), "larger than a library can store"),
    (("add", "tile.svg", "--ignore", "tile"), "Every part of tile.svg is left out. Leave"),
    (("inspect", "tile.svg", "--ignore", "*"), "Every part of tile.svg is left out. Leave"),
    (("add", "tile.svg", "--size", "900m"), "The size cannot be 900000 mm"),
    (("add", "tile.svg", "--border", "band", "--band", "30m"), "band cannot be 30000 mm"),
    (("add", "tile.svg", "--smooth", "30m"), "The smoothing cannot be 30000 mm"),
    (("inspect", "gone.svg"), "There is no gone.svg. Check the spelling of its name"),
    (("fill", "outline", "gone.svg"), "There is no gone.svg. Check the spelling of its name"),
    (("fill", "outline", "."), "is a folder. Name a drawing in it"),
    (("rename", "wren", ""), "'' is not a name. A name needs a letter"),
    (("rename", "wren", "///"), "'///' is not a name. A name needs a letter"),
    (("fill", "letter", "I", "--save", ""), "'' is not a name. A name needs a letter"),
    (("fill", "letter", "I", "--seed", "-1"), "The seed cannot be -1. Give"),
    (("fill", "letter", "I", "--out", "x.pdf"), "x.pdf is not the name of an SVG file. End"),
    (("fill", "letter", "I", "--out", "tile"), "tile is not the name of an SVG file. End"),
    (("fill", "word", "--each", "."), "is a directory. Give a text file"),
    (("cards", "", "--grammage", "100"), "No card was named"),
    (("fonts", "--folder", "gone"), "There is no folder gone"),
    (("fonts", "--folder", "tile.svg"), "There is no folder tile.svg"),
    (
        ("fill", "word", "--each", "names.txt", "--out", "tile.svg"),
        "is there already, and was not written by Hingeleaf",
    ),
    (("fill", "word", "I", "--line-spacing", "-3"), "The line spacing cannot be -3. Give"),
    (("trial", "wren", "--card", "card-220", "--held", "30m"), "The size cannot be 30000 mm. Give"),
    (("trial", "wren", "--card", "card-220", "--held", ""), "'' names no size and no place"),
    (("trial", "--panel", "oak", "--card", "card-220", "--tore", ",,"), "',,' names no size"),
    (("ladder", "wren", "--sizes", "", "--out", "x.svg"), "'' is not a length"),
    (("tag", "", "+small"), "No motif is called ''"),
    (("cards", "velvet"), "No card is called 'velvet'. The cards are card-160"),
]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a library of one motif and a panel, a drawing, and a list of names."""
    with quick(tmp_path / "library.db") as library:
        library.add(leaf("wren"))
        library.panels.save("oak", {}, [Placement("wren", 1, Pose(0, 0, 0, 33))])
    (tmp_path / "tile.svg").write_text(SQUARE)
    (tmp_path / "names.txt").write_text("Ann\n")
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize(("words", "message"), ODD, ids=[" ".join(words) for words, _ in ODD])
def test_it_is_refused_in_a_sentence_and_changes_nothing(
    folder: Path, words: tuple[str, ...], message: str
) -> None:
    before = {file: file.read_bytes() for file in folder.iterdir()}
    result = CliRunner().invoke(
        main, words, env={"HINGELEAF_LIBRARY": "library.db", "COLUMNS": "200"}
    )
    assert result.exit_code == 2, result.output
    assert message in result.stderr
    assert {file: file.read_bytes() for file in folder.iterdir()} == before


@pytest.mark.parametrize("words", [["list"], ["list", "--json"], ["show", "wren"]])
def test_an_answer_to_a_full_disk_ends_in_a_sentence(folder: Path, words: list[str]) -> None:
    with Path("/dev/full").open("w") as full:
        ran = subprocess.run(
            [sys.executable, "-m", "hingeleaf_tui", *words],
            env={**os.environ, "HINGELEAF_LIBRARY": "library.db"},
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
        )
    assert ran.returncode == 2
    assert ran.stderr.startswith("hingeleaf: The answer could not be written: the disk is full.")
    assert ran.stderr.count("\n") == 1
