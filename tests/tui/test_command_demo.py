"""The demo, as its user runs it: in an empty folder, twice."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import pytest
from PIL import Image

from hingeleaf.catalogue.store import Library


def demo(folder: Path, *options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "hingeleaf_tui", "demo", *options],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=600,
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("demo")
    first = demo(made)
    assert first.returncode == 0, first.stdout + first.stderr
    assert "The check found no fault." in first.stdout
    assert "hingeleaf --library hingeleaf-demo/library.db" in first.stdout
    assert "keep hands clear" in first.stdout
    return made / "hingeleaf-demo"


def test_it_leaves_a_library_a_panel_and_a_picture(folder: Path) -> None:
    with Library.open(folder / "library.db", create=False) as library:
        assert library.count() >= 10
        assert library.count("tag:harbour") > 0
        assert [panel.name for panel in library.panels.all()] == ["letter-h"]
    assert (folder / "letter-H.svg").read_text(encoding="utf-8").count("<g id=") >= 3
    assert min(Image.open(folder / "letter-H.png").size) > 500


def test_a_second_time_keeps_the_motifs_and_answers_as_json(folder: Path) -> None:
    again = demo(folder.parent, "--json")
    assert again.returncode == 0, again.stderr
    answer = json.loads(again.stdout)
    assert answer["holds"] and answer["loose_parts"] == 0
    assert answer["least_gap_mm"] >= 2.0
    with Library.open(folder / "library.db", create=False) as library:
        names = library.names()
    assert len(names) == len(set(names)) and not any(name.endswith("-2") for name in names)
