"""Orders from a list to sheets by one command, gone on with, and exported again."""

from __future__ import annotations

import csv
import json
from pathlib import Path

import pytest
from fontTools.ttLib import TTFont

from hingeleaf.catalogue.store import Library
from hingeleaf.fonts import built_in
from support.fill_commands import Run, answer, make_library, runner

CARD = ("fill", "shape", "rounded", "--size", "84x49mm", "--sheet", "90x55mm", "--cut-kept")
NAME = ("--keep-out-height", "9mm", "--keep-out-margin", "2mm", "--min", "8", "--budget", "draft")
SHEETS = ("--save", "place", "--on", "300x300mm")


@pytest.fixture
def library(tmp_path: Path) -> Path:
    return make_library(tmp_path)


@pytest.fixture
def run(library: Path) -> Run:
    return runner(library)


def test_one_command_makes_sheets_of_a_list_and_goes_on_where_it_stopped(
    run: Run, library: Path, tmp_path: Path
) -> None:
    names, out = tmp_path / "names.csv", tmp_path / "sheets.svg"
    names.write_text("name,copies\nWren,2\n山田,1\nIda,x\nMaud Ash,\n", encoding="utf-8")
    ordered = (*CARD, *NAME, "--each", names, *SHEETS, "--out", out)
    made = run(*ordered, "--cut-list", tmp_path / "list.csv", "--json")
    assert made.exit_code == 2, "two of the lines cannot be made"
    told = json.loads(made.stdout)
    assert [each["saved_as"] for each in told["panels"]] == ["place-wren", "place-maud-ash"]
    assert [each["holds"] for each in told["panels"]] == [True, True]
    assert "Line 3 of names.csv: No font at hand has '山'" in " ".join(told["refused"])
    assert "Line 4 of names.csv: 'x' is not a number of copies" in made.stderr
    with (tmp_path / "list.csv").open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(line for line in stream if not line.startswith("%")))
    assert [row["panel"] for row in rows] == ["Wren", "Wren", "Maud Ash"]
    before = out.read_bytes()
    with Library.open(library) as opened:
        kept = [row.name for row in opened.panels.all()]
    again = run(*ordered, "--resume", "--json")
    assert json.loads(again.stdout)["panels"] == []
    assert len(json.loads(again.stdout)["cut_list"]) == 3
    with Library.open(library) as opened:
        assert [row.name for row in opened.panels.all()] == kept
    assert out.read_bytes() == before, "kept panels are cut as they were"

    exported = ("export", "place-*", "place-wren=3", "--on", "200x300mm", "--json")
    told = answer(run(*exported, "--out", tmp_path / "again.dxf"))
    assert (
        sorted(row["panel"] for row in told["cut_list"]) == ["place-maud-ash"] + ["place-wren"] * 3
    )
    assert [sheet["panels"] for sheet in told["sheets"]] == [4]
    checked = run("check", "place-wren", "place-maud-ash", "--json")
    assert [each["what"] for each in json.loads(checked.stdout)["checked"]] == [
        "place-wren",
        "place-maud-ash",
    ]


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("--resume",), "--resume needs the name under which panels are saved"),
        (("--on", "300x300mm"), "Sheets need a file"),
        (("--on", "80x80mm", "--out", "s.svg"), "larger than a sheet of 80 mm × 80 mm"),
    ],
)
def test_lists_that_make_no_sense_are_refused(
    run: Run, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, words: tuple[str, ...], message: str
) -> None:
    monkeypatch.chdir(tmp_path)
    Path("names.txt").write_text("Ida\n", encoding="utf-8")
    result = run(*CARD, *NAME, "--each", "names.txt", *words)
    assert result.exit_code == 2
    assert message in result.stderr
    assert not Path("s.svg").exists()


def test_several_panels_need_sheets_or_files_of_their_own(run: Run, tmp_path: Path) -> None:
    for name in ("one", "two"):
        run("fill", "letter", "L", "--height", "60mm", "--budget", "draft", "--save", name)
    refused = run("export", "one", "two", "--out", tmp_path / "a.svg")
    assert refused.exit_code == 2 and "--on 12x12in" in refused.stderr
    run("export", "one", "two", "--each", "--out", tmp_path / "a.svg")
    assert sorted(file.name for file in tmp_path.glob("a*.svg")) == ["a-one.svg", "a-two.svg"]


def test_other_faces_and_restricted_fonts_are_told(run: Run, tmp_path: Path) -> None:
    """OS/2 fsType 2 is restricted licence embedding (OpenType specification)."""
    font = TTFont(built_in().file)
    font["OS/2"].fsType = 2
    font.save(tmp_path / "restricted.ttf")
    words = ("fill", "word", "Đaw", "--height", "60mm", "--budget", "draft")
    told = run(*words, "--font", tmp_path / "restricted.ttf")
    assert "The font lacks Đ: set in Source Sans Pro Bold." in told.output
    assert "may not be embedded" in told.output and "outlines of its letters only" in told.output
    plain = run(*words[:2], "aw", *words[3:])
    assert "lacks" not in plain.output and "embedded" not in plain.output
